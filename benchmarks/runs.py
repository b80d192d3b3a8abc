"""Runs put one after the other into darkfill's own schedule: the ground of hand rules and rivals' repair."""

from __future__ import annotations

import copy
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from optimizer.packing.plan import Plan, Run, Visit
from optimizer.packing.schedule import DoesNotFit, NightSoFar, ScheduledVisit, scheduled
from optimizer.packing.search.construct import must_focus
from optimizer.problem import VISITS_PER_SIDE, Problem, Slot, Span
from optimizer.problem.transitions import may_follow

Wanted = tuple[int, int, int]  # slot (any of its copies), task, frames


@dataclass(frozen=True)
class Offer:
    """A visit, begun or carried on, whose last run has as many frames as fit."""

    runs: tuple[Run, ...]
    visit: ScheduledVisit
    after: NightSoFar


@dataclass
class GrowingPlan:
    """A night that grows run by run: closed visits, and one that is still open."""

    problem: Problem
    left: list[int]  # frames by task
    closed: list[Visit] = field(default_factory=list)
    before: NightSoFar = field(init=False)  # the night before the open visit
    now: NightSoFar = field(init=False)  # and after it
    slot: Slot | None = None  # of the open visit
    runs: tuple[Run, ...] = ()
    sides: Counter[tuple[str, str | None]] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        """Begin with an empty night."""
        self.before = self.now = NightSoFar.at_start(self.problem)

    @property
    def plan(self) -> Plan:
        """All visits so far."""
        return Plan((*self.closed, Visit(self.slot.index, self.runs)) if self.slot else tuple(self.closed))

    def slots_next(self) -> list[Slot]:
        """Slots that may follow the open visit: each window once, and no more visits than are allowed."""
        used = {visit.slot for visit in self.plan}
        return [
            slot
            for slot in self.problem.slots
            if slot.index not in used
            and not (slot.copy and slot.index - slot.copy not in used)
            and self.sides[slot.target.name, slot.side] < VISITS_PER_SIDE
            and (self.slot is None or may_follow(self.problem, self.slot, slot))
        ]

    def offer(self, slot: Slot, task: int, most: int) -> Offer | None:
        """At most so many frames of a task next, in the open visit (its own slot) or in a new one."""
        runs, before = self.runs, self.before
        if self.slot is None or slot.index != self.slot.index:
            runs, before = (), self.now
        if any(run.task == task for run in runs):
            return self._longer(slot, task, most)
        for span in slot.shutter.get(task, ()):
            found = _new_run(self.problem, before, slot, runs, (task, span), min(most, self.left[task]))
            if found is not None:
                return found
        return None

    def _longer(self, slot: Slot, task: int, more: int) -> Offer | None:
        """The open visit's last run with more frames; a goal has but one run in a visit."""
        last = self.runs[-1]
        if last.task != task:
            return None
        most = last.frames + min(more, self.left[task])
        found = _new_run(self.problem, self.before, slot, self.runs[:-1], (task, last.span), most)
        return found if found is not None and found.runs[-1].frames > last.frames else None

    def take(self, slot: Slot, offer: Offer) -> None:
        """Accept an offer."""
        if self.slot is None or slot.index != self.slot.index:
            if self.slot is not None:
                self.closed.append(Visit(self.slot.index, self.runs))
            self.before, self.slot, self.runs = self.now, slot, ()
            self.sides[slot.target.name, slot.side] += 1
        task = offer.runs[-1].task
        already = sum(run.frames for run in self.runs if run.task == task)
        self.left[task] -= offer.runs[-1].frames - already
        self.runs, self.now = offer.runs, offer.after


def _new_run(
    problem: Problem,
    before: NightSoFar,
    slot: Slot,
    runs: tuple[Run, ...],
    task_and_span: tuple[int, Span],
    most: int,
) -> Offer | None:
    """The longest run that fits next, without a focus run before it where the last one still serves."""
    index, span = task_and_span
    task = problem.tasks[index]
    for focus_first in (False, True):
        if not focus_first and must_focus(problem, before, slot, runs, task.goal.filter):
            continue
        one = _laid(before, slot, (*runs, Run(index, (1,), span, focus_first)))
        if one is None or most < 1:
            continue
        opens = one.visit.acts[-1].start
        first_most = problem.run_lengths.first_segment_most(task)
        if not focus_first and problem.rules.focus_every_s is not None and one.after.focused is not None:
            left_s = problem.rules.focus_every_s - opens + one.after.focused
            first_most = min(first_most, problem.run_lengths.most_frames(task, left_s))
        low, high, best = 1, min(most, (span[1] - opens) // task.frame_s + 1), one
        while low < high:
            middle = (low + high + 1) // 2
            segments = problem.run_lengths.cut_into_segments(task, middle, first_most)
            longer = None
            if sum(segments) == middle and opens + problem.run_lengths.run_s(task, segments) <= span[1]:
                longer = _laid(before, slot, (*runs, Run(index, segments, span, focus_first)))
            if longer is None:
                high = middle - 1
            else:
                low, best = middle, longer
        return best
    return None


def _laid(before: NightSoFar, slot: Slot, runs: tuple[Run, ...]) -> Offer | None:
    after = copy.copy(before)
    try:
        return Offer(runs, after.lay(Visit(slot.index, runs)), after)
    except DoesNotFit:
        return None


def repaired(problem: Problem, wanted: Iterable[Wanted]) -> Plan:
    """A plan that keeps every rule, along runs that a coarser model wants in this order.

    What does not fit is cut; then every run is made as long as the plan around it allows.
    """
    plan = GrowingPlan(problem, [task.frames_left for task in problem.tasks])
    for index, task, frames in wanted:
        twin = problem.slots[index].twin
        if plan.slot is not None and plan.slot.twin == twin:
            offer = plan.offer(plan.slot, task, frames)
            if offer is not None:
                plan.take(plan.slot, offer)
            continue
        slot = next((slot for slot in plan.slots_next() if slot.twin == twin), None)
        offer = None if slot is None else plan.offer(slot, task, frames)
        if slot is not None and offer is not None:
            plan.take(slot, offer)
    return filled_up(problem, plan.plan, plan.left)


def filled_up(problem: Problem, plan: Plan, left: list[int]) -> Plan:
    """The same runs, each with as many more frames as fit without moving the others out of their windows."""
    places = [(v, r) for v, visit in enumerate(plan) for r in range(len(visit.runs))]
    places.sort(key=lambda at: -_rate(problem, plan.visits[at[0]].runs[at[1]]))
    for at in places:
        run = plan.visits[at[0]].runs[at[1]]
        low, high = 0, left[run.task]
        while low < high:
            middle = (low + high + 1) // 2
            longer = _lengthened(problem, plan, at, run.frames + middle)
            if longer is None:
                high = middle - 1
            else:
                low, plan = middle, longer
        left[run.task] -= low
    return plan


def _rate(problem: Problem, run: Run) -> float:
    return problem.tasks[run.task].profit / problem.tasks[run.task].frame_s


def _lengthened(problem: Problem, plan: Plan, at: tuple[int, int], frames: int) -> Plan | None:
    """The plan with one run of so many frames, or None where it does not fit."""
    visit, position = plan.visits[at[0]], at[1]
    run, task = visit.runs[position], problem.tasks[visit.runs[position].task]
    most = problem.run_lengths.first_segment_most(task) if run.focus_first else run.segments[0]
    if not run.focus_first and len(run.segments) == 1 and problem.rules.focus_every_s is None:
        most = frames
    segments = problem.run_lengths.cut_into_segments(task, frames, most)
    if sum(segments) != frames:
        return None
    runs = list(visit.runs)
    runs[position] = replace(run, segments=segments)
    longer = plan.with_visit(at[0], Visit(visit.slot, tuple(runs)))
    try:
        scheduled(problem, longer)
    except DoesNotFit:
        return None
    return longer
