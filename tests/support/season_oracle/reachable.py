"""All that the plans of a small night can take and gather, by the oracle of single nights."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from optimizer.models.request import Request
from optimizer.problem import Problem, build_problem
from optimizer.reading.load import request_from_data
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows
from tests.support.oracle.best import TooManyStatesError, _Left, _Search, _undominated, coarse

STEPS = (8, 4, 2, 1)
MOST_STATES = {8: 4_000, 4: 8_000, 2: 20_000, 1: 60_000}


@dataclass(frozen=True)
class Column:
    """What one plan of a night takes and gathers: frames and weighted seconds, by goal.

    Where sums alone count, all that is gathered may stand with the first goal.
    """

    frames: tuple[int, ...]
    gathered_s: tuple[Fraction, ...]


@dataclass(frozen=True)
class Reachable:
    """The columns of a night, its empty plan among them; no plan of it is better than all of them.

    `problem` is the night's with its true profits, `rounded` the one whose plans were gone through: with
    `steps`, its frames' profits are rounded down to so many.
    """

    problem: Problem
    rounded: Problem
    columns: tuple[Column, ...]
    steps: int | None


class _Reachable(_Search):
    """The oracle, that keeps all states in which a night may end."""

    def columns(self, most_states: int) -> dict[tuple[int, ...], set[tuple[int, ...]]]:
        """What may be gathered, by the frames taken: a number for each task, or one for all of them."""
        tasks = self.problem.tasks
        nothing = (0,) * len(tasks)
        found: dict[tuple[int, ...], set[tuple[int, ...]]] = {nothing: {nothing}}
        first = _Left(-1, (), "", nothing, nothing if self.tells_apart else ())
        self.left[0][first] = self.night.first()
        for made in range(self.wanted + 1):
            for state, timetable in _undominated(self.inside[made]):
                self._go_on(state, timetable)
                if sum(map(len, self.inside)) + sum(map(len, self.left)) > most_states:
                    raise TooManyStatesError
            for left, timetable in _undominated(self.left[made]):
                own = found.setdefault(left.given, set())
                if self.tells_apart:
                    own.add(left.gathered)
                elif self.problem.by_time:
                    most = max([int(timetable.max()), *(each[0] for each in own)])
                    own.clear()
                    own.add((most, *nothing[1:]))
                else:
                    own.add(tuple(task.profit * got for task, got in zip(tasks, left.given, strict=True)))
                self._go_elsewhere(left, timetable)
            self.inside[made].clear()
            self.left[made].clear()
        return found


def night_of(data: dict[str, Any], evening: dt.date, first: dt.date) -> Request:
    """A night of a season as a request by itself; what `night` says holds for the evening that it names."""
    night = dict(data["night"]) if evening == first else {}
    night["evening"] = evening.isoformat()
    own = {key: value for key, value in data.items() if key != "season"}
    own = {**own, "night": night, "aim": {**data["aim"], "scarcity": 0}}
    return request_from_data(own, f"night of {evening}")


def reachable(request: Request) -> Reachable:
    """All that a night can bring; frames' profits are rounded where they depend on the time and sets count."""
    windows = sky_windows(request, night_sky(request))
    problem = build_problem(request, windows)
    nothing = Column((0,) * len(problem.tasks), (Fraction(0),) * len(problem.tasks))
    if not problem.slots:
        return Reachable(problem, problem, (nothing,), None)
    if not (problem.by_time and request.aim.balance > 0):
        found = _Reachable(request, problem, windows, None).columns(60_000)
        return Reachable(problem, problem, _told(problem, found), None)
    for steps in STEPS:
        rounded = coarse(problem, steps)
        try:
            found = _Reachable(request, rounded, windows, None).columns(MOST_STATES[steps])
        except TooManyStatesError:
            continue
        return Reachable(problem, rounded, _told(rounded, found), steps)
    raise TooManyStatesError


def _told(problem: Problem, found: dict[tuple[int, ...], set[tuple[int, ...]]]) -> tuple[Column, ...]:
    columns = []
    for frames, many in found.items():
        kept: list[tuple[int, ...]] = []
        for each in sorted(many, key=lambda own: (-sum(own), own)):
            if not any(all(a >= b for a, b in zip(other, each, strict=True)) for other in kept):
                kept.append(each)
        columns += [Column(frames, tuple(problem.profit_unit * got for got in own)) for own in kept]
    return tuple(columns)


def without_worse(columns: Sequence[Column], scarce: Sequence[bool]) -> list[Column]:
    """The columns without those that another one beats: no more frames of the goals that are scarce."""
    kept: list[Column] = []
    for each in sorted(columns, key=lambda own: -sum(own.gathered_s)):
        if not any(_beats(other, each, scarce) for other in kept):
            kept.append(each)
    return kept


def _beats(one: Column, other: Column, scarce: Sequence[bool]) -> bool:
    more = all(a >= b for a, b in zip(one.gathered_s, other.gathered_s, strict=True))
    return more and all(a <= b for a, b, binds in zip(one.frames, other.frames, scarce, strict=True) if binds)
