"""A plan in time: every act as early as the rules allow, arrivals by slew as late as they can be.

This is the one place where a plan gets its seconds; the constructed plan, the searches, the constraint
model's answer and the timeline all go through it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from optimizer.packing.plan import Plan, Run, Visit
from optimizer.problem import Problem, Slot
from optimizer.problem.tasks import Task

# A change that takes no time is one all the same: left out, it would not be made.
NEVER_LEFT_OUT = ("filter", "dither")
ActKind = Literal["slew", "centre", "settle", "filter", "focus", "expose", "dither", "flip", "rotate", "wait"]


@dataclass(frozen=True)
class Act:
    """One act of a visit, from `start` to `end` in seconds after the night's origin; `task` where it has one.

    For the sky's and the zone's sake the act must have ended at `ends_by`; of an exposure only its shutter
    must.
    """

    kind: ActKind
    start: int
    end: int
    ends_by: int
    task: int | None = None


@dataclass(frozen=True)
class ScheduledVisit:
    """A visit in time: from the start of its slew or flip to the end of its last tail.

    One that goes on with what is tracked as the plan begins has neither, and starts with the plan.
    """

    slot: Slot
    acts: tuple[Act, ...]

    @property
    def depart(self) -> int:
        """When the slew or flip begins, or the plan where the visit goes on."""
        return self.acts[0].start

    @property
    def free(self) -> int:
        """When the mount may leave."""
        return self.acts[-1].end

    @property
    def exposures(self) -> list[tuple[int, int]]:
        """Task and first second of each exposure, in order."""
        return [(act.task, act.start) for act in self.acts if act.kind == "expose" and act.task is not None]


@dataclass(frozen=True)
class Schedule:
    """The visits of a plan in time, in their order."""

    visits: tuple[ScheduledVisit, ...] = ()

    def __iter__(self) -> Iterator[ScheduledVisit]:
        """Go through the visits in their order."""
        return iter(self.visits)

    def __len__(self) -> int:
        """Count the visits."""
        return len(self.visits)


class DoesNotFit(Exception):  # noqa: N818 - a finding, not an error
    """Raised where a plan breaks a window, the cadence or the quiet time."""


@dataclass
class NightSoFar:
    """Where the night stands after the visits scheduled so far."""

    problem: Problem
    slot: Slot | None  # None: at home
    left: int  # when the mount stopped tracking there
    free: int
    filter: str | None
    focused: int | None  # end of the latest focus run

    @classmethod
    def at_start(cls, problem: Problem) -> NightSoFar:
        """Before the first visit."""
        start = problem.start
        return cls(problem, start.slot, start.left_s, start.at_s, start.filter, start.focused_s)

    @property
    def is_at_start(self) -> bool:
        """Whether no visit is scheduled yet."""
        return self.slot is self.problem.start.slot

    def lay(self, visit: Visit) -> ScheduledVisit:
        """Schedule one more visit and move on. Raises DoesNotFit, and is then of no further use."""
        return _schedule_visit(self, visit)


def profit_of(problem: Problem, plan: Plan) -> int:
    """Add up the profit of a plan, in units of profit.

    Raises DoesNotFit where a frame's profit depends on its time and the plan breaks a rule.
    """
    if problem.by_time:
        return profit_of_visits(problem, scheduled(problem, plan))
    gathered = [0] * len(problem.tasks)
    for visit in plan:
        for run in visit.runs:
            gathered[run.task] += problem.tasks[run.task].profit * run.frames
    return problem.worth.profit(gathered)


def profit_of_visits(problem: Problem, visits: Iterable[ScheduledVisit]) -> int:
    """Profit of all exposures at their times, in units of profit, as if nothing else were shot tonight."""
    return problem.worth.profit(gathered_by(problem, visits))


def gathered_by(problem: Problem, visits: Iterable[ScheduledVisit]) -> list[int]:
    """Add up the profit of all exposures at their times by task, [tasks], in units of profit."""
    gathered = [0] * len(problem.tasks)
    for visit in visits:
        for task, opens in visit.exposures:
            gathered[task] += problem.tasks[task].frame_profit(opens)
    return gathered


def scheduled(problem: Problem, plan: Plan) -> Schedule:
    """Put all visits of a plan in time: runs as early as possible, or else no earlier than the plan says.

    Where a frame's profit depends on its time, no earlier than the plan says at once. Raises DoesNotFit where
    a rule would break either way.
    """
    if problem.by_time:
        return _scheduled(problem, plan)
    try:
        return _scheduled(problem, plan.as_early_as_possible())
    except DoesNotFit:
        return _scheduled(problem, plan)


def _scheduled(problem: Problem, plan: Plan) -> Schedule:
    night = NightSoFar.at_start(problem)
    return Schedule(tuple(night.lay(visit) for visit in plan))


def _schedule_visit(state: NightSoFar, visit: Visit) -> ScheduledVisit:
    problem, slot = state.problem, state.problem.slots[visit.slot]
    flipping, staying = problem.flips_between(state.slot, slot), problem.stays(state.slot, slot)
    first = visit.runs[0]
    if visit.not_before > first.not_before:
        first = replace(first, not_before=visit.not_before)
    task = problem.tasks[first.task]
    filter_changes = not (flipping or staying) or task.goal.filter != state.filter
    prepare_s = (task.change_s if filter_changes else 0) + (problem.rules.focus_s if first.focus_first else 0)
    if staying:
        depart = arrive = state.free
        acquire_s = problem.start.lead_s(problem.rules)
    else:
        depart, arrive = _earliest_arrival(state, slot)
        acquire_s = problem.acquisition_s(state.slot, slot)
    opens = _after_quiet_focus(problem, slot, first, flipping, arrive + acquire_s + prepare_s)
    opens = max(opens, first.span[0], first.not_before)
    if not (flipping or staying):  # a flip is not put off: until it is done, contact comes nearer
        depart, arrive = _latest_arrival(state, slot, depart, arrive, opens - prepare_s - acquire_s)
    acts = _Acts(arrive, slot.work[1])
    if not staying:
        acts.list.append(Act("flip" if flipping else "slew", depart, arrive, slot.work[1]))
        acts.add("centre", problem.rules.centre_s)
        acts.add("settle", problem.rules.settle_s)
        if problem.rotates_between(state.slot, slot):
            acts.add("rotate", problem.rules.rotate_s)
    elif problem.start.dithers_first(problem.rules):
        acts.add("dither", acquire_s)
    acts.wait_until(opens - prepare_s)
    for position, run in enumerate(visit.runs):
        task = problem.tasks[run.task]
        if position:
            filter_changes = task.goal.filter != state.filter
            prepare_s = (task.change_s if filter_changes else 0) + (
                problem.rules.focus_s if run.focus_first else 0
            )
            opens = _after_quiet_focus(problem, slot, run, False, acts.now + prepare_s)
            acts.wait_until(max(opens, run.span[0], run.not_before) - prepare_s)
        if filter_changes:
            acts.add("filter", task.change_s, run.task)
        if run.focus_first:
            acts.add("focus", problem.rules.focus_s, run.task)
            state.focused = acts.now
        state.filter = task.goal.filter
        _schedule_run(state, slot, run, task, acts)
    state.slot, state.left, state.free = slot, acts.now, acts.now
    return ScheduledVisit(slot, tuple(acts.list))


def first_arrival(problem: Problem, slot: Slot) -> int:
    """When the telescope can have come from its parked place to a slot. Raises DoesNotFit."""
    return _earliest_arrival(NightSoFar.at_start(problem), slot)[1]


def _earliest_arrival(state: NightSoFar, slot: Slot) -> tuple[int, int]:
    """Depart and arrive as early as motion span, work span and quiet time allow; in that order."""
    problem = state.problem
    depart = max(state.free, slot.motion[0])

    def arrival(depart: int) -> int:
        return depart + problem.slew_seconds(state.slot, state.left, slot, depart)

    arrive = arrival(depart)
    if arrive < slot.work[0]:
        depart, arrive = _leaving_for(state, slot, depart, slot.work[0])
    if slot.quiet and not problem.flips_between(state.slot, slot):
        quiet_from, quiet_to = slot.quiet
        if depart < quiet_to and arrive > quiet_from:
            depart, arrive = quiet_to, arrival(quiet_to)
    if arrive > slot.work[1]:
        raise DoesNotFit("arrives after the target's last second")
    return depart, arrive


def _leaving_for(state: NightSoFar, slot: Slot, earliest: int, arrive: int) -> tuple[int, int]:
    """Leave as late as possible to be there at `arrive`; a second of slack stretches the slew."""
    problem = state.problem
    depart = arrive
    for _ in range(4):
        depart = arrive - problem.slew_seconds(state.slot, state.left, slot, depart)
    while depart > earliest and depart + problem.slew_seconds(state.slot, state.left, slot, depart) > arrive:
        depart -= 1
    return max(depart, earliest), arrive


def _latest_arrival(state: NightSoFar, slot: Slot, depart: int, arrive: int, wanted: int) -> tuple[int, int]:
    """Move an arrival by slew later, so that the wait comes before it and the focus is fresh."""
    if wanted <= arrive:
        return depart, arrive
    later = _leaving_for(state, slot, depart, wanted)
    if slot.quiet:
        quiet_from, quiet_to = slot.quiet
        if later[0] < quiet_to and later[1] > quiet_from:
            if arrive > quiet_from:
                return depart, arrive
            return _leaving_for(state, slot, depart, quiet_from)
    return later


def _after_quiet_focus(problem: Problem, slot: Slot, run: Run, flipping: bool, opens: int) -> int:
    """Where the focus run slews away, it must not begin a run inside the quiet time (a flip's own may)."""
    if not (problem.rules.focus_leaves_target and slot.quiet and run.focus_first) or flipping:
        return opens
    quiet_from, quiet_to = slot.quiet
    begins = max(opens, run.span[0], run.not_before) - problem.rules.focus_s
    if begins < quiet_to and begins + problem.rules.focus_s > quiet_from:
        return quiet_to + problem.rules.focus_s
    return opens


class _Acts:
    """The acts of one visit, end to end."""

    def __init__(self, now: int, work_ends: int) -> None:
        self.now = now
        self.work_ends = work_ends
        self.list: list[Act] = []

    def add(self, kind: ActKind, seconds: int, task: int | None = None, ends_by: int | None = None) -> None:
        """Append an act; one without length only if something must be told to do it all the same."""
        if seconds > 0 or kind in NEVER_LEFT_OUT:
            last = self.work_ends if ends_by is None else ends_by
            self.list.append(Act(kind, self.now, self.now + seconds, last, task))
            self.now += seconds

    def wait_until(self, instant: int) -> None:
        self.add("wait", instant - self.now)


def _schedule_run(state: NightSoFar, slot: Slot, run: Run, task: Task, acts: _Acts) -> None:
    problem = state.problem
    every = problem.rules.dither_every
    for number, frames in enumerate(run.segments):
        if number:
            if problem.rules.focus_leaves_target and slot.quiet:
                quiet_from, quiet_to = slot.quiet
                if acts.now < quiet_to and acts.now + problem.rules.focus_s > quiet_from:
                    raise DoesNotFit("a focus run would leave the target in the quiet time")
            acts.add("focus", problem.rules.focus_s, run.task)
            state.focused = acts.now
            if every:
                acts.add("dither", problem.run_lengths.dither_after_focus_s, run.task)
        closes = acts.now + problem.run_lengths.segment_s(task, frames)
        if closes > run.span[1]:
            raise DoesNotFit("a shutter would close after its window")
        if problem.rules.focus_every_s is not None and (
            state.focused is None or closes - state.focused > problem.rules.focus_every_s
        ):
            raise DoesNotFit("a focus run is overdue")
        for frame in range(frames):
            if frame and every and frame % every == 0:
                acts.add("dither", problem.rules.dither_s, run.task)
            acts.add("expose", task.frame_s, run.task, run.span[1])
