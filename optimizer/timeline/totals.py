"""Sums over the plan: its value, progress of goals and filter sets, share of the dark, time by kind."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction

from optimizer.models.shots import Step, TargetTotal, Totals, goal_total
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import ScheduledVisit, gathered_by
from optimizer.problem import Problem
from optimizer.problem.filter_sets import filter_sets_of, progress_of
from optimizer.problem.tasks import Task
from optimizer.sky.gathered import GatheredCurve
from optimizer.sky.spans import total_s
from optimizer.sky.windows import SkyWindows

VALUE_DECIMALS, SHARE_DECIMALS = 3, 6


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
    gathered = gathered_by(problem, visits)
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
        targets=_targets(problem, planned),
        open_shutter_s=open_s,
        depth_s=depth_s(problem, windows, visits) if windows.by_depth else None,
        expected_s=expected_s(problem, windows, visits) if windows.odds is not None else None,
        value_s=_rounded_down(problem.worth.profit(gathered) * problem.profit_unit, VALUE_DECIMALS),
        set_s=_rounded_down(_set_profit(problem, gathered) * problem.profit_unit, VALUE_DECIMALS),
        least_slack_s=slack_s,
        least_slack_step=slack_step,
        dark_s=dark_s,
        share=round(open_s / dark_s, 4) if dark_s else 0.0,
        seconds_by_kind=dict(by_kind),
    )


def _set_profit(problem: Problem, gathered: Sequence[int]) -> Fraction:
    """Profit by which all filter sets come forward, whether or not the aim asks for their balance."""
    sets = filter_sets_of(problem.tasks)
    return sum((each.progress(gathered) - each.before for each in sets), Fraction(0))


def _targets(problem: Problem, planned: Mapping[int, int]) -> tuple[TargetTotal, ...]:
    """One line for each target of the problem, in file order."""
    of_target: dict[str, list[Task]] = {}
    for task in problem.tasks_in_file_order:
        of_target.setdefault(task.target.name, []).append(task)
    return tuple(
        TargetTotal(
            target=name,
            set_share_before=_set_share(own, {}),
            set_share_after=_set_share(own, planned),
        )
        for name, own in of_target.items()
    )


def _set_share(tasks: Iterable[Task], planned: Mapping[int, int]) -> float | None:
    """Share of a target's filter set in hand once these frames are taken too, rounded down.

    Frames are counted whatever sky they are taken under. None where no goal is in the set.
    """
    own = [task for task in tasks if task.goal.in_set]
    if not own:
        return None
    wanted = [task.whole_profit * task.goal.frames for task in own]
    reached = [task.whole_profit * (task.goal.done + planned.get(task.index, 0)) for task in own]
    return _rounded_down(progress_of(wanted, reached) / sum(wanted), SHARE_DECIMALS)


def _rounded_down(number: Fraction, decimals: int) -> float:
    scale: int = 10**decimals
    return math.floor(number * scale) / scale


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
