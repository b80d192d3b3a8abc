"""A constructive first plan: always go where the next visit pays most for its time."""

from __future__ import annotations

import copy
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from optimizer.packing.plan import Plan, Run, Visit
from optimizer.packing.schedule import DoesNotFit, NightSoFar, ScheduledVisit, profit_of, profit_of_visits
from optimizer.packing.search.promises import promises_of
from optimizer.problem import VISITS_PER_SIDE, Problem, Slot, Span
from optimizer.problem.tasks import Task
from optimizer.problem.transitions import may_follow


@dataclass
class _Growing:
    """A plan that grows visit by visit and keeps every rule."""

    problem: Problem
    night: NightSoFar
    left: list[int]  # frames by task
    visits: list[Visit] = field(default_factory=list)
    used: set[int] = field(default_factory=set)  # slots
    on_side: Counter[tuple[str, str | None]] = field(default_factory=Counter)

    @classmethod
    def empty(cls, problem: Problem) -> _Growing:
        return cls(problem, NightSoFar(problem), [task.frames_left for task in problem.tasks])

    def may_visit(self, slot: Slot) -> bool:
        """Whether the rules of order leave the slot open as the next one."""
        used = self.used
        if slot.index in used or (slot.copy and slot.index - slot.copy not in used):
            return False
        if self.on_side[(slot.target.name, slot.side)] == VISITS_PER_SIDE:
            return False
        return self.night.slot is None or may_follow(self.problem, self.night.slot, slot)

    def append(self, visit: Visit) -> None:
        self.night.lay(visit)
        self.visits.append(visit)
        self.used.add(visit.slot)
        slot = self.problem.slots[visit.slot]
        self.on_side[(slot.target.name, slot.side)] += 1
        for run in visit.runs:
            self.left[run.task] -= run.frames

    def fill(self, *, heaviest_first: bool = False) -> None:
        """Go where the next visit pays most for its time, until nothing fits.

        With `heaviest_first` the weight of the target comes before that.
        """
        if not self.problem.slots:
            return
        promises = promises_of(self.problem)
        while True:
            night, former = self.night, None if self.night.slot is None else self.night.slot.index
            best: tuple[tuple[float, float], int, Visit] | None = None
            for promised, index in promises.ranked(
                former, night.free, self.left, heaviest_first=heaviest_first
            ):
                if best is not None and promised < best[0]:
                    break
                slot = self.problem.slots[index]
                offer = _offer(self.problem, night, slot, self.left) if self.may_visit(slot) else None
                if offer is not None:
                    rank = slot.target.weight if heaviest_first else 0.0, offer[0]
                    if best is None or (rank, -index) > (best[0], -best[1]):
                        best = rank, index, offer[1]
            if best is None:
                return
            self.append(best[2])


def constructed(problem: Problem, *, heaviest_first: bool = False) -> Plan:
    """A plan that keeps every rule, made in one pass; may be empty."""
    plan = _Growing.empty(problem)
    plan.fill(heaviest_first=heaviest_first)
    return Plan(tuple(plan.visits))


def following(problem: Problem, draft: Plan, *, fill: bool = True) -> Plan:
    """A plan that keeps every rule, along a draft, with as many of its frames as fit.

    Where caps leave time over in a visit, other goals of its target fill it; with `fill` what is left of the
    night is filled as in `constructed`.
    """
    plan = _Growing.empty(problem)
    for draft_visit in draft:
        index = draft_visit.slot
        copies = sum(visit.slot in (index, index + 1) for visit in plan.visits)
        if copies == VISITS_PER_SIDE or not plan.may_visit(problem.slots[index + copies]):
            continue
        slot = problem.slots[index + copies]
        wanted: Counter[int] = Counter()
        begins: dict[int, int] = {}
        for run in draft_visit.runs:
            wanted[run.task] += run.frames
            if problem.by_depth:
                begins.setdefault(run.task, run.not_before)
        most = [min(plan.left[task], wanted[task]) for task in range(len(plan.left))]
        offer = _visit(problem, plan.night, slot, list(wanted), most, begins)
        if offer is not None:
            until = _end_of(problem, draft_visit.runs[-1])
            plan.append((_filled(problem, plan.night, slot, offer, plan.left, until) or offer)[0])
    if fill:
        plan.fill()
    return Plan(tuple(plan.visits))


def better_of(problem: Problem, plan: Plan, other: Plan) -> Plan:
    """The one of two plans that has more profit, the first where they have the same."""
    return other if profit_of(problem, other) > profit_of(problem, plan) else plan


def _end_of(problem: Problem, run: Run) -> int:
    """About when a run of a draft ends, its last download included."""
    task, lengths = problem.tasks[run.task], problem.run_lengths
    segments = lengths.cut_into_segments(task, run.frames, lengths.first_segment_most(task))
    return run.not_before + lengths.run_s(task, segments) + task.download_s


def _filled(
    problem: Problem,
    night: NightSoFar,
    slot: Slot,
    offer: tuple[Visit, ScheduledVisit],
    left: list[int],
    until: int,
) -> tuple[Visit, ScheduledVisit] | None:
    """The visit with more runs of other goals up to a time; None where nothing fits."""
    runs, laid = list(offer[0].runs), offer[1]
    before = len(runs)
    rates = {task: problem.tasks[task].profit / problem.tasks[task].frame_s for task in slot.shutter}
    others = [task for task in slot.shutter if task not in {run.task for run in runs}]
    for task_index in sorted(others, key=lambda task: -rates[task]):
        most = min(left[task_index], max(0, until - laid.free) // problem.tasks[task_index].frame_s)
        extended = _with_run(problem, night, slot, runs, task_index, most, 0)
        if extended is not None and extended[1].free <= until + problem.tasks[task_index].frame_s:
            runs, laid = extended
    return (Visit(slot.index, tuple(runs)), laid) if len(runs) > before else None


def _offer(problem: Problem, night: NightSoFar, slot: Slot, left: list[int]) -> tuple[float, Visit] | None:
    """The fullest visit of a slot from here on, with its worth for each second that it takes."""
    order = sorted(slot.shutter, key=lambda task: (slot.shutter[task][-1][1], slot.shutter[task][0][0]))
    visit = _visit(problem, night, slot, order, left)
    if visit is None:
        return None
    chosen, laid = visit
    profit = profit_of_visits(problem, [laid])
    # waiting counts as time too, from the first second at which anything could be done
    began = night.free if night.slot is not None else min(other.work[0] for other in problem.slots)
    return profit / (laid.free - began), chosen


def _visit(
    problem: Problem,
    night: NightSoFar,
    slot: Slot,
    order: list[int],
    most: list[int],
    begins: Mapping[int, int] | None = None,
) -> tuple[Visit, ScheduledVisit] | None:
    """A visit with runs of these tasks in this order, each as long as fits, at most `most` frames by task.

    `begins`: no run of these tasks begins sooner.
    """
    runs: list[Run] = []
    laid: ScheduledVisit | None = None
    for task_index in order:
        not_before = (begins or {}).get(task_index, 0)
        extended = _with_run(problem, night, slot, runs, task_index, most[task_index], not_before)
        if extended is not None:
            runs, laid = extended
    open_s = sum(run.frames * problem.tasks[run.task].goal.exposure_s for run in runs)
    if laid is None or open_s < slot.target.least_min * 60:
        return None
    return Visit(slot.index, tuple(runs)), laid


def _with_run(
    problem: Problem,
    night: NightSoFar,
    slot: Slot,
    runs: list[Run],
    task_index: int,
    left: int,
    not_before: int,
) -> tuple[list[Run], ScheduledVisit] | None:
    task = problem.tasks[task_index]
    if left <= 0:
        return None
    must = must_focus(problem, night, slot, runs, task.goal.filter)
    for span in slot.shutter[task_index]:
        for focus_first in (
            (True,) if must else (False,) if problem.rules.focus_every_s is None else (False, True)
        ):
            found = _longest_run(problem, night, slot, runs, task_index, span, focus_first, left, not_before)
            if found is not None:
                return found
    return None


def _longest_run(
    problem: Problem,
    night: NightSoFar,
    slot: Slot,
    runs: list[Run],
    task_index: int,
    span: Span,
    focus_first: bool,
    left: int,
    not_before: int,
) -> tuple[list[Run], ScheduledVisit] | None:
    """The visit with one more run in a window, of as many frames as fit."""
    task = problem.tasks[task_index]
    after = copy.copy(night)
    try:
        one = Run(task_index, (1,), span, focus_first, not_before)
        laid = after.lay(Visit(slot.index, (*runs, one)))
    except DoesNotFit:
        return None
    opens = laid.acts[-1].start
    first_most = problem.run_lengths.first_segment_most(task)
    if not focus_first and problem.rules.focus_every_s is not None and after.focused is not None:
        first_most = max(
            1,
            min(
                first_most,
                problem.run_lengths.most_frames(task, problem.rules.focus_every_s - opens + after.focused),
            ),
        )
    for frames in range(_most(problem, task, first_most, span[1] - opens, left), 0, -1):
        run = Run(
            task_index,
            problem.run_lengths.cut_into_segments(task, frames, first_most),
            span,
            focus_first,
            not_before,
        )
        try:
            return [*runs, run], copy.copy(night).lay(Visit(slot.index, (*runs, run)))
        except DoesNotFit:
            continue
    return None


def _most(problem: Problem, task: Task, first_most: int, seconds: int, left: int) -> int:
    """Most frames of a run, focus runs included, that fit into so many seconds."""
    low, high = 0, min(left, seconds // task.frame_s + 1)
    while low < high:
        middle = (low + high + 1) // 2
        if (
            problem.run_lengths.run_s(task, problem.run_lengths.cut_into_segments(task, middle, first_most))
            <= seconds
        ):
            low = middle
        else:
            high = middle - 1
    return low


def must_focus(
    problem: Problem, night: NightSoFar, slot: Slot, runs: Sequence[Run], filter_name: str
) -> bool:
    """Whether a focus run must come before the next run of a visit with these runs, the cadence apart."""
    if runs:
        changes = problem.tasks[runs[-1].task].goal.filter != filter_name
        return changes and problem.rules.focus_on_filter_change
    flipping = problem.flips_between(night.slot, slot)
    return problem.focuses_on_arrival(flipping, not flipping or night.filter != filter_name)
