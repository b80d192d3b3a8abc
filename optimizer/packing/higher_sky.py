"""Among plans of equal profit the one with the higher sky: visits with time to spare wait for their target.

Scheduled as early as possible, a visit may look low into the east although nothing else is to be done until
its target stands high. So from the last visit to the first each moves later: until its target is in the
meridian, or until the visit behind it would have to move as well.
"""

from __future__ import annotations

from dataclasses import replace

from optimizer.models.rig import SIDES
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import DoesNotFit, ScheduledVisit, scheduled
from optimizer.problem import Problem

LEAST_WAIT_S = 300  # a shorter one raises no target by more than a degree or so


def toward_transits(problem: Problem, plan: Plan) -> Plan:
    """Move each visit as near to its target's transit as the one behind it allows, by whole seconds.

    Visits and runs stay the same. Where a frame's profit depends on its time, the plan stays as it is. Raises
    DoesNotFit where the plan breaks a rule.
    """
    if problem.by_time:
        return plan
    plan = plan.without_waiting()
    visits = scheduled(problem, plan).visits
    for at in reversed(range(len(plan))):
        if at == 0 and problem.stays(problem.start.slot, visits[0].slot):
            break  # what goes on as the plan begins does so at once
        behind = visits[at + 1] if at + 1 < len(visits) else None
        low, high = 0, min(_wanted_s(visits[at]), _room_s(visits[at], behind))
        if high < LEAST_WAIT_S:
            continue
        opens = visits[at].exposures[0][1]
        wait_s = high  # the whole of it first: mostly it fits
        while low < high:
            moved = plan.with_visit(at, replace(plan.visits[at], not_before=opens + wait_s))
            if later := _scheduled_without_harm(problem, moved, visits[at + 1 :]):
                low, best = wait_s, (moved, later)
            else:
                high = wait_s - 1
            wait_s = (low + high + 1) // 2
        if low >= LEAST_WAIT_S:
            plan, visits = best
    return plan


def _wanted_s(visit: ScheduledVisit) -> int:
    """How many seconds later it would stand highest; on the side of the transit where it sinks, never.

    On the side that it must leave after the transit it ends with it: half a visit beyond the meridian would
    be hardly higher, and nearer to contact.
    """
    opens, closes = visit.exposures[0][1], visit.free
    before, after = SIDES
    if visit.slot.side == after:
        return 0
    highest = closes if visit.slot.side == before else (opens + closes) // 2
    return visit.slot.transit_s() - highest


def _room_s(visit: ScheduledVisit, behind: ScheduledVisit | None) -> int:
    """How many seconds stand idle between a visit and the exposures of the next, at most."""
    if behind is None:
        return visit.slot.work[1] - visit.free
    waits_s = sum(act.end - act.start for act in behind.acts if act.kind == "wait")
    return behind.depart - visit.free + waits_s


def _scheduled_without_harm(
    problem: Problem, plan: Plan, behind: tuple[ScheduledVisit, ...]
) -> tuple[ScheduledVisit, ...] | None:
    """Put the plan in time; None where it does not fit, or a visit behind would end later than it did."""
    try:
        visits = scheduled(problem, plan).visits
    except DoesNotFit:
        return None
    later = visits[len(visits) - len(behind) :]
    return visits if all(now.free <= then.free for now, then in zip(later, behind, strict=True)) else None
