"""A season gathered for people: what the first night is for, which projects get done, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.models.season import SeasonFile, SeasonNight
from optimizer.models.site import evening_at
from optimizer.report.season_page.details import HELPS, helpful_steps
from optimizer.report.season_page.facts import Row, SeasonFacts, open_shutter_s, season_facts
from optimizer.report.season_rigs import (
    MOST_RIGS,
    RigRow,
    StepOfSeason,
    bottleneck_words,
    most_of_month,
    rig_rows,
    season_steps,
    shares_of,
    who_words,
)
from optimizer.report.season_words import day, hours, hours_told, month, plan_words, share_words
from optimizer.report.words import count, name, percent
from optimizer.words import listing

MOST_PROJECTS = 30  # rows that a tired reader goes through; of more, those that are finished first are shown
MOST_NIGHTS = 7  # evenings that are shown after the first one
MOST_ROWS = 12  # nights of all rigs that are shown of these, but at least one evening
MOST_TONIGHT = 6  # rigs of which the first night is shown visit by visit
MOST_NAMED = 3  # of the first night's targets, those with the most hours
MOST_FOLDED = 8  # projects that one sentence names
SURE, LIKELY = 0.9, 0.5  # shares of simulated seasons
ELSEWHERE = "in the JSON, and on the page that --page draws"
UNKNOWN = "-"


@dataclass(frozen=True)
class ProjectRow:
    """One project that is not finished: hours left, nights that can serve it, when it may be finished."""

    target: str
    left: str
    planned: str
    nights: str
    until: str
    half: str
    ninety: str
    share: str


@dataclass(frozen=True)
class StepRow:
    """A project that one step would help: how sure it is without and with each step, and what is left."""

    target: str
    share: str
    left: str
    clear_night: str
    half_the_subs: str


@dataclass(frozen=True)
class MonthRow:
    """What one more clear night of a month would give, and where there are several rigs, most with which."""

    month: str
    nights: str
    clear: str
    worth: str
    most: str = ""


@dataclass(frozen=True)
class NightRow:
    """A night after the first: its odds, its sky and what it is for if it is clear."""

    evening: str
    rig: str
    odds: str
    dark: str
    moonless: str
    plan: str


@dataclass(frozen=True)
class FirstNight:
    """The first night of a rig, and its time zone; `rig` is empty where it is the only one."""

    rig: str
    night: SeasonNight
    zone: str


@dataclass(frozen=True)
class ShownSeason:
    """All that is shown of a season but the visits of its first night; by rig where there are several."""

    first: list[FirstNight]
    first_more: str
    which: str
    plan: str
    goals: str
    projects: list[ProjectRow]
    projects_more: str
    who: list[tuple[str, str]]
    finished: str
    cannot: str
    steps: list[StepRow]
    steps_more: str
    no_step: str
    months: list[MonthRow]
    nights: list[NightRow]
    nights_more: str
    rigs: list[RigRow]
    rigs_more: str
    bottleneck: str
    season_steps: list[StepOfSeason]


def shown_season(season: SeasonFile) -> ShownSeason:
    """Gather what is told of a season."""
    facts = season_facts(season)
    rows, several = facts.rows, facts.several
    tonight = _tonight(facts)
    later = facts.columns[1 : 1 + min(MOST_NIGHTS, max(1, MOST_ROWS // len(facts.rigs)))]
    shares, rigs = (shares_of(season), rig_rows(season)) if several else ({}, [])
    wanted = sorted((row for row in rows if not row.done), key=_order)
    asked = [row for row in wanted if row.project.steps and not row.project.cannot]
    helped = [row for row in asked if helpful_steps(row.project)]
    cannot = [_cannot(row) for row in wanted if row.project.cannot]
    no_step = [name(row.project.target) for row in asked if row not in helped]
    done = [name(row.project.target) for row in rows if row.done]
    which = which_night(season)
    nights = [
        _night(each, name(facts.rigs[rig].name))
        for column in later
        for rig, each in list(column.nights.items())[:MOST_ROWS]
    ]
    after = sum(len(column.nights) for column in facts.columns[1:])
    return ShownSeason(
        first=tonight[:MOST_TONIGHT],
        first_more=_more(len(tonight) - MOST_TONIGHT, "rig", "in the CSV and the calendar"),
        which=which,
        plan=f"{which}, if it is clear: {'; '.join(_of_rigs(tonight))}",
        goals=_goals(season, wanted),
        projects=[_row(season, row) for row in wanted[:MOST_PROJECTS]],
        projects_more=_more(len(wanted) - MOST_PROJECTS, "project", ELSEWHERE),
        who=[
            (name(row.project.target), who_words(shares[row.project.target]))
            for row in wanted[:MOST_PROJECTS]
            if several
        ],
        finished=f"In hand already: {listing(done, 'and')}." if done else "",
        cannot=f"Not even if all these nights are clear: {_folded(cannot)}." if cannot else "",
        steps=[_steps(row) for row in helped[:MOST_PROJECTS]],
        steps_more=_more(len(helped) - MOST_PROJECTS, "project", ELSEWHERE),
        no_step=f"Neither step raises the share by {100 * HELPS:.0f} points or more: {_folded(no_step)}."
        if no_step
        else "",
        months=[
            MonthRow(
                month(each.month),
                str(each.nights),
                f"{each.clear_nights:.0f}",
                hours_told(each.worth_s, up=True),
                most_of_month(season, each.month),
            )
            for each in season.months
        ],
        nights=nights,
        nights_more=_more(after - len(nights), "night", "in the CSV and the calendar"),
        rigs=rigs[:MOST_RIGS],
        rigs_more=_more(len(rigs) - MOST_RIGS, "rig", ELSEWHERE),
        bottleneck=bottleneck_words(season) if several else "",
        season_steps=season_steps(season),
    )


def _tonight(facts: SeasonFacts) -> list[FirstNight]:
    """The first night of each rig."""
    return [
        FirstNight(
            name(facts.rigs[rig].name) if facts.several else "",
            night,
            facts.rigs[rig].request.site.time_zone,
        )
        for rig, night in facts.columns[0].nights.items()
    ]


def which_night(season: SeasonFile) -> str:
    """What the first night is called: it is tonight only where the season was planned on its day."""
    site, evening = season.request.site, season.nights[0].evening
    made = evening_at(season.created_utc, site.longitude_deg, site.time_zone)
    return f"{'Tonight' if made.isoformat() == evening else 'First night'}, the evening of {day(evening)}"


def _of_rigs(tonight: Sequence[FirstNight]) -> list[str]:
    """What the first night of each rig is for, and of how many more it is not told."""
    more = len(tonight) - MOST_TONIGHT
    return [_of_rig(each) for each in tonight[:MOST_TONIGHT]] + [f"and {count(more, 'more rig')}"] * (
        more > 0
    )


def _of_rig(first: FirstNight) -> str:
    return f"{first.rig}: {_first(first.night)}" if first.rig else _first(first.night)


def _first(night: SeasonNight) -> str:
    """What the first night is for, by the hours of open shutter of each target, or why it has no plan."""
    if night.visits:
        targets = dict.fromkeys(visit.target for visit in night.visits)
        open_s = {
            each: open_shutter_s([goal for goal in night.plan if goal.target == each]) for each in targets
        }
        most = sorted(open_s, key=lambda each: -open_s[each])
        return listing((f"{name(each)} {hours(open_s[each])}" for each in most), "and", most=MOST_NAMED)
    if night.odds == 0:
        return "nothing, as its odds of clear sky are 0"
    if not any(each.open_s for each in night.targets):
        return "nothing, as no project that lacks subs can be shot"
    return "nothing, as the season's plans leave it free"


def _order(row: Row) -> tuple[str, str, float, float]:
    """First what is finished first, then what is likelier to be, then what has the fewest hours for it."""
    project, never = row.project, "9"
    share = 0.0 if project.finish_share is None else project.finish_share
    return project.finish_50 or never, project.finish_90 or never, -share, -row.urgency


def _goals(season: SeasonFile, wanted: Sequence[Row]) -> str:
    """How many projects will be finished, as far as the simulated seasons tell."""
    total, done = len(season.projects), len(season.projects) - len(wanted)
    if not wanted:
        return "every project is finished already"
    head = f"of {count(total, 'project')}"
    if done:
        head = f"{done} {head} {'is' if done == 1 else 'are'} finished already; of the other {len(wanted)}"
    shares = [each.project.finish_share for each in wanted if each.project.finish_share is not None]
    if season.policy is None or len(shares) < len(wanted):
        return f"{head} it was not simulated how many get finished"
    sure, likely = sum(s >= SURE for s in shares), sum(LIKELY <= s < SURE for s in shares)
    never = sum(s == 0 for s in shares)
    fewer = len(shares) - sure - likely - never
    counts = (
        (sure, f"in {percent(SURE)} or more of them"),
        (likely, f"in {percent(LIKELY)} to {percent(SURE)}"),
        (fewer, "in fewer"),
        (never, "in none"),
    )
    words = listing((f"{number} {where}" for number, where in counts if number), "and")
    seasons = count(season.policy.seasons, "simulated season")
    return f"{head}, by {seasons}, these get finished: {words}"


def _row(season: SeasonFile, row: Row) -> ProjectRow:
    project, last = row.project, season.nights[-1].evening
    at_end = project.last_useful_evening == last
    return ProjectRow(
        target=name(project.target),
        left=hours(row.left_s),
        planned=hours(project.planned_s),
        nights=str(project.nights),
        until="end" if at_end else day(project.last_useful_evening),
        half=day(project.finish_50),
        ninety=day(project.finish_90),
        share=UNKNOWN if project.finish_share is None else share_words(project.finish_share),
    )


def _cannot(row: Row) -> str:
    """A project that the open hours of its nights prove to be impossible, and through which filters."""
    filters = dict.fromkeys(name(goal.filter, 12) for goal in row.project.goals if goal.cannot)
    return name(row.project.target) + (f" ({', '.join(filters)})" if filters else "")


def _steps(row: Row) -> StepRow:
    """How likely a project is to be finished, as it is and with each step that helps it."""
    project = row.project
    by_step = {step.change: share_words(step.finish_share or 0.0) for step in helpful_steps(project)}
    return StepRow(
        target=name(project.target),
        share=UNKNOWN if project.finish_share is None else share_words(project.finish_share),
        left=UNKNOWN if project.left_after is None else hours(project.left_after),
        clear_night=by_step.get("clear_night", UNKNOWN),
        half_the_subs=by_step.get("half_the_frames", UNKNOWN),
    )


def _folded(targets: Sequence[str]) -> str:
    return listing(targets, "and", most=MOST_FOLDED)


def _night(night: SeasonNight, rig: str) -> NightRow:
    return NightRow(
        evening=day(night.evening),
        rig=rig,
        odds=percent(night.odds),
        dark=hours(night.dark_s),
        moonless=hours(min(night.dark_s, night.moonless_dark_s)),
        plan=plan_words(night) or "nothing",
    )


def _more(number: int, one: str, where: str) -> str:
    return f"{count(number, one)} more {where}" if number > 0 else ""
