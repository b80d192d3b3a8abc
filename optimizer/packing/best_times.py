"""Where the sky decides: the runs of a plan put, by the second, where their frames bring most in all.

The searches reckon on a grid of ticks; the seconds of a plan are chosen here.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.packing.compiled import Ints
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import DoesNotFit, Schedule, profit_of, scheduled
from optimizer.problem import Problem


def at_best_times(problem: Problem, plan: Plan) -> Plan:
    """The plan with its runs as soon as may be, then put off as far as brings most in all, and no farther.

    Visits, runs and segments stay the same. The plan stays as it is where nothing is won, where no frame's
    profit depends on its time, or where a run put off would make a focus run due. Raises DoesNotFit where the
    plan breaks a rule.
    """
    if not (problem.by_time and plan):
        return plan
    try:
        soonest = plan.as_early_as_possible()
        moved = _put_off(problem, soonest, scheduled(problem, soonest))
        return max(plan, moved, key=lambda each: profit_of(problem, each))
    except DoesNotFit:
        return plan


def _put_off(problem: Problem, plan: Plan, schedule: Schedule) -> Plan:
    """Put off each run of a plan, given how it is scheduled, by so many seconds as bring most in all."""
    runs, shutters = [run for visit in plan for run in visit.runs], _shutters(schedule)
    totals: list[Ints] = []  # of each run, last first, by its delay: most that it and those behind it bring
    most, idle_s = np.zeros(1, dtype=np.int64), max(run.span[1] for run in runs)  # most: by the least delay
    for run, (opens, idle_before_s) in reversed(list(zip(runs, shutters, strict=True))):
        task = problem.tasks[run.task]
        assert task.profit_by_start is not None
        room_s = min(len(most) - 1 + idle_s, run.span[1] - task.shutter_s - opens[-1])
        own = [task.profit_by_start[start : start + room_s + 1] for start in opens]
        totals.append(np.sum(own, axis=0) + most[np.maximum(0, np.arange(room_s + 1) - idle_s)])
        most, idle_s = np.maximum.accumulate(totals[-1][::-1])[::-1], idle_before_s
    begins, delay_s = [], 0
    for total, (opens, idle_before_s) in zip(reversed(totals), shutters, strict=True):
        least_s = max(0, delay_s - idle_before_s)
        delay_s = least_s + int(np.argmax(total[least_s:]))
        begins.append(opens[0] + delay_s if delay_s else 0)
    begun = iter(begins)
    return Plan.of(
        replace(visit, runs=tuple(replace(run, not_before=next(begun)) for run in visit.runs))
        for visit in plan
    )


def _shutters(schedule: Schedule) -> list[tuple[list[int], int]]:
    """Of each run when its shutters open, and how many seconds stand idle before it."""
    found: list[tuple[list[int], int]] = []
    free = None
    for visit in schedule:
        idle_s, task = 0 if free is None else visit.depart - free, None
        for act in visit.acts:
            if act.kind == "wait":
                idle_s += act.end - act.start
            elif act.kind == "expose":
                if act.task != task:
                    found.append(([], idle_s))
                    idle_s, task = 0, act.task
                found[-1][0].append(act.start)
        free = visit.free
    return found
