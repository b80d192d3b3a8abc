"""Sums over the plan: progress per goal, share of the dark with open shutter, time by kind of step."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from optimizer.models.shots import Step, Totals, goal_total
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import ScheduledVisit
from optimizer.problem import Problem
from optimizer.sky.spans import total_s
from optimizer.sky.windows import SkyWindows


def frames_planned(plan: Plan) -> Counter[int]:
    """Count the exposures of a plan by task."""
    planned: Counter[int] = Counter()
    for visit in plan:
        for run in visit.runs:
            planned[run.task] += run.frames
    return planned


def least_slack(steps: Sequence[Step], *, by_mount: bool) -> tuple[int | None, int | None]:
    """Seconds by which the step with the least slack may be late, and its number, the first of equals.

    Waits and parks take up what is late, and a flip that the mount makes by itself (`by_mount`) is never
    late. Both are None where no other step has a latest start.
    """
    exempt = ("wait", "park", "flip") if by_mount else ("wait", "park")
    spare_s = [
        (round((step.latest_start_utc - step.start_utc).total_seconds()), step.step)
        for step in steps
        if step.kind not in exempt and step.latest_start_utc is not None
    ]
    return min(spare_s, default=(None, None))


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
    slack_s, slack_step = least_slack(steps, by_mount=problem.rules.flip_by == "mount")
    dark_s = int(total_s(windows.dark))
    return Totals(
        goals=tuple(goals),
        open_shutter_s=open_s,
        depth_s=_depth_s(problem, windows, visits) if windows.by_depth else None,
        least_slack_s=slack_s,
        least_slack_step=slack_step,
        dark_s=dark_s,
        share=round(open_s / dark_s, 4) if dark_s else 0.0,
        seconds_by_kind=dict(by_kind),
    )


def _depth_s(problem: Problem, windows: SkyWindows, visits: Sequence[ScheduledVisit]) -> float:
    """Seconds under a dark zenith of all exposures, to the millisecond."""
    total = 0.0
    for visit in visits:
        for index, opens in visit.exposures:
            task = problem.tasks[index]
            curve = windows[task.target.name].depth[task.goal.filter]
            seconds = float(curve.between_s(opens, opens + task.shutter_s))
            total += seconds * task.goal.exposure_s / task.shutter_s
    return round(total, 3)
