"""A first plan in one pass: always go where the next visit pays most for its time; or along a draft."""

from __future__ import annotations

import copy
import math
from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from optimizer.packing.plan import Plan, Run, Visit
from optimizer.packing.schedule import DoesNotFit, NightSoFar, ScheduledVisit
from optimizer.packing.search.promises import promises_of
from optimizer.problem import VISITS_PER_SIDE, Problem, Slot, Span
from optimizer.problem.tasks import Task
from optimizer.problem.transitions import may_begin, may_follow

LEVEL_STEPS = 12  # of halving what lies between two levels


def constructed(problem: Problem, *, heaviest_first: bool = False) -> Plan:
    """A plan that keeps every rule, made in one pass; it may be empty.

    With `heaviest_first` the weight of a target comes before what a visit of it pays for its time.
    """
    plan = _GrowingPlan.empty(problem)
    plan.fill(heaviest_first=heaviest_first)
    return Plan(tuple(plan.visits))


def following(problem: Problem, draft: Plan, *, fill: bool = True) -> Plan:
    """A plan that keeps every rule, along a draft, with as many of its frames as fit.

    Where caps leave time over in a visit, other goals of its target fill it; with `fill` what is left of the
    night is filled as in `constructed`.
    """
    plan = _GrowingPlan.empty(problem)
    for draft_visit in draft:
        index = draft_visit.slot
        copies = sum(visit.slot in (index, index + 1) for visit in plan.visits)
        if copies < VISITS_PER_SIDE and plan.may_visit(problem.slots[index + copies]):
            plan.append_along(draft_visit, problem.slots[index + copies])
    if fill:
        plan.fill()
    return Plan(tuple(plan.visits))


@dataclass
class _GrowingPlan:
    """A plan that grows visit by visit and keeps every rule."""

    problem: Problem
    night: NightSoFar
    left: list[int]  # frames by task
    gathered: list[int]  # profit by task
    visits: list[Visit] = field(default_factory=list)
    used: set[int] = field(default_factory=set)  # slots
    on_side: Counter[tuple[str, str | None]] = field(default_factory=Counter)

    @classmethod
    def empty(cls, problem: Problem) -> _GrowingPlan:
        left = [task.frames_left for task in problem.tasks]
        return cls(problem, NightSoFar.at_start(problem), left, [0] * len(left))

    def may_visit(self, slot: Slot) -> bool:
        """Whether the rules of order leave the slot open as the next one."""
        if slot.index in self.used or (slot.copy and slot.index - slot.copy not in self.used):
            return False
        if self.on_side[(slot.target.name, slot.side)] == VISITS_PER_SIDE:
            return False
        if not self.visits or self.night.slot is None:
            return may_begin(self.problem, slot)
        return may_follow(self.problem, self.night.slot, slot)

    def fill(self, *, heaviest_first: bool = False) -> None:
        """Go where the next visit pays most for its time, until nothing fits."""
        if not self.problem.slots:
            return
        promises = promises_of(self.problem)
        while True:
            former = self.visits[-1].slot if self.visits else None
            best: tuple[tuple[float, float], int, Visit] | None = None
            for promised, index in promises.ranked(
                former, self.night.free, self.left, heaviest_first=heaviest_first
            ):
                if best is not None and promised < best[0]:
                    break
                slot = self.problem.slots[index]
                offer = self.fullest(slot) if self.may_visit(slot) else None
                if offer is not None:
                    rank = slot.target.weight if heaviest_first else 0.0, offer[0]
                    if best is None or (rank, -index) > (best[0], -best[1]):
                        best = rank, index, offer[1]
            if best is None:
                return
            self.append(best[2])

    def fullest(self, slot: Slot) -> tuple[float, Visit] | None:
        """The fullest visit of a slot from here on, with its profit for each second that it takes.

        Where its target has a filter set to balance, that may be one that brings its goals to one level.
        """
        most = [self.left]
        if any(self.problem.worth.most_share(task) > 1 for task in slot.shutter):
            most.append(self._level(slot))
        offers = [self._visit(slot, each) for each in most]
        return max((offer for offer in offers if offer), key=lambda offer: offer[0], default=None)

    def _visit(self, slot: Slot, most: Sequence[int]) -> tuple[float, Visit] | None:
        """A visit of at most so many frames by task, as full as may be, with its profit for each second."""
        growing = _GrowingVisit(self.problem, self.night, slot)
        for task in sorted(
            slot.shutter, key=lambda task: (slot.shutter[task][-1][1], slot.shutter[task][0][0])
        ):
            growing.add(task, most[task])
        if growing.laid is None or not growing.is_long_enough:
            return None
        profit = self._gain(growing.laid)
        # waiting counts as time too, from the first second at which anything could be done
        first_s = min(other.work[0] for other in self.problem.slots)
        began = self.night.free if self.visits else first_s
        return profit / (growing.laid.free - began), growing.visit

    def _gain(self, laid: ScheduledVisit) -> float:
        """What a visit is worth beside all that is gathered so far."""
        profits = Counter[int]()
        for task, opens in laid.exposures:
            profits[task] += self.problem.tasks[task].frame_profit(opens)
        return float(self.problem.worth.gain(self.gathered, profits))

    def _level(self, slot: Slot) -> list[int]:
        """Frames by task with which all goals of a slot reach the same share, as far as its time goes."""
        tasks = [self.problem.tasks[index] for index in slot.shutter]
        room_s = max(spans[-1][1] for spans in slot.shutter.values()) - max(slot.work[0], self.night.free)

        def most(share: float) -> list[int]:
            wanted = [math.ceil(share * task.goal.frames) for task in tasks]
            have = [task.goal.frames - self.left[task.index] for task in tasks]
            return [max(0, each - had) for each, had in zip(wanted, have, strict=True)]

        low, high = 0.0, 1.0
        for _ in range(LEVEL_STEPS):
            middle = (low + high) / 2
            seconds = sum(task.frame_s * each for task, each in zip(tasks, most(middle), strict=True))
            low, high = (middle, high) if seconds <= room_s else (low, middle)
        level = [0] * len(self.left)
        for task, each in zip(tasks, most(high), strict=True):
            level[task.index] = min(each, self.left[task.index])
        return level

    def append_along(self, draft: Visit, slot: Slot) -> None:
        """Append what fits of a draft's visit, and other goals of its target in the time left over."""
        wanted: Counter[int] = Counter()
        begins: dict[int, int] = {}
        for run in draft.runs:
            wanted[run.task] += run.frames
            begins.setdefault(run.task, run.not_before if self.problem.by_time else 0)
        growing = _GrowingVisit(self.problem, self.night, slot)
        for task, frames in wanted.items():
            growing.add(task, min(self.left[task], frames), begins[task])
        if growing.is_long_enough:
            growing.add_others(self.left, self.gathered, self._end_of(draft.runs[-1]))
            self.append(growing.visit)

    def append(self, visit: Visit) -> None:
        """Go on from the end of a visit that fits."""
        laid = self.night.lay(visit)
        for task, opens in laid.exposures:
            self.gathered[task] += self.problem.tasks[task].frame_profit(opens)
        self.visits.append(visit)
        self.used.add(visit.slot)
        slot = self.problem.slots[visit.slot]
        self.on_side[(slot.target.name, slot.side)] += 1
        for run in visit.runs:
            self.left[run.task] -= run.frames

    def _end_of(self, run: Run) -> int:
        """About when a run of a draft ends, its last tail included."""
        task, lengths = self.problem.tasks[run.task], self.problem.run_lengths
        segments = lengths.cut_into_segments(task, run.frames, lengths.first_segment_most(task))
        return run.not_before + lengths.run_s(task, segments) + task.tail_s


@dataclass
class _GrowingVisit:
    """A visit that grows run by run from where the night stands, and keeps every rule but the least visit."""

    problem: Problem
    night: NightSoFar
    slot: Slot
    runs: tuple[Run, ...] = ()
    laid: ScheduledVisit | None = None

    @property
    def visit(self) -> Visit:
        return Visit(self.slot.index, self.runs)

    @property
    def is_long_enough(self) -> bool:
        open_s = sum(run.frames * self.problem.tasks[run.task].goal.exposure_s for run in self.runs)
        if self.problem.stays(self.night.slot, self.slot):
            open_s += self.problem.start.open_s
        return bool(self.runs) and open_s >= self.slot.target.least_min * 60

    def add(self, task_index: int, most: int, not_before: int = 0) -> None:
        """Add a run of at most so many frames in the first window that takes any; none where none does."""
        task, rules = self.problem.tasks[task_index], self.problem.rules
        if most <= 0:
            return
        must = must_focus(self.problem, self.night, self.slot, self.runs, task.goal.filter)
        choices = (True,) if must else (False,) if rules.focus_every_s is None else (False, True)
        for span in self.slot.shutter[task_index]:
            for focus_first in choices:
                if self._add_in(span, task, most, focus_first, not_before):
                    return

    def add_others(self, left: Sequence[int], gathered: Sequence[int], until: int) -> None:
        """Add runs of the target's other goals, the best paid first, that end by about an instant.

        `gathered` is the profit by task of all visits before.
        """
        tasks, worth = self.problem.tasks, self.problem.worth
        others = set(self.slot.shutter) - {run.task for run in self.runs}

        def rank(index: int) -> tuple[float, int]:
            return -float(worth.gain(gathered, {index: tasks[index].profit})) / tasks[index].frame_s, index

        for index in sorted(others, key=rank):
            before, frame_s = (self.runs, self.laid), tasks[index].frame_s
            free = self.laid.free if self.laid is not None else 0
            self.add(index, min(left[index], max(0, until - free) // frame_s))
            if self.laid is not None and self.laid.free > until + frame_s:
                self.runs, self.laid = before

    def _add_in(self, span: Span, task: Task, most: int, focus_first: bool, not_before: int) -> bool:
        """Add a run in a window, of as many frames as fit; whether any does."""
        lengths, every_s = self.problem.run_lengths, self.problem.rules.focus_every_s
        first_most, after = lengths.first_segment_most(task), copy.copy(self.night)

        def segments(frames: int) -> tuple[int, ...]:
            return lengths.cut_into_segments(task, frames, first_most)

        one = Run(task.index, (1,), span, focus_first, not_before)
        try:
            laid = after.lay(Visit(self.slot.index, (*self.runs, one)))
        except DoesNotFit:
            return False
        opens = laid.acts[-1].start
        if not focus_first and every_s is not None and after.focused is not None:
            served = lengths.most_frames(task, every_s - (opens - after.focused))
            first_most = max(1, min(first_most, served))
        room_s = span[1] - opens
        possible = range(1, 1 + min(most, room_s // task.frame_s + 1))
        fitting = bisect_right(possible, room_s, key=lambda frames: lengths.run_s(task, segments(frames)))
        for frames in range(fitting, 0, -1):
            runs = (*self.runs, replace(one, segments=segments(frames)))
            try:
                self.laid = copy.copy(self.night).lay(Visit(self.slot.index, runs))
            except DoesNotFit:
                continue
            self.runs = runs
            return True
        return False


def must_focus(
    problem: Problem, night: NightSoFar, slot: Slot, runs: Sequence[Run], filter_name: str
) -> bool:
    """Whether a focus run must come before the next run of a visit with these runs, the cadence apart."""
    if not runs and problem.start.focus_due and night.is_at_start:
        return True
    if runs or problem.stays(night.slot, slot):
        former = problem.tasks[runs[-1].task].goal.filter if runs else night.filter
        return former != filter_name and problem.rules.focus_on_filter_change
    flipping = problem.flips_between(night.slot, slot)
    return problem.focuses_on_arrival(flipping, not flipping or night.filter != filter_name)
