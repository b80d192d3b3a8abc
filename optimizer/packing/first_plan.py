"""A constructive first plan: always go where the next visit pays most for its time."""

from __future__ import annotations

import copy
from collections import Counter
from itertools import groupby

from optimizer.packing.choice import (
    Choice,
    RunChoice,
    VisitChoice,
    cut_into_segments,
    first_segment_most,
    run_s,
)
from optimizer.packing.layout import DoesNotFit, LaidVisit, NightSoFar
from optimizer.packing.relaxation import Path
from optimizer.packing.rules.order_of_visits import may_follow
from optimizer.problem import VISITS_PER_SIDE, Problem, Slot


def first_plan(problem: Problem) -> Choice:
    """A plan that keeps every rule, made in one pass; may be empty."""
    night = NightSoFar(problem)
    left = [task.frames_left for task in problem.tasks]
    visits: list[VisitChoice] = []
    on_side: Counter[tuple[str, str | None]] = Counter()
    while True:
        best: tuple[float, VisitChoice] | None = None
        used = {visit.slot for visit in visits}
        for slot in problem.slots:
            if slot.index in used or (slot.copy and slot.index - slot.copy not in used):
                continue
            if on_side[(slot.target.name, slot.side)] == VISITS_PER_SIDE:
                continue
            offer = _offer(problem, night, slot, left)
            if offer is not None and (best is None or offer[0] > best[0]):
                best = offer
        if best is None:
            return tuple(visits)
        visit = best[1]
        night.lay(visit)
        visits.append(visit)
        slot = problem.slots[visit.slot]
        on_side[(slot.target.name, slot.side)] += 1
        for run in visit.runs:
            left[run.task] -= run.frames


def plan_along(problem: Problem, path: Path) -> Choice:
    """A plan that keeps every rule, along a path of the relaxation, with as many of its frames as fit."""
    night = NightSoFar(problem)
    left = [task.frames_left for task in problem.tasks]
    visits: list[VisitChoice] = []
    on_side: Counter[tuple[str, str | None]] = Counter()
    for index, group in groupby(path.runs, key=lambda run: run.slot):
        first = problem.slots[index]
        copies = sum(visit.slot in (index, index + 1) for visit in visits)
        slot = problem.slots[index + copies] if copies < VISITS_PER_SIDE else None
        if slot is None or on_side[(first.target.name, first.side)] == VISITS_PER_SIDE:
            continue
        if night.slot is not None and not may_follow(problem, night.slot, slot):
            continue
        wanted: Counter[int] = Counter()
        for run in group:
            wanted[run.task] += run.frames
        offer = _visit(
            problem, night, slot, list(wanted), [min(left[t], wanted[t]) for t in range(len(left))]
        )
        if offer is None:
            continue
        visits.append(offer[0])
        night.lay(offer[0])
        on_side[(first.target.name, first.side)] += 1
        for chosen in offer[0].runs:
            left[chosen.task] -= chosen.frames
    return tuple(visits)


def _offer(
    problem: Problem, night: NightSoFar, slot: Slot, left: list[int]
) -> tuple[float, VisitChoice] | None:
    """The fullest visit of a slot from here on, with its worth for each second that it takes."""
    if night.slot is not None and not may_follow(problem, night.slot, slot):
        return None
    order = sorted(slot.shutter, key=lambda task: (slot.shutter[task][-1][1], slot.shutter[task][0][0]))
    visit = _visit(problem, night, slot, order, left)
    if visit is None:
        return None
    chosen, laid = visit
    worth = sum(run.frames * problem.tasks[run.task].worth for run in chosen.runs)
    # waiting counts as time too, from the first second at which anything could be done
    began = night.free if night.slot is not None else min(other.work[0] for other in problem.slots)
    return worth / (laid.free - began), chosen


def _visit(
    problem: Problem, night: NightSoFar, slot: Slot, order: list[int], most: list[int]
) -> tuple[VisitChoice, LaidVisit] | None:
    """A visit with runs of these tasks in this order, each as long as fits, at most `most` frames by task."""
    runs: list[RunChoice] = []
    laid: LaidVisit | None = None
    for task_index in order:
        extended = _with_run(problem, night, slot, runs, task_index, most[task_index])
        if extended is not None:
            runs, laid = extended
    open_s = sum(run.frames * problem.tasks[run.task].goal.exposure_s for run in runs)
    if laid is None or open_s < slot.target.least_min * 60:
        return None
    return VisitChoice(slot.index, tuple(runs)), laid


def _with_run(
    problem: Problem, night: NightSoFar, slot: Slot, runs: list[RunChoice], task_index: int, left: int
) -> tuple[list[RunChoice], LaidVisit] | None:
    task = problem.tasks[task_index]
    if left <= 0:
        return None
    focus_first = _focuses(problem, night, slot, runs, task.goal.filter)
    for span in slot.shutter[task_index]:
        try:
            one = RunChoice(task_index, (1,), span, focus_first)
            laid = copy.copy(night).lay(VisitChoice(slot.index, (*runs, one)))
        except DoesNotFit:
            continue
        opens = laid.acts[-1].start
        for frames in range(_most(problem, task_index, span[1] - opens, left), 0, -1):
            segments = cut_into_segments(problem, task, frames, first_segment_most(problem, task))
            run = RunChoice(task_index, segments, span, focus_first)
            try:
                return [*runs, run], copy.copy(night).lay(VisitChoice(slot.index, (*runs, run)))
            except DoesNotFit:
                continue
    return None


def _most(problem: Problem, task_index: int, seconds: int, left: int) -> int:
    """Most frames of a run, focus runs included, that fit into so many seconds."""
    task = problem.tasks[task_index]
    first_most = first_segment_most(problem, task)
    low, high = 0, min(left, seconds // task.frame_s + 1)
    while low < high:
        middle = (low + high + 1) // 2
        if run_s(problem, task, cut_into_segments(problem, task, middle, first_most)) <= seconds:
            low = middle
        else:
            high = middle - 1
    return low


def _focuses(
    problem: Problem, night: NightSoFar, slot: Slot, runs: list[RunChoice], filter_name: str
) -> bool:
    if problem.every_s is not None:
        return True
    if runs:
        changes = problem.tasks[runs[-1].task].goal.filter != filter_name
        return changes and problem.request.focus.on_filter_change
    flipping = problem.flips_between(night.slot, slot)
    return problem.focuses_on_arrival(flipping, not flipping or night.filter != filter_name)
