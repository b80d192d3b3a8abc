"""A season's file -> what its page shows: a row for each target, a column for each evening."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from optimizer.models.request import Request
from optimizer.models.season import GoalFrames, Project, SeasonFile, SeasonNight
from optimizer.report.season_page.colours import step_of

HOUR_S = 3600.0
LEVELS = 10  # steps of the bars of Moon, dark hours and odds
Serves = Literal["used", "open", "moon", "closed", "done"]


@dataclass(frozen=True)
class Cell:
    """One target on one evening: hours planned if it is clear, and hours in which its sky is open.

    Hours of several rigs are added up. `serves`: `open` could serve but is not used, `moon` is closed by
    moonlight alone, `done` wants no more.
    """

    serves: Serves
    hours: float
    open_h: float
    moonless_h: float

    @property
    def step(self) -> int:
        """The step of colour and height, 0 where nothing is planned."""
        return step_of(self.hours)


@dataclass(frozen=True)
class Row:
    """A target over the season. `urgency`: hours wanted as a share of its open hours, weighted by the odds.

    It is infinite where it wants hours that no night has open, and -1 where nothing is left to do. `never`:
    filters that it cannot finish in these nights whatever the weather; there may be none of them where
    `cannot` says so of all its goals together. `finish_50_at`, `finish_90_at` and `last_at` are columns.
    """

    number: int
    project: Project
    cells: tuple[Cell, ...]
    left_s: float
    urgency: float
    never: tuple[str, ...]
    finish_50_at: int | None
    finish_90_at: int | None
    last_at: int | None

    @property
    def done(self) -> bool:
        """Whether all that it wants is in hand."""
        return self.left_s <= 0

    @property
    def cannot(self) -> bool:
        """Whether no weather finishes it in these nights."""
        return not self.done and (self.project.cannot or bool(self.never))


@dataclass(frozen=True)
class Sky:
    """What the head of the map tells of an evening; `longest_s` is the longest dark of the season.

    Of several rigs it is the first one's Moon, the longest dark, the longest without Moon, the mean odds.
    """

    moon: float
    dark_s: float
    moonless_s: float
    odds: float
    longest_s: float

    @property
    def levels(self) -> tuple[int, int, int, int]:
        """Bars of 0 to `LEVELS` for the Moon's lit share, dark hours, moonless hours and odds."""
        shares = (self.moon, self.dark_s / self.longest_s, self.moonless_s / self.longest_s, self.odds)
        moon, dark, moonless, odds = (min(LEVELS, max(0, round(LEVELS * share))) for share in shares)
        return moon, dark, moonless, odds


@dataclass(frozen=True)
class Column:
    """An evening: the night of each rig that has one, by the number of the rig, and the sky of all."""

    number: int
    evening: dt.date
    nights: Mapping[int, SeasonNight]
    sky: Sky


@dataclass(frozen=True)
class Rig:
    """A rig of the season: its number, the name by which it is told from the others, its request."""

    number: int
    name: str
    request: Request


@dataclass(frozen=True)
class SeasonFacts:
    """All that the page shows. `orders`: ranks of the rows by finish date, by urgency and as requested."""

    file: SeasonFile
    rigs: tuple[Rig, ...]
    rows: tuple[Row, ...]
    columns: tuple[Column, ...]
    orders: Mapping[str, Sequence[int]]

    @property
    def several(self) -> bool:
        """Whether the season is one of more than one rig."""
        return len(self.rigs) > 1

    @property
    def months(self) -> tuple[tuple[dt.date, int], ...]:
        """The first evening of each month of the season with how many columns it has."""
        found: list[tuple[dt.date, int]] = []
        for column in self.columns:
            if found and found[-1][0].replace(day=1) == column.evening.replace(day=1):
                found[-1] = (found[-1][0], found[-1][1] + 1)
            else:
                found.append((column.evening, 1))
        return tuple(found)


def open_shutter_s(frames: Sequence[GoalFrames]) -> float:
    """Seconds of open shutter of some frames."""
    return sum(each.frames * each.exposure_s for each in frames)


def rigs_of(file: SeasonFile) -> tuple[Rig, ...]:
    """The rigs of a season in their order; one without a name gets its number."""
    return tuple(
        Rig(number, each.name or f"rig {number + 1}", each.request) for number, each in enumerate(file.rigs)
    )


def season_facts(file: SeasonFile) -> SeasonFacts:
    """Gather what the page shows of a season's file."""
    columns = _columns(file)
    at = {column.evening.isoformat(): column.number for column in columns}
    cells = _cells(file.projects, [list(column.nights.values()) for column in columns])
    open_by_odds = _open_by_odds(file)
    rows = tuple(
        _row(number, project, cells[project.target], open_by_odds.get(project.target, []), at)
        for number, project in enumerate(file.projects)
    )
    return SeasonFacts(file, rigs_of(file), rows, columns, _orders(rows))


def rig_cells(facts: SeasonFacts, rig: Rig) -> dict[int, tuple[Cell, ...]]:
    """The cells of one rig alone, by the rows whose target its request has.

    A target that no night of the rig says anything of wants no more of it: they are `done`.
    """
    own = [row for row in facts.rows if facts.file.rigs[rig.number].name in row.project.rigs]
    nights = [[column.nights[rig.number]] if rig.number in column.nights else [] for column in facts.columns]
    told = {each.target for of_evening in nights for night in of_evening for each in night.targets}
    told |= {each.target for of_evening in nights for night in of_evening for each in night.plan}
    cells = _cells([row.project for row in own], nights)
    idle = (Cell("done", 0.0, 0.0, 0.0),) * len(facts.columns)
    return {row.number: cells[row.project.target] if row.project.target in told else idle for row in own}


def sky_of(nights: Sequence[SeasonNight], longest_s: float) -> Sky:
    """What the head of the map tells of the nights of an evening."""
    return Sky(
        moon=nights[0].moon_illuminated,
        dark_s=max(night.dark_s for night in nights),
        moonless_s=max(min(night.moonless_dark_s, night.dark_s) for night in nights),
        odds=sum(night.odds for night in nights) / len(nights),
        longest_s=longest_s,
    )


def _columns(file: SeasonFile) -> tuple[Column, ...]:
    numbers = {rig.name: number for number, rig in enumerate(file.rigs)}
    of_evening: dict[str, dict[int, SeasonNight]] = {}
    for night in file.nights:
        # a single rig needs no name to be known by
        number = numbers[night.rig] if len(numbers) > 1 else 0
        of_evening.setdefault(night.evening, {})[number] = night
    longest_s = max((night.dark_s for night in file.nights), default=0.0) or 1.0
    return tuple(
        Column(number, dt.date.fromisoformat(evening), nights, sky_of(list(nights.values()), longest_s))
        for number, (evening, nights) in enumerate(of_evening.items())
    )


def _left_s(project: Project) -> float:
    return sum(max(0, goal.wanted - goal.in_hand) * goal.exposure_s for goal in project.goals)


def _cells(
    projects: Sequence[Project], evenings: Sequence[Sequence[SeasonNight]]
) -> dict[str, tuple[Cell, ...]]:
    """The cells of each target, one evening after the other; the nights of an evening are added up."""
    found: dict[str, list[Cell]] = {project.target: [] for project in projects}
    done = {project.target for project in projects if _left_s(project) <= 0}
    for nights in evenings:
        open_s, moonless_s, planned_s = dict[str, float](), dict[str, float](), dict[str, float]()
        for night in nights:
            for sky in night.targets:
                open_s[sky.target] = open_s.get(sky.target, 0.0) + sky.open_s
                moonless_s[sky.target] = moonless_s.get(sky.target, 0.0) + sky.moonless_s
            for each in night.plan:
                planned_s[each.target] = planned_s.get(each.target, 0.0) + each.frames * each.exposure_s
        for target, cells in found.items():
            serves: Serves = (
                "used"
                if planned_s.get(target)
                else "done"
                if target in done
                else "open"
                if open_s.get(target, 0.0) > 0
                else "moon"
                if moonless_s.get(target, 0.0) > 0
                else "closed"
            )
            seconds = (planned_s.get(target, 0.0), open_s.get(target, 0.0), moonless_s.get(target, 0.0))
            cells.append(Cell(serves, *(each / HOUR_S for each in seconds)))
    return {target: tuple(cells) for target, cells in found.items()}


def _open_by_odds(file: SeasonFile) -> dict[str, list[tuple[float, float]]]:
    """The odds and the open seconds of each night that says something of a target, by target."""
    found: dict[str, list[tuple[float, float]]] = {}
    for night in file.nights:
        for each in night.targets:
            found.setdefault(each.target, []).append((night.odds, each.open_s))
    return found


def _row(
    number: int,
    project: Project,
    cells: tuple[Cell, ...],
    open_by_odds: Sequence[tuple[float, float]],
    at: Mapping[str, int],
) -> Row:
    left_s = _left_s(project)
    by_odds_s = sum(odds * seconds for odds, seconds in open_by_odds)
    open_s = sum(seconds for _, seconds in open_by_odds)
    urgency = -1.0 if left_s <= 0 else left_s / by_odds_s if by_odds_s > 0 else math.inf
    never = tuple(
        dict.fromkeys(
            goal.filter
            for goal in project.goals
            if goal.wanted > goal.in_hand
            # a target's open seconds of a night are at least those of each of its goals
            and (goal.cannot or goal.nights == 0 or (goal.wanted - goal.in_hand) * goal.exposure_s > open_s)
        )
    )
    dates = (project.finish_50, project.finish_90, project.last_useful_evening)
    half, ninety, last = (None if date is None or left_s <= 0 else at.get(date) for date in dates)
    return Row(number, project, cells, left_s, urgency, never, half, ninety, last)


def _orders(rows: Sequence[Row]) -> dict[str, Sequence[int]]:
    """The rank of each row in each order; what is done comes last."""
    return {
        "finish": _ranks(rows, _by_finish),
        "urgency": _ranks(rows, lambda row: (-row.urgency,)),
        "request": _ranks(rows, lambda row: (float(row.number),)),
    }


def _ranks(rows: Sequence[Row], key: Callable[[Row], tuple[float, ...]]) -> list[int]:
    ranks = [0] * len(rows)
    for rank, row in enumerate(sorted(rows, key=key)):
        ranks[row.number] = rank
    return ranks


def _by_finish(row: Row) -> tuple[float, ...]:
    """First what is surely finished first, then what is likelier to be finished, then what is more urgent."""
    project = row.project
    dates = (
        math.inf if date is None else dt.date.fromisoformat(date).toordinal()
        for date in (project.finish_90, project.finish_50)
    )
    return (float(row.done), *dates, -(project.finish_share or 0.0), -row.urgency)
