"""A season in the terminal: the verdict, the first night, projects, what is not sure, a clear night."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from optimizer.models.season import SeasonFile, SeasonNight
from optimizer.report.fitted import Fitted
from optimizer.report.season_facts import (
    NightRow,
    ProjectRow,
    ShownSeason,
    StepRow,
    shown_season,
)
from optimizer.report.season_rigs import (
    RigRow,
    StepOfSeason,
    clock_words,
    sites_words,
    steps_head,
    steps_note,
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
from optimizer.report.words import clock, count, name, run_words, seconds_words, tied

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

MONTHS_OF_RIGS_NOTE = "nights: those of all rigs"
RIGS_NOTE = (
    "nights: on how many the plans have subs; planned, dark: hours of open shutter and of dark, each night "
    "by its odds; worth: by how much, at most, one more clear night of the rig raises what all nights can be "
    "worth, on the mean of its nights"
)
WHO_NOTE = "hours of open shutter, each night by its odds; nights with subs of it, the first and the last"


def season_view(season: SeasonFile) -> RenderableType:
    """Everything that `darkfill season` shows."""
    shown = shown_season(season)
    evenings = span(season.nights[0].evening, season.nights[-1].evening)
    nights = count(len({night.evening for night in season.nights}), "night")
    parts: list[RenderableType] = [
        heading(f"Season of {nights} {sites_words(season)}"),
        Text(f"These are {evenings}. Times are local: {clock_words(season)}.", style="dim"),
        *_glance(season, shown),
    ]
    if any(first.night.visits for first in shown.first):
        parts += [Text(), heading(shown.which), *_tonight(shown)]
    if shown.rigs:
        parts += [Text(), heading("Rigs"), *_rigs(shown)]
    if shown.season_steps:
        parts += [Text(), heading(steps_head(season)), _season_steps(shown.season_steps)]
        parts.append(Text(f"{steps_note(season)}.", style="dim"))
    if shown.projects:
        parts += [Text(), heading("Projects"), *_projects(shown, simulated=season.policy is not None)]
    if shown.who:
        parts += [Text(), heading("Who shoots what, and when"), _who(shown.who), *_more(shown.projects_more)]
        parts.append(Text(f"{WHO_NOTE}.", style="dim"))
    if shown.cannot:
        parts += [Text(), heading("Cannot be finished"), Text(shown.cannot)]
    if shown.steps or shown.no_step:
        parts += [Text(), heading("Less likely than not, and what one step would change"), *_steps(shown)]
    parts += [Text(), heading("One more clear night"), *_months(shown)]
    if shown.nights:
        parts += [Text(), heading("The next nights, if they are clear")]
        parts.append(_nights(shown.nights, several=bool(shown.rigs)))
        parts += _more(shown.nights_more)
    return Group(*parts)


def _glance(season: SeasonFile, shown: ShownSeason) -> Iterator[RenderableType]:
    yield labelled("Plan", shown.plan, "bold")
    yield labelled("Goals", shown.goals, "bold")
    yield labelled("Proof", proven_words(season.proof))
    yield labelled("", law_words(season.proof), "dim")
    if season.policy is not None:
        took = f"; simulated in {seconds_words(season.policy.seconds)}"
        yield labelled("Expect", f"{expected_words(season.policy, len(season.rigs))}{took}")
    if shown.bottleneck:
        yield labelled("Rigs", f"{shown.bottleneck}.")


def _tonight(shown: ShownSeason) -> Iterator[RenderableType]:
    """The first night of each rig, visit by visit; of a rig without a plan `Plan` says why."""
    for number, first in enumerate(shown.first):
        if not first.night.visits:
            continue
        yield from [Text()] if number and first.rig else []
        sky = Text(sky_words(first.night), style="dim")
        yield Text.assemble((first.rig, "bold"), ": ", sky) if first.rig else sky
        yield _visits(first.night, first.zone)
    yield from _more(shown.first_more)


def _rigs(shown: ShownSeason) -> Iterator[RenderableType]:
    sites = len({row.site for row in shown.rigs}) > 1
    columns = ("rig", *(("site",) if sites else ()), "nights", "projects", "planned", "dark", "worth")
    table = plain_table(*columns, right=columns[2 if sites else 1 :])
    stacked: list[RenderableType] = []
    for row in shown.rigs:
        cells = (row.nights, row.projects, row.planned, row.dark, Text(row.worth, style="bold"))
        table.add_row(Text(row.name), *((Text(row.site),) if sites else ()), *cells)
        stacked += [Text(f"{row.name}, {row.site}" if sites else row.name), indented(Text(_stacked_rig(row)))]
    yield Fitted(table, ("rig", "site"), (), lambda: stacked)
    yield from _more(shown.rigs_more)
    yield Text(f"{RIGS_NOTE}.", style="dim")


def _stacked_rig(row: RigRow) -> str:
    return (
        f"{tied(f'{row.nights} nights')}, {tied(f'{row.projects} projects')}, {tied(row.planned)} planned, "
        f"{tied(row.dark)} dark, worth {tied(row.worth)}"
    )


def _season_steps(steps: Sequence[StepOfSeason]) -> RenderableType:
    columns = ("step", "finished", "brought")
    table = plain_table(*columns, right=columns[1:])
    stacked: list[RenderableType] = []
    for row in steps:
        table.add_row(Text(row.step), row.finished, row.brought)
        words = f"{tied(row.finished)} finished, {tied(row.brought)} brought"
        stacked += [Text(row.step), indented(Text(words))]
    return Fitted(table, ("step",), (), lambda: stacked)


def _who(rows: Sequence[tuple[str, str]]) -> RenderableType:
    table = plain_table("project", "rigs")
    stacked: list[RenderableType] = []
    for project, words in rows:
        table.add_row(Text(project), Text(words))
        stacked += [Text(project), indented(Text(words))]
    return Fitted(table, ("rigs",), ("project",), lambda: stacked)


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
    note = PROJECTS_NOTE.replace("how many can", "how many of all rigs can") if shown.rigs else PROJECTS_NOTE
    yield Text(f"{note}; {DATES_NOTE}." if simulated else f"{note}.", style="dim")


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


def _months(shown: ShownSeason) -> Iterator[RenderableType]:
    several = bool(shown.rigs)
    columns = ("month", "nights", "clear by odds", "worth", *(("most with",) if several else ()))
    table = plain_table(*columns, right=columns[1:4])
    stacked: list[RenderableType] = []
    for row in shown.months:
        most = (Text(row.most),) if several else ()
        table.add_row(row.month, row.nights, row.clear, Text(row.worth, style="bold"), *most)
        words = f"{row.nights} nights, {row.clear} clear by odds, worth {tied(row.worth)}"
        words += f", most with {row.most}" if several else ""
        stacked.append(Text(f"{row.month}: {words}"))
    yield Fitted(table, ("most with",), (), lambda: stacked)
    yield Text(f"{MONTHS_OF_RIGS_NOTE}; {MONTHS_NOTE}" if several else MONTHS_NOTE, style="dim")


def _nights(nights: Sequence[NightRow], *, several: bool) -> RenderableType:
    columns = ("evening", *(("rig",) if several else ()), "clear", "dark", "moonless", "subs")
    table = plain_table(*columns, right=columns[-4:-1])
    stacked: list[RenderableType] = []
    for row in nights:
        rig = (Text(row.rig),) if several else ()
        table.add_row(row.evening, *rig, row.odds, row.dark, row.moonless, Text(row.plan))
        sky = f"{tied(row.odds)} clear, {tied(row.dark)} dark, {tied(row.moonless)} moonless"
        head = f"{row.evening}, {row.rig}" if several else row.evening
        stacked += [Text(f"{head}: {sky}"), indented(Text(row.plan))]
    return Fitted(table, ("subs",), ("rig",), lambda: stacked)


def _more(words: str) -> list[RenderableType]:
    return [Text(words, style="dim")] if words else []
