"""What a plan breaks of the rules of a problem, counted anew from its schedule."""

from __future__ import annotations

from collections import Counter

from optimizer.packing.plan import Plan
from optimizer.packing.schedule import scheduled
from optimizer.problem import VISITS_PER_SIDE, Problem


def broken_rules(problem: Problem, plan: Plan) -> list[str]:
    """The rules of caps and visits that a plan breaks, in words.

    Raises DoesNotFit where it breaks a window, the cadence or the quiet time.
    """
    schedule = scheduled(problem, plan)
    taken = Counter(task for visit in schedule for task, _ in visit.exposures)
    broken = [f"cap of task {task.index}" for task in problem.tasks if taken[task.index] > task.frames_left]
    sides = Counter((visit.slot.target.name, visit.slot.side) for visit in schedule)
    broken += [f"visits of {side}" for side, count in sides.items() if count > VISITS_PER_SIDE]
    slots = Counter(visit.slot for visit in plan)
    broken += [f"slot {slot} visited twice" for slot, count in slots.items() if count > 1]
    for visit in plan:
        slot = problem.slots[visit.slot]
        open_s = sum(run.frames * problem.tasks[run.task].goal.exposure_s for run in visit.runs)
        if open_s < slot.target.least_min * 60:
            broken.append(f"least visit of slot {visit.slot}")
        runs = Counter(run.task for run in visit.runs)
        broken += [f"{count} runs of task {task} in a visit" for task, count in runs.items() if count > 1]
        broken += [
            f"window of task {run.task}" for run in visit.runs if run.span not in slot.shutter[run.task]
        ]
    return broken
