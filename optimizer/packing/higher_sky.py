"""Among plans of equal profit the one with the higher sky: visits with time to spare wait for their target.

Laid as early as possible, a visit may look low into the east although nothing else is to be done until its
target stands high. So from the last visit to the first each moves later: until its target is in the meridian,
or until the visit behind it would have to move as well.
"""

from __future__ import annotations

from dataclasses import replace

from optimizer.models.rig import SIDES
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import DoesNotFit, ScheduledVisit, scheduled
from optimizer.problem import Problem

LEAST_WAIT_S = 300  # a shorter one raises no target by more than a degree or so


def toward_transits(problem: Problem, plan: Plan) -> Plan:
    """The same visits and runs, each visit as near to its target's transit as the one behind it allows.

    Whole seconds. Where the sky makes the profit, the plan as it is. Raises DoesNotFit where a rule breaks.
    """
    if problem.by_depth:
        return plan
    plan = plan.without_waiting()
    laid = scheduled(problem, plan).visits
    for at in reversed(range(len(plan))):
        behind = laid[at + 1] if at + 1 < len(laid) else None
        low, high = 0, min(_wanted_s(laid[at]), _room_s(laid[at], behind))
        if high < LEAST_WAIT_S:
            continue
        opens = laid[at].exposures[0][1]
        wait_s = high  # the whole of it first: mostly it fits
        while low < high:
            moved = plan.with_visit(at, replace(plan.visits[at], not_before=opens + wait_s))
            if found := _laid_without_harm(problem, moved, laid[at + 1 :]):
                low, best = wait_s, (moved, found)
            else:
                high = wait_s - 1
            wait_s = (low + high + 1) // 2
        if low >= LEAST_WAIT_S:
            plan, laid = best
    return plan


def _wanted_s(visit: ScheduledVisit) -> int:
    """How much later it would stand highest; on the side of the transit where it sinks, never.

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
    """No more than so many seconds stand idle between a visit and the exposures of the next."""
    if behind is None:
        return visit.slot.work[1] - visit.free
    waits_s = sum(act.end - act.start for act in behind.acts if act.kind == "wait")
    return behind.depart - visit.free + waits_s


def _laid_without_harm(
    problem: Problem, plan: Plan, behind: tuple[ScheduledVisit, ...]
) -> tuple[ScheduledVisit, ...] | None:
    """The plan in time, if it fits and none of the visits behind ends later than it did."""
    try:
        laid = scheduled(problem, plan).visits
    except DoesNotFit:
        return None
    later = laid[len(laid) - len(behind) :]
    return laid if all(now.free <= then.free for now, then in zip(later, behind, strict=True)) else None
