"""Among plans of equal profit the one farther from contact: frames before a flip are shot after it instead.

The constraint model chooses so among equals where it has the time; this is a cheap step for where it has not.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from optimizer.models.rig import SIDES
from optimizer.packing.plan import Plan, Run, Visit
from optimizer.packing.schedule import DoesNotFit, ScheduledVisit, profit_of, scheduled
from optimizer.packing.search.construct import following
from optimizer.problem import Problem


def with_sooner_flips(problem: Problem, plan: Plan) -> Plan:
    """Move frames of the last goal before each flip behind it, as many as cost no profit and no move.

    Only what is tracked after the transit, and after the flip may begin, counts as near to contact. Where a
    frame's profit depends on its time, the plan stays as it is. Raises DoesNotFit where the plan breaks a
    rule.
    """
    if problem.by_time or problem.rules.flip_by != "plan":
        return plan
    for at in range(len(plan) - 1):
        visits = scheduled(problem, plan).visits
        if at + 1 < len(visits) and problem.flips_between(visits[at].slot, visits[at + 1].slot):
            plan = _with_sooner_flip(problem, plan, visits, at)
    return plan


def _with_sooner_flip(problem: Problem, plan: Plan, visits: tuple[ScheduledVisit, ...], at: int) -> Plan:
    """Let the flip after one visit begin sooner: the most frames that may go behind it go there."""
    before, after = visits[at], visits[at + 1]
    run = plan.visits[at].runs[-1]
    task = problem.tasks[run.task]
    late_s = before.free - max(before.slot.transit_s(), after.slot.motion[0])
    low, high = 0, min(run.frames, -(-late_s // task.frame_s))
    if high <= 0 or run.task not in after.slot.shutter:
        return plan
    profit, near_s = profit_of(problem, plan), nearness_s(problem, visits)
    best, moved = plan, high  # all of them first: mostly they fit
    while low < high:
        other = following(problem, _draft(problem, plan, at, moved), fill=False)
        if _is_better(problem, other, len(plan), profit, near_s):
            low, best = moved, other
        else:
            high = moved - 1
        moved = (low + high + 1) // 2
    return best


def _is_better(problem: Problem, plan: Plan, visits: int, profit: int, near_s: int) -> bool:
    """Whether a plan has as much profit in no more visits, and comes less near to contact."""
    try:
        schedule = scheduled(problem, plan)
    except DoesNotFit:
        return False
    as_good = len(plan) <= visits and profit_of(problem, plan) >= profit
    return as_good and nearness_s(problem, schedule.visits) < near_s


def nearness_s(problem: Problem, visits: tuple[ScheduledVisit, ...]) -> int:
    """How many seconds past its transit the first side is used, all visits together.

    Where a flip follows for which the mount tracks on, it counts until the flip.
    """
    near_s = 0
    for visit, behind in pairwise((*visits, None)):
        assert visit is not None
        if visit.slot.side == SIDES[0]:
            tracks = behind is not None and problem.tracks_to_flip(visit.slot, behind.slot)
            until = behind.depart if behind is not None and tracks else visit.free
            near_s += max(0, until - visit.slot.transit_s())
    return near_s


def _draft(problem: Problem, plan: Plan, at: int, moved: int) -> Plan:
    """The plan with the last frames of one visit in a run of the same goal behind the flip."""
    before, after = plan.visits[at], plan.visits[at + 1]
    *kept, last = before.runs
    runs = (*kept, replace(last, segments=(last.frames - moved,))) if moved < last.frames else tuple(kept)
    if not runs:
        return Plan()
    same = next((run for run in after.runs if run.task == last.task), None)
    if same is None:
        span = problem.slots[after.slot].shutter[last.task][0]
        behind = (Run(last.task, (moved,), span, focus_first=False), *after.runs)
    else:
        behind = tuple(
            replace(run, segments=(run.frames + moved,)) if run is same else run for run in after.runs
        )
    draft = plan.with_visit(at, replace(before, runs=runs)).with_visit(at + 1, Visit(after.slot, behind))
    return Plan.of(replace(visit, slot=problem.slots[visit.slot].twin) for visit in draft)
