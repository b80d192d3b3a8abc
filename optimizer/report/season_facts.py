"""A season gathered for people: what the first night is for, which projects get done, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.models.season import Project, SeasonFile, SeasonNight
from optimizer.models.site import evening_at
from optimizer.report.season_words import (
    day,
    day_or_dash,
    hours,
    is_finished,
    last_evening,
    month,
    plan_words,
    share_words,
)
from optimizer.report.words import count, name, percent
from optimizer.words import listing

MOST_PROJECTS = 30  # rows that a tired reader goes through; of more, those that end first are shown
MOST_NIGHTS = 7  # that are shown after the first one
MOST_STEPS = 3  # that are told of one project
SURE, LIKELY = 0.9, 0.5  # shares of simulated seasons
ELSEWHERE = "in the JSON, and on the page of --page"


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
class UnsureFacts:
    """A project that may well not be finished: how sure, what is left, and what one step would change."""

    target: str
    words: str
    steps: tuple[str, ...]


@dataclass(frozen=True)
class MonthRow:
    """What one more clear night of a month would give."""

    month: str
    nights: str
    clear: str
    worth: str


@dataclass(frozen=True)
class NightRow:
    """A night after the first: its odds, its sky and what it is for if it is clear."""

    evening: str
    odds: str
    dark: str
    moonless: str
    plan: str


@dataclass(frozen=True)
class SeasonFacts:
    """All that is shown of a season but the visits of its first night."""

    first: SeasonNight
    is_tonight: bool
    verdict: str
    projects: list[ProjectRow]
    projects_more: str
    finished: str
    unsure: list[UnsureFacts]
    unsure_more: str
    months: list[MonthRow]
    nights: list[NightRow]
    nights_more: str


def season_facts(season: SeasonFile) -> SeasonFacts:
    """Gather what is told of a season."""
    site, nights = season.request.site, season.nights
    wanted = sorted((each for each in season.projects if not is_finished(each)), key=_order)
    unsure = [each for each in wanted if _is_unsure(each)]
    made = evening_at(season.created_utc, site.longitude_deg, site.time_zone)
    more = max(0, len(wanted) - MOST_PROJECTS)
    return SeasonFacts(
        first=nights[0],
        is_tonight=nights[0].evening == made.isoformat(),
        verdict=_verdict(season, wanted),
        projects=[_row(season, each) for each in wanted[:MOST_PROJECTS]],
        projects_more=f"{count(more, 'project')} more {ELSEWHERE}" if more else "",
        finished=_finished(season.projects),
        unsure=[_unsure(each) for each in unsure[:MOST_PROJECTS]],
        unsure_more=f"{len(unsure) - MOST_PROJECTS} more {ELSEWHERE}" if len(unsure) > MOST_PROJECTS else "",
        months=[
            MonthRow(month(each.month), str(each.nights), f"{each.clear_nights:.0f}", hours(each.worth_s))
            for each in season.months
        ],
        nights=[_night(each) for each in nights[1 : 1 + MOST_NIGHTS]],
        nights_more=_nights_more(nights),
    )


def _order(project: Project) -> tuple[str, str, float, str]:
    """First what is finished first, then what is likelier to be."""
    never = "9"
    share = 0.0 if project.finish_share is None else project.finish_share
    return project.finish_50 or never, project.finish_90 or never, -share, project.target


def _is_unsure(project: Project) -> bool:
    cannot = any(goal.nights == 0 and goal.in_hand < goal.wanted for goal in project.goals)
    return cannot or (project.finish_share is not None and project.finish_share < SURE)


def _verdict(season: SeasonFile, wanted: Sequence[Project]) -> str:
    """How many projects will be finished, as far as the simulated seasons tell."""
    total, done = len(season.projects), len(season.projects) - len(wanted)
    is_, others = ("is", "the others") if done == 1 else ("are", "the others") if done else ("", "them")
    head = f"{done} of {count(total, 'project')} {is_} finished already; of {others}" if done else ""
    head = head or f"of {count(total, 'project')}"
    shares = [each.finish_share for each in wanted if each.finish_share is not None]
    if not wanted:
        return "every project is finished already"
    if season.policy is None or len(shares) < len(wanted):
        return f"{head}, {len(wanted)} to be worked on; how likely they get finished was not simulated"
    sure, likely = sum(s >= SURE for s in shares), sum(LIKELY <= s < SURE for s in shares)
    never = sum(s == 0 for s in shares)
    parts = [
        f"{sure} finished in {percent(SURE)} or more of them" if sure else "",
        f"{likely} in {percent(LIKELY)} to {percent(SURE)}" if likely else "",
        f"{len(shares) - sure - likely - never} in fewer" if len(shares) > sure + likely + never else "",
        f"{never} in none" if never else "",
    ]
    counted = listing((part for part in parts if part), "and")
    if not sure:  # nothing has said yet what is finished
        counted = counted.replace(" in ", " finished in ", 1)
    return f"{head}, in {count(season.policy.seasons, 'simulated season')}: {counted}"


def _row(season: SeasonFile, project: Project) -> ProjectRow:
    last = project.last_useful_evening
    until = day_or_dash(last) if last is None or last < last_evening(season) else "end"
    return ProjectRow(
        target=name(project.target),
        left=hours(max(0.0, project.wanted_s - project.in_hand_s)),
        planned=hours(project.planned_s),
        nights=str(project.nights),
        until=until,
        half=day_or_dash(project.finish_50),
        ninety=day_or_dash(project.finish_90),
        share=share_words(project.finish_share),
    )


def _finished(projects: Sequence[Project]) -> str:
    done = [name(each.target) for each in projects if is_finished(each)]
    return f"In hand already: {listing(done, 'and')}." if done else ""


def _unsure(project: Project) -> UnsureFacts:
    """How far a project gets; what no night can serve is called impossible, for that is proven."""
    words = []
    none = list(dict.fromkeys(g.filter for g in project.goals if g.nights == 0 and g.in_hand < g.wanted))
    if none:
        words.append(f"cannot be finished: no night of the season can serve {listing(none, 'and')}")
    if project.finish_share is not None and not none:
        words.append(f"finished in {share_words(project.finish_share)} of simulated seasons")
    if project.left_after is not None:
        words.append(f"{hours(project.left_after)} left on average")
    steps = [each.sentence for each in project.steps[:MOST_STEPS]]
    return UnsureFacts(name(project.target), "; ".join(words), tuple(steps))


def _night(night: SeasonNight) -> NightRow:
    return NightRow(
        evening=day(night.evening),
        odds=percent(night.odds),
        dark=hours(night.dark_s),
        moonless=hours(night.moonless_dark_s),
        plan=plan_words(night) or "nothing",
    )


def _nights_more(nights: Sequence[SeasonNight]) -> str:
    more = len(nights) - 1 - MOST_NIGHTS
    return f"{count(more, 'night')} more in the CSV and the calendar" if more > 0 else ""
