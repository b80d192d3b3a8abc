"""Sums over the plan: progress per goal, share of the dark with open shutter, time by kind of step."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence

from optimizer.models.shots import Step, Totals, goal_total
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import ScheduledVisit
from optimizer.problem import Problem
from optimizer.problem.tasks import Task
from optimizer.sky.gathered import GatheredCurve
from optimizer.sky.spans import total_s
from optimizer.sky.windows import SkyWindows


def frames_planned(plan: Plan) -> Counter[int]:
    """Count the exposures of a plan by task."""
    planned: Counter[int] = Counter()
    for visit in plan:
        for run in visit.runs:
            planned[run.task] += run.frames
    return planned


def build_totals(
    problem: Problem,
    windows: SkyWindows,
    plan: Plan,
    visits: Sequence[ScheduledVisit],
    steps: Sequence[Step],
) -> Totals:
    """Add up a plan; its share is open-shutter over dark seconds, 0 where it is never dark."""
    planned = frames_planned(plan)
    goals = [
        goal_total(task.target.name, task.goal, planned[task.index]) for task in problem.tasks_in_file_order
    ]
    by_kind: Counter[str] = Counter()
    for step in steps:
        by_kind[step.kind] += step.seconds
    open_s = sum(goal.seconds_planned for goal in goals)
    dark_s = int(total_s(windows.dark))
    return Totals(
        goals=tuple(goals),
        open_shutter_s=open_s,
        depth_s=depth_s(problem, windows, visits) if windows.by_depth else None,
        expected_s=expected_s(problem, windows, visits) if windows.odds is not None else None,
        dark_s=dark_s,
        share=round(open_s / dark_s, 4) if dark_s else 0.0,
        seconds_by_kind=dict(by_kind),
    )


def depth_s(problem: Problem, windows: SkyWindows, visits: Iterable[ScheduledVisit]) -> float:
    """Seconds under a dark zenith of all exposures, to the millisecond."""
    return _gathered_s(problem, visits, lambda task: windows[task.target.name].depth[task.goal.filter])


def expected_s(problem: Problem, windows: SkyWindows, visits: Iterable[ScheduledVisit]) -> float:
    """Seconds of open shutter of all exposures by the odds of clear sky given, to the millisecond."""
    odds = windows.odds
    assert odds is not None
    return _gathered_s(problem, visits, lambda _: odds)


def _gathered_s(
    problem: Problem, visits: Iterable[ScheduledVisit], curve_of: Callable[[Task], GatheredCurve]
) -> float:
    total = 0.0
    for visit in visits:
        for index, opens in visit.exposures:
            task = problem.tasks[index]
            seconds = float(curve_of(task).between_s(opens, opens + task.shutter_s))
            total += seconds * task.goal.exposure_s / task.shutter_s
    return round(total, 3)
