"""A season's file -> what its page shows: a row for each target, a column for each night."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from optimizer.models.season import GoalFrames, Project, SeasonFile, SeasonNight
from optimizer.report.season_page.colours import step_of

HOUR_S = 3600.0
LEVELS = 10  # steps of the bars of Moon, dark hours and odds
Serves = Literal["used", "open", "moon", "closed", "done"]


@dataclass(frozen=True)
class Cell:
    """One target on one night: hours planned if it is clear, and hours in which its sky is open.

    `serves`: `open` could serve but is not used, `moon` is closed by moonlight alone, `done` wants no more.
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
    filters that it cannot finish in these nights whatever the weather. `finish_50_at`, `finish_90_at` and
    `last_at` are columns.
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


@dataclass(frozen=True)
class Column:
    """A night: bars of 0 to `LEVELS` for the Moon's lit share, dark hours, moonless hours and odds."""

    number: int
    night: SeasonNight
    evening: dt.date
    moon: int
    dark: int
    moonless: int
    odds: int


@dataclass(frozen=True)
class SeasonFacts:
    """All that the page shows. `orders`: ranks of the rows by finish date, by urgency and as requested."""

    file: SeasonFile
    rows: tuple[Row, ...]
    columns: tuple[Column, ...]
    orders: Mapping[str, Sequence[int]]

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


def season_facts(file: SeasonFile) -> SeasonFacts:
    """Gather what the page shows of a season's file."""
    evenings = [dt.date.fromisoformat(night.evening) for night in file.nights]
    at = {evening.isoformat(): column for column, evening in enumerate(evenings)}
    cells = _cells(file)
    rows = tuple(
        _row(file, number, project, cells[project.target], at) for number, project in enumerate(file.projects)
    )
    longest_s = max((night.dark_s for night in file.nights), default=0.0) or 1.0
    columns = tuple(
        Column(
            number,
            night,
            evening,
            _level(night.moon_illuminated),
            _level(night.dark_s / longest_s),
            _level(min(night.moonless_dark_s, night.dark_s) / longest_s),
            _level(night.odds),
        )
        for number, (night, evening) in enumerate(zip(file.nights, evenings, strict=True))
    )
    return SeasonFacts(file, rows, columns, _orders(rows))


def _level(share: float) -> int:
    return min(LEVELS, max(0, round(LEVELS * share)))


def _left_s(project: Project) -> float:
    return sum(max(0, goal.wanted - goal.in_hand) * goal.exposure_s for goal in project.goals)


def _cells(file: SeasonFile) -> dict[str, tuple[Cell, ...]]:
    """The cells of each target, a night after the other."""
    found: dict[str, list[Cell]] = {project.target: [] for project in file.projects}
    done = {project.target for project in file.projects if _left_s(project) <= 0}
    for night in file.nights:
        offered = {each.target: each for each in night.targets}
        planned: dict[str, float] = {}
        for each in night.plan:
            planned[each.target] = planned.get(each.target, 0.0) + each.frames * each.exposure_s
        for target, cells in found.items():
            sky = offered.get(target)
            open_s, moonless_s = (sky.open_s, sky.moonless_s) if sky else (0.0, 0.0)
            serves: Serves = (
                "used"
                if planned.get(target)
                else "done"
                if target in done
                else "open"
                if open_s > 0
                else "moon"
                if moonless_s > 0
                else "closed"
            )
            hours = planned.get(target, 0.0) / HOUR_S
            cells.append(Cell(serves, hours, open_s / HOUR_S, moonless_s / HOUR_S))
    return {target: tuple(cells) for target, cells in found.items()}


def _row(
    file: SeasonFile, number: int, project: Project, cells: tuple[Cell, ...], at: Mapping[str, int]
) -> Row:
    left_s = _left_s(project)
    open_s = [HOUR_S * cell.open_h for cell in cells]
    by_odds_s = sum(night.odds * seconds for night, seconds in zip(file.nights, open_s, strict=True))
    urgency = -1.0 if left_s <= 0 else left_s / by_odds_s if by_odds_s > 0 else math.inf
    never = tuple(
        dict.fromkeys(
            goal.filter
            for goal in project.goals
            if goal.wanted > goal.in_hand
            # a target's open seconds of a night are at least those of each of its goals
            and (goal.nights == 0 or (goal.wanted - goal.in_hand) * goal.exposure_s > sum(open_s))
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
