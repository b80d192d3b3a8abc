"""The greatest value of a small night, by going through every plan that the law allows (LAW.md).

Nothing here comes from `optimizer.packing`. States are explored in the order of the exposures made so far; each
has a timetable (see `pieces`) instead of a single time, so the search is complete to the second. What is
left out gains nothing: visits without exposures, dithers before they are due, focus runs inside a run where no
cadence asks for them. Steps last no longer than they must; a wait comes before the filter and the focus run, so
that the focus is fresh; a run keeps to one window.

Where filter sets count, a night is worth more than the sum of its frames. If frames are worth the same at any
time, their number says it all. If not, states are told apart by what each task's frames have brought, so such
nights must have few different profits of a frame (`coarse`).
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import TypeVar

import numpy as np

from optimizer.models.continues import Begin
from optimizer.models.request import Request
from optimizer.problem import Problem, Slot, Span
from optimizer.problem.tasks import Task
from optimizer.sky.windows import SkyWindows
from tests.support.oracle.pieces import NEVER, DepthNight, Night, Timetable, later, latest, possible, waited
from tests.support.oracle.worth import WorthByDefinition

MOST_VISITS = 2
MOST_STATES = 60_000  # about a gigabyte of timetables
# Of a frame's profit where the sky decides: all of them are told apart. The coarser ones are taken where the
# finer ones would take more than some seconds.
STEPS = {8: 15_000, 4: 15_000, 2: MOST_STATES, 1: MOST_STATES}
Given = tuple[int, ...]  # exposures so far by task
Used = tuple[tuple[str, str | None, int], ...]  # visits so far by target and side
Counted = dict[tuple[int, int], Timetable]  # ways through a run


@dataclass(frozen=True)
class _In:
    """In a visit, after its runs in `had`; `open_units` count up to the least that the visit needs."""

    slot: int
    used: Used
    had: frozenset[int]
    filter: str
    given: Given
    open_units: int
    gathered: Given = ()  # profit so far by task, where the way there does not tell it


@dataclass(frozen=True)
class _Left:
    """Done with a visit (slot -1: none begun yet)."""

    slot: int
    used: Used
    filter: str
    given: Given
    gathered: Given = ()


State = TypeVar("State", _In, _Left)


def greatest_profit(
    request: Request,
    problem: Problem,
    sky: SkyWindows,
    begin: Begin | None = None,
    most_states: int = MOST_STATES,
) -> int:
    """The value of the best plan, in units of profit; `problem` is of this request, this sky and this begin."""
    if not problem.slots:
        return 0
    return _Search(request, problem, sky, begin).run(most_states)


class TooManyStatesError(Exception):
    """A night whose ways cannot all be told apart at once."""


def with_greatest_profit(
    request: Request, problem: Problem, sky: SkyWindows, begin: Begin | None = None
) -> tuple[Problem, int]:
    """A night and the value of its best plan; its frames' profits are made coarse where they depend on the time.

    As fine as can be told apart: one night in some hundred must be coarser than the others.
    """
    if not problem.by_time:
        return problem, greatest_profit(request, problem, sky, begin)
    for steps, most_states in STEPS.items():
        rounded = coarse(problem, steps)
        with contextlib.suppress(TooManyStatesError):
            return rounded, greatest_profit(request, rounded, sky, begin, most_states)
    raise TooManyStatesError


def coarse(problem: Problem, steps: int) -> Problem:
    """The night with profits of frames rounded down to so many steps, where they depend on the time."""
    tasks = []
    for task in problem.tasks:
        step = max(1, math.ceil(task.profit / steps))
        assert task.profit_by_start is not None
        profits = task.profit_by_start // step * step
        tasks.append(replace(task, profit_by_start=profits, profit=task.profit // step * step))
    return replace(problem, tasks=tuple(tasks))


class _Search:
    def __init__(self, request: Request, problem: Problem, sky: SkyWindows, begin: Begin | None) -> None:
        self.request, self.problem, self.begin = request, problem, begin
        self.worth = WorthByDefinition(request, problem)
        self.tells_apart = problem.by_time and request.aim.balance > 0
        sums_up = problem.by_time and not self.tells_apart
        self.night: Night = (DepthNight if sums_up else Night).of(request, problem, sky, begin)
        self.open_units, self.least_units, self.had_units = _open_units(problem, begin)
        self.places = [slot for slot in problem.slots if slot.copy == 0]
        self._levels = [self._levels_of(task) for task in problem.tasks] if self.tells_apart else []
        self.wanted = sum(task.frames_left for task in problem.tasks)
        self.inside: list[dict[_In, Timetable]] = [{} for _ in range(self.wanted + 1)]
        self.left: list[dict[_Left, Timetable]] = [{} for _ in range(self.wanted + 1)]

    def _levels_of(self, task: Task) -> list[tuple[int, int, int]]:
        """Stretches of a night in which exposures of a task end that have one profit: from, to, profit."""
        assert task.profit_by_start is not None
        first = self.night.begin - task.frame_s
        by_end = np.pad(task.profit_by_start, (max(0, -first), 0))[max(0, first) :][: self.night.seconds]
        edges = [0, *(np.flatnonzero(np.diff(by_end)) + 1).tolist(), len(by_end)]
        return [(low, high, int(by_end[low])) for low, high in pairwise(edges)]

    def run(self, most_states: int) -> int:
        """All states, those with fewer exposures first."""
        best = 0
        nothing = (0,) * len(self.problem.tasks)
        filter_in = (self.begin.filter if self.begin else None) or ""
        at_first = _Left(-1, (), filter_in, nothing, nothing if self.tells_apart else ())
        self.left[0][at_first] = self.night.first()
        for made in range(self.wanted + 1):
            for state, timetable in _undominated(self.inside[made]):
                self._go_on(state, timetable)
                if sum(map(len, self.inside)) + sum(map(len, self.left)) > most_states:
                    raise TooManyStatesError
            for left, timetable in _undominated(self.left[made]):
                best = max(best, self._profit(left, timetable))
                self._go_elsewhere(left, timetable)
            self.inside[made].clear()
            self.left[made].clear()
        return best

    def _profit(self, left: _Left, timetable: Timetable) -> int:
        """Of the best way into this state."""
        if self.tells_apart:
            return self.worth.units(left.gathered)
        if self.problem.by_time:
            return int(timetable.max())
        return self.worth.units(
            [task.profit * frames for task, frames in zip(self.problem.tasks, left.given, strict=True)]
        )

    def _go_on(self, state: _In, timetable: Timetable) -> None:
        """Another run in the same visit, or the end of the visit."""
        slot = self.problem.slots[state.slot]
        if state.open_units >= self.least_units[slot.target.name]:
            left = _Left(state.slot, state.used, state.filter, state.given, state.gathered)
            at = self.left[sum(state.given)]
            at[left] = latest(at.get(left), timetable)
        for task in self._tasks(slot, state.given):
            if task.index not in state.had:
                changes = task.goal.filter != state.filter
                must_focus = changes and self.problem.rules.focus_on_filter_change
                self._run(state, timetable, slot, task, changes=changes, must_focus=must_focus, of_flip=False)

    def _go_elsewhere(self, state: _Left, timetable: Timetable) -> None:
        """A slew or a flip to any place, then its first run."""
        focus, mount = self.request.focus, self.request.mount
        before = self.problem.start.slot if state.slot < 0 else self.problem.slots[state.slot]
        for after in self.places:
            if state.slot < 0 and self.night.goes_on(after):
                self._stay(state, timetable, after)
                continue
            used = _visited(state.used, after)
            tasks = list(self._tasks(after, state.given))
            flips = self.night.flips(before, after)
            if used is None or not tasks or (flips and mount.flip_by == "never"):
                continue
            if before is after and not self._profit_coming_back(after):
                continue
            ready = self.night.arrived(timetable, before, after)
            ready = later(ready, self.night.acquire_s(before, after))
            if not possible(ready):
                continue
            for task in tasks:
                changes = not flips or task.goal.filter != state.filter
                must_focus = mount.refocus_after_flip if flips else focus.on_new_target
                must_focus = must_focus or (changes and focus.on_filter_change) or self._focus_due(state)
                entered = _In(after.index, used, frozenset(), "", state.given, 0, state.gathered)
                self._run(entered, ready, after, task, changes=changes, must_focus=must_focus, of_flip=flips)

    def _focus_due(self, state: _Left) -> bool:
        """Whether a focus run comes next wherever the night begins."""
        return state.slot < 0 and self.begin is not None and self.begin.focus_due

    def _stay(self, state: _Left, timetable: Timetable, slot: Slot) -> None:
        """The visit that is going on as the night begins goes on, with a dither first where one is due."""
        used, focus = _visited(state.used, slot), self.request.focus
        assert used is not None
        ready = later(timetable, self.night.dither_before_s())
        had = min(self.least_units[slot.target.name], self.had_units)
        entered = _In(slot.index, used, frozenset(), "", state.given, had, state.gathered)
        for task in self._tasks(slot, state.given):
            changes = task.goal.filter != state.filter
            must_focus = (changes and focus.on_filter_change) or self._focus_due(state)
            self._run(entered, ready, slot, task, changes=changes, must_focus=must_focus, of_flip=False)

    @staticmethod
    def _profit_coming_back(slot: Slot) -> bool:
        """A slew straight back to the same target and side begins a visit only where windows lie between.

        Elsewhere it is the same contiguous stay.
        """
        return any(len(spans) > 1 for spans in slot.shutter.values())

    def _tasks(self, slot: Slot, given: Given) -> Iterator[Task]:
        for index in slot.shutter:
            task = self.problem.tasks[index]
            if given[index] < task.frames_left:
                yield task

    def _run(
        self,
        state: _In,
        timetable: Timetable,
        slot: Slot,
        task: Task,
        *,
        changes: bool,
        must_focus: bool,
        of_flip: bool,
    ) -> None:
        """One run of a task, of every length, with focus runs before and in it wherever they may be."""
        ready = later(waited(timetable), task.change_s if changes else 0)
        opens = None if must_focus else ready
        if must_focus or self.problem.rules.focus_every_s is not None:
            opens = latest(opens, self.night.focused(ready, slot, of_flip=of_flip))
        assert opens is not None
        for window in slot.shutter[task.index]:
            self._run_in_window(state, opens, slot, task, window)

    def _run_in_window(self, state: _In, opens: Timetable, slot: Slot, task: Task, window: Span) -> None:
        # by exposures since the latest dither or focus run inside the run (0 throughout where none is wanted),
        # and by their profit where ways are told apart by it
        counted: Counted = {}
        self._expose(counted, 1 if self._dithers else 0, 0, opens, task, window)
        for frames in range(1, task.frames_left - state.given[task.index] + 1):
            counted = {count: each for count, each in counted.items() if possible(each)}
            if not counted:
                return
            self._book(state, slot, task, frames, counted)
            counted = self._next_exposure(counted, slot, task, window)

    @property
    def _dithers(self) -> int:
        return self.problem.rules.dither_every

    def _next_exposure(self, counted: Counted, slot: Slot, task: Task, window: Span) -> Counted:
        dither_s, found = self.problem.rules.dither_s, Counted()
        for (count, gained), ended in counted.items():
            due = count == self._dithers and count > 0
            following = 0 if not self._dithers else 1 if due else count + 1
            self._expose(found, following, gained, later(ended, dither_s if due else 0), task, window)
            if self.problem.rules.focus_every_s is not None:
                focused = self.night.focused(ended, slot, of_flip=False)
                again = 1 if self._dithers else 0
                opens = later(focused, dither_s if self._dithers else 0)
                self._expose(found, again, gained, opens, task, window)
        return found

    def _expose(
        self, found: Counted, count: int, gained: int, opens: Timetable, task: Task, window: Span
    ) -> None:
        """One exposure begun at once; where ways are told apart, one way for each profit that it may have."""
        exposed = self.night.exposed(opens, task, window)
        if not self.tells_apart:
            found[count, 0] = latest(found.get((count, 0)), exposed)
            return
        ends = np.flatnonzero(exposed > NEVER)
        if not len(ends):
            return
        for low, high, profit in self._levels[task.index]:
            span = slice(max(low, ends[0]), min(high, ends[-1] + 1))
            if span.start >= span.stop or not possible(exposed[span]):
                continue
            ways = found.setdefault((count, gained + profit), np.full_like(exposed, NEVER))
            np.maximum(ways[span], exposed[span], out=ways[span])

    def _book(self, state: _In, slot: Slot, task: Task, frames: int, counted: Counted) -> None:
        """The run may end here."""
        given = list(state.given)
        given[task.index] += frames
        enough = self.least_units[slot.target.name]
        at = self.inside[sum(given)]
        for (_, gained), timetable in counted.items():
            gathered = list(state.gathered)
            if self.tells_apart:
                gathered[task.index] += gained
            entered = _In(
                slot=slot.index,
                used=state.used,
                had=state.had | {task.index},
                filter=task.goal.filter,
                given=tuple(given),
                open_units=min(enough, state.open_units + frames * self.open_units[task.index]),
                gathered=tuple(gathered),
            )
            at[entered] = latest(at.get(entered), timetable)


def _undominated(states: dict[State, Timetable]) -> Iterator[tuple[State, Timetable]]:
    """The states without the seconds at which one that differs in profit alone, by more, does as well."""
    alike: dict[State, list[State]] = {}
    for state in states:
        alike.setdefault(replace(state, gathered=()), []).append(state)
    for group in alike.values():
        group.sort(key=lambda state: sum(state.gathered), reverse=True)
        kept: list[tuple[State, Timetable]] = []
        for state in group:
            timetable = states[state]
            for other, better in kept:
                if all(more >= less for more, less in zip(other.gathered, state.gathered, strict=True)):
                    timetable = np.where(better >= timetable, NEVER, timetable)
            if possible(timetable):
                kept.append((state, timetable))
        yield from kept


def _open_units(problem: Problem, begin: Begin | None) -> tuple[list[int], dict[str, int], int]:
    """Open-shutter time of one exposure by task, and the least of a visit by target, in one exact unit.

    The last is that of the visit that is going on as the night begins.
    """
    exposures = [Fraction(repr(task.goal.exposure_s)) for task in problem.tasks]
    least = {slot.target.name: Fraction(repr(slot.target.least_min)) * 60 for slot in problem.slots}
    had = Fraction(repr(begin.open_s)) if begin else Fraction(0)
    units = math.lcm(*(value.denominator for value in (*exposures, *least.values(), had)))
    of_target = {name: int(value * units) for name, value in least.items()}
    return [int(value * units) for value in exposures], of_target, int(had * units)


def _visited(used: Used, slot: Slot) -> Used | None:
    """One more visit on the slot's target and side; None where it would be too many."""
    counts = {(target, side): visits for target, side, visits in used}
    key = (slot.target.name, slot.side)
    counts[key] = counts.get(key, 0) + 1
    if counts[key] > MOST_VISITS:
        return None
    return tuple(sorted((*pair, visits) for pair, visits in counts.items()))
