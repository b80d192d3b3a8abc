"""Where a plan stands idle although frames still wanted would fit: a sign that the search was too short."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from optimizer.packing.plan import Plan, Run, Visit
from optimizer.packing.schedule import DoesNotFit, ScheduledVisit, gathered_by, profit_of, scheduled
from optimizer.problem import VISITS_PER_SIDE, Problem, Slot, Span
from optimizer.problem.tasks import Task
from optimizer.problem.transitions import may_begin, may_follow

LEAST_S = 600  # a shorter standstill is none that catches the eye
MOST_TRIES = 40  # for each


@dataclass(frozen=True)
class Idle:
    """A span, in seconds after the origin, and a goal of which at least so many frames fit into it."""

    span: Span
    task: Task
    frames: int


def idle_spans(problem: Problem, plan: Plan) -> tuple[Idle, ...]:
    """The spans between visits in which one more would fit, each with the goal that brings most there.

    A visit counts as fitting where the plan with it keeps every rule, loses no exposure and has more profit.
    None is told of a plan whose seconds come from elsewhere, as the rest of an older list may have them.
    """
    try:
        schedule, profit = scheduled(problem, plan), profit_of(problem, plan)
    except DoesNotFit:
        return ()
    left = [task.frames_left for task in problem.tasks]
    for visit in plan:
        for run in visit.runs:
            left[run.task] -= run.frames
    idle = []
    for at, span in enumerate(_between(problem, schedule.visits)):
        if span[1] - span[0] < LEAST_S:
            continue
        for task, visit in _candidates(problem, plan, at, span, left):
            more = plan.with_more(at, visit)
            try:
                if profit_of(problem, more) > profit and scheduled(problem, more).visits:
                    idle.append(Idle(span, task, visit.runs[0].frames))
                    break
            except DoesNotFit:
                continue
    return tuple(idle)


def _between(problem: Problem, schedule: tuple[ScheduledVisit, ...]) -> list[Span]:
    """Spans from each visit's end to the departure for the next, and before the first and after the last."""
    spans = [span for slot in problem.slots for spans in slot.shutter.values() for span in spans]
    if not spans:
        return []
    begins, ends = min(opens for opens, _ in spans), max(closes for _, closes in spans)
    edges = [(begins, begins), *((visit.depart, visit.free) for visit in schedule), (ends, ends)]
    return [(before[1], after[0]) for before, after in pairwise(edges)]


def _candidates(
    problem: Problem, plan: Plan, at: int, span: Span, left: list[int]
) -> Iterator[tuple[Task, Visit]]:
    """Visits with the fewest frames of one goal that are allowed, those that pay most first."""
    used = {visit.slot for visit in plan}
    slots = [problem.slots[visit.slot] for visit in plan]
    on_side = Counter((slot.target.name, slot.side) for slot in slots)
    before, after = slots[at - 1] if at else None, slots[at] if at < len(slots) else None
    if before is not None and after is not None and problem.flips_between(before, after):
        return
    open_then = [
        (problem.tasks[index], slot, window)
        for slot in problem.slots
        if slot.index not in used and on_side[(slot.target.name, slot.side)] < VISITS_PER_SIDE
        for index, windows in slot.shutter.items()
        for window in windows
        if left[index] > 0
        and min(window[1], span[1]) - max(window[0], span[0]) >= problem.tasks[index].shutter_s
        and _may_stand(problem, before, slot, after)
    ]
    gathered = gathered_by(problem, scheduled(problem, plan))

    def rate(task: Task) -> float:
        return float(problem.worth.gain(gathered, {task.index: task.profit})) / task.frame_s

    rates = {task.index: rate(task) for task, _, _ in open_then}
    open_then.sort(key=lambda each: -rates[each[0].index])
    for task, slot, window in open_then[:MOST_TRIES]:
        frames = max(1, math.ceil(slot.target.least_min * 60 / task.goal.exposure_s))
        segments = problem.run_lengths.cut_into_segments(
            task, frames, problem.run_lengths.first_segment_most(task)
        )
        if frames <= left[task.index] and sum(segments) == frames:
            yield task, Visit(slot.index, (Run(task.index, segments, window, True),))


def _may_stand(problem: Problem, before: Slot | None, slot: Slot, after: Slot | None) -> bool:
    """Whether a slot may stand between two others, both ways by slew: a flip may leave the filter in."""
    if before is None and (problem.flips_between(problem.start.slot, slot) or not may_begin(problem, slot)):
        return False
    if before is not None and (problem.flips_between(before, slot) or not may_follow(problem, before, slot)):
        return False
    if after is None:
        return True
    return not problem.flips_between(slot, after) and may_follow(problem, slot, after)
