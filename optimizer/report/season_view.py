"""A season in the terminal: the verdict, the first night, projects, what is not sure, a clear night."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.models.season import SeasonFile, SeasonNight
from optimizer.report.fitted import Fitted
from optimizer.report.season_facts import (
    MonthRow,
    NightRow,
    ProjectRow,
    ShownSeason,
    StepRow,
    shown_season,
)
from optimizer.report.season_words import (
    NO_DATE,
    expected_words,
    law_words,
    proven_words,
    sky_words,
    span,
)
from optimizer.report.tables import heading, indented, labelled, plain_table
from optimizer.report.words import clock, count, name, run_words, tied

PROJECTS_NOTE = (
    "left: open shutter that is still wanted; by odds: how much of it the plans take, each night by its "
    "odds; nights: how many can serve it; until: the last of these evenings (end: that of the season)"
)
DATES_NOTE = (
    "50 %, 90 %: the evening by which it is finished in so many of the simulated seasons; share: in how many "
    "it is finished at all"
)
DATES = ("50 %", "90 %", "share")
STEPS_NOTE = (
    "share: in how many of the simulated seasons it is finished; left after: what is left then, on average; "
    "one more clear night, where it helps most, or half the subs wanted: the share with that (-: less than 5 "
    "points more)"
)
MONTHS_NOTE = (
    "worth: by how much, at most, one more clear night of the month raises what all nights can be worth, on "
    "the mean of its nights"
)


def season_view(season: SeasonFile) -> RenderableType:
    """Everything that `darkfill season` shows."""
    shown = shown_season(season)
    zone, site = season.request.site.time_zone, season.request.site.name
    evenings = span(season.nights[0].evening, season.nights[-1].evening)
    parts: list[RenderableType] = [
        heading(f"Season of {count(len(season.nights), 'night')} at {name(site)}"),
        Text(f"These are {evenings}. Times are local: {zone}.", style="dim"),
        *_glance(season, shown),
    ]
    if shown.first.visits:
        parts += [Text(), heading(shown.which), Text(sky_words(shown.first), style="dim")]
        parts.append(_visits(shown.first, zone))
    if shown.projects:
        parts += [Text(), heading("Projects"), *_projects(shown, simulated=season.policy is not None)]
    if shown.cannot:
        parts += [Text(), heading("Cannot be finished"), Text(shown.cannot)]
    if shown.steps or shown.no_step:
        parts += [Text(), heading("Less likely than not, and what one step would change"), *_steps(shown)]
    parts += [Text(), heading("One more clear night"), _months(shown.months), Text(MONTHS_NOTE, style="dim")]
    if shown.nights:
        parts += [Text(), heading("The next nights, if they are clear"), _nights(shown.nights)]
        parts += _more(shown.nights_more)
    return Group(*parts)


def _glance(season: SeasonFile, shown: ShownSeason) -> Iterator[RenderableType]:
    yield labelled("Plan", shown.plan, "bold")
    yield labelled("Goals", shown.goals, "bold")
    yield labelled("Proof", proven_words(season.proof))
    yield labelled("", law_words(season.proof), "dim")
    if season.policy is not None:
        yield labelled("Expect", expected_words(season.policy))


def _visits(night: SeasonNight, zone: str) -> RenderableType:
    table = plain_table("from", "to", "target", "pier side", "subs")
    stacked: list[RenderableType] = []
    for visit in night.visits:
        since, until = clock(visit.start_utc, zone), clock(visit.end_utc, zone)
        subs = ", ".join(run_words(each.filter, each.frames, each.exposure_s) for each in visit.frames)
        table.add_row(since, until, Text(name(visit.target)), visit.pier_side or "-", Text(subs))
        side = f"pier side {visit.pier_side}, " if visit.pier_side else ""
        stacked += [Text(f"{since} to {until}  {name(visit.target)}"), indented(Text(f"{side}{subs}"))]
    return Fitted(table, ("subs",), ("target",), lambda: stacked)


def _projects(shown: ShownSeason, *, simulated: bool) -> Iterator[RenderableType]:
    columns = ("project", "left", "by odds", "nights", "until", *(DATES if simulated else ()))
    table = plain_table(*columns, right=columns[1:])
    stacked: list[RenderableType] = []
    for row in shown.projects:
        dates = (row.half, row.ninety, row.share) if simulated else ()
        table.add_row(Text(row.target), row.left, row.planned, row.nights, row.until, *dates)
        stacked += [Text(row.target), indented(Text(_stacked(row, simulated=simulated)))]
    yield Fitted(table, ("project",), (), lambda: stacked)
    yield from _more(shown.projects_more)
    if shown.finished:
        yield Text(shown.finished)
    yield Text(f"{PROJECTS_NOTE}; {DATES_NOTE}." if simulated else f"{PROJECTS_NOTE}.", style="dim")


def _stacked(row: ProjectRow, *, simulated: bool) -> str:
    words = f"{tied(row.left)} left, {tied(row.planned)} by odds, {tied(f'{row.nights} nights')}"
    words += "" if row.until == NO_DATE else f", until {tied(row.until)}"
    dates = ((DATES[0], row.half), (DATES[1], row.ninety)) if simulated else ()
    words += "".join(f", {tied(f'{share} by {evening}')}" for share, evening in dates if evening != NO_DATE)
    return f"{words}, share {tied(row.share)}" if simulated else words


def _steps(shown: ShownSeason) -> Iterator[RenderableType]:
    columns = ("project", "share", "left after", "clear night", "half the subs")
    table = plain_table(*columns, right=columns[1:])
    stacked: list[RenderableType] = []
    for row in shown.steps:
        table.add_row(Text(row.target), row.share, row.left, row.clear_night, row.half_the_subs)
        stacked += [Text(row.target), indented(Text(_stacked_steps(row)))]
    if shown.steps:
        yield Fitted(table, ("project",), (), lambda: stacked)
        yield from _more(shown.steps_more)
        yield Text(f"{STEPS_NOTE}.", style="dim")
    if shown.no_step:
        yield Text(shown.no_step)


def _stacked_steps(row: StepRow) -> str:
    words = f"share {tied(row.share)}, {tied(row.left)} left after"
    steps = (("one more clear night", row.clear_night), ("half the subs", row.half_the_subs))
    return words + "".join(f", {tied(share)} with {step}" for step, share in steps if share != NO_DATE)


def _months(months: Sequence[MonthRow]) -> RenderableType:
    columns = ("month", "nights", "clear by odds", "worth")
    table = plain_table(*columns, right=columns[1:])
    stacked: list[RenderableType] = []
    for row in months:
        table.add_row(row.month, row.nights, row.clear, Text(row.worth, style="bold"))
        words = f"{row.nights} nights, {row.clear} clear by odds, worth {tied(row.worth)}"
        stacked.append(Text(f"{row.month}: {words}"))
    return Fitted(table, (), (), lambda: stacked)


def _nights(nights: Sequence[NightRow]) -> RenderableType:
    columns = ("evening", "clear", "dark", "moonless", "subs")
    table = plain_table(*columns, right=columns[1:4])
    stacked: list[RenderableType] = []
    for row in nights:
        table.add_row(row.evening, row.odds, row.dark, row.moonless, Text(row.plan))
        sky = f"{tied(row.odds)} clear, {tied(row.dark)} dark, {tied(row.moonless)} moonless"
        stacked += [Text(f"{row.evening}: {sky}"), indented(Text(row.plan))]
    return Fitted(table, ("subs",), (), lambda: stacked)


def _more(words: str) -> list[RenderableType]:
    return [Text(words, style="dim")] if words else []
