"""The greatest value of a small night, by going through every plan that the law allows (LAW.md).

Nothing here comes from `optimizer.packing`. States are explored in the order of the exposures made so far; each
has a timetable (see `pieces`) instead of a single time, so the search is complete to the second. What is
left out gains nothing: visits without exposures, dithers before they are due, focus runs inside a run where no
cadence asks for them. Steps last no longer than they must; a wait comes before the filter and the focus run, so
that the focus is fresh; a run keeps to one window.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from optimizer.models.request import Request
from optimizer.problem import Problem, Slot, Span
from optimizer.problem.tasks import Task
from optimizer.sky.windows import SkyWindows
from tests.support.oracle.pieces import DepthNight, Night, Timetable, later, latest, possible, waited

MOST_VISITS = 2
Given = tuple[int, ...]  # exposures so far by task
Used = tuple[tuple[str, str | None, int], ...]  # visits so far by target and side


@dataclass(frozen=True)
class _In:
    """In a visit, after its runs in `had`; `open_units` count up to the least that the visit needs."""

    slot: int
    used: Used
    had: frozenset[int]
    filter: str
    given: Given
    open_units: int


@dataclass(frozen=True)
class _Left:
    """Done with a visit (slot -1: still at home)."""

    slot: int
    used: Used
    filter: str
    given: Given


def greatest_profit(request: Request, problem: Problem, sky: SkyWindows) -> int:
    """The value of the best plan, in units of profit; `problem` is of this request and this sky."""
    if not problem.slots:
        return 0
    return _Search(request, problem, sky).run()


class _Search:
    def __init__(self, request: Request, problem: Problem, sky: SkyWindows) -> None:
        self.request, self.problem = request, problem
        self.night: Night = (DepthNight if problem.by_time else Night).of(request, problem, sky)
        self.open_units, self.least_units = _open_units(problem)
        self.places = [slot for slot in problem.slots if slot.copy == 0]
        self.wanted = sum(task.frames_left for task in problem.tasks)
        self.inside: list[dict[_In, Timetable]] = [{} for _ in range(self.wanted + 1)]
        self.left: list[dict[_Left, Timetable]] = [{} for _ in range(self.wanted + 1)]

    def run(self) -> int:
        """All states, those with fewer exposures first."""
        best = 0
        self.left[0][_Left(-1, (), "", (0,) * len(self.problem.tasks))] = self.night.home()
        for made in range(self.wanted + 1):
            for state, timetable in self.inside[made].items():
                self._go_on(state, timetable)
            for left, timetable in self.left[made].items():
                best = max(best, self._profit(left, timetable))
                self._go_elsewhere(left, timetable)
            self.inside[made].clear()
            self.left[made].clear()
        return best

    def _profit(self, left: _Left, timetable: Timetable) -> int:
        """Of the best way into this state."""
        if self.problem.by_time:
            return int(timetable.max())
        return sum(task.profit * frames for task, frames in zip(self.problem.tasks, left.given, strict=True))

    def _go_on(self, state: _In, timetable: Timetable) -> None:
        """Another run in the same visit, or the end of the visit."""
        slot = self.problem.slots[state.slot]
        if state.open_units >= self.least_units[slot.target.name]:
            left = _Left(state.slot, state.used, state.filter, state.given)
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
        before = None if state.slot < 0 else self.problem.slots[state.slot]
        for after in self.places:
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
                must_focus = must_focus or (changes and focus.on_filter_change)
                entered = _In(after.index, used, frozenset(), "", state.given, 0)
                self._run(entered, ready, after, task, changes=changes, must_focus=must_focus, of_flip=flips)

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
        # by exposures since the latest dither or focus run inside the run (0 throughout where none is wanted)
        counted = {1 if self._dithers else 0: self.night.exposed(opens, task, window)}
        for frames in range(1, task.frames_left - state.given[task.index] + 1):
            counted = {count: each for count, each in counted.items() if possible(each)}
            if not counted:
                return
            self._book(state, slot, task, frames, counted)
            counted = self._next_exposure(counted, slot, task, window)

    @property
    def _dithers(self) -> int:
        return self.problem.rules.dither_every

    def _next_exposure(
        self, counted: dict[int, Timetable], slot: Slot, task: Task, window: Span
    ) -> dict[int, Timetable]:
        dither_s, found = self.problem.rules.dither_s, dict[int, Timetable]()
        for count, ended in counted.items():
            due = count == self._dithers and count > 0
            following = 0 if not self._dithers else 1 if due else count + 1
            exposed = self.night.exposed(later(ended, dither_s if due else 0), task, window)
            found[following] = latest(found.get(following), exposed)
            if self.problem.rules.focus_every_s is not None:
                focused = self.night.focused(ended, slot, of_flip=False)
                exposed = self.night.exposed(later(focused, dither_s if self._dithers else 0), task, window)
                again = 1 if self._dithers else 0
                found[again] = latest(found.get(again), exposed)
        return found

    def _book(self, state: _In, slot: Slot, task: Task, frames: int, counted: dict[int, Timetable]) -> None:
        """The run may end here."""
        given = list(state.given)
        given[task.index] += frames
        enough = self.least_units[slot.target.name]
        entered = _In(
            slot=slot.index,
            used=state.used,
            had=state.had | {task.index},
            filter=task.goal.filter,
            given=tuple(given),
            open_units=min(enough, state.open_units + frames * self.open_units[task.index]),
        )
        at = self.inside[sum(given)]
        for timetable in counted.values():
            at[entered] = latest(at.get(entered), timetable)


def _open_units(problem: Problem) -> tuple[list[int], dict[str, int]]:
    """Open-shutter time of one exposure by task, and the least of a visit by target, in one exact unit."""
    exposures = [Fraction(repr(task.goal.exposure_s)) for task in problem.tasks]
    least = {slot.target.name: Fraction(repr(slot.target.least_min)) * 60 for slot in problem.slots}
    units = math.lcm(*(value.denominator for value in (*exposures, *least.values())))
    return [int(value * units) for value in exposures], {
        name: int(value * units) for name, value in least.items()
    }


def _visited(used: Used, slot: Slot) -> Used | None:
    """One more visit on the slot's target and side; None where it would be too many."""
    counts = {(target, side): visits for target, side, visits in used}
    key = (slot.target.name, slot.side)
    counts[key] = counts.get(key, 0) + 1
    if counts[key] > MOST_VISITS:
        return None
    return tuple(sorted((*pair, visits) for pair, visits in counts.items()))
