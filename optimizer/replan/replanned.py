"""The best rest of a night, from an older list and what is told beside it: planned, audited, compared."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from optimizer.audit import audit_joined, audit_shot_list
from optimizer.models.continues import Continues
from optimizer.models.shots import ShotList, Violation
from optimizer.mount.zones import zone_s
from optimizer.night import Night
from optimizer.packing.bound.ceiling import ceiling
from optimizer.packing.phases import Progress
from optimizer.packing.solution import Solution
from optimizer.replan.old_rest import OldRest, old_rests
from optimizer.replan.rest import rest_request, slack_left_s
from optimizer.replan.standing import Standing, standing_of
from optimizer.replan.told import Told
from optimizer.timeline.shot_list import unaudited_list

GAP, LIMIT_S = 0.01, 2.0


@dataclass(frozen=True)
class Rest:
    """A new list, and what it is compared with.

    `violations` are those of the list by itself and of what was done and the list together. `old_open_s` are
    the seconds of open shutter that the older list could still give, by goal in the order of `totals.goals`,
    `old_value_s` their value in weighted seconds. `kept`: the new list is the older one's rest. `must_leave`:
    the mount tracks where its pier side must not track as the list begins.
    """

    older: ShotList
    told: Told
    standing: Standing
    shots: ShotList
    violations: tuple[Violation, ...]
    old_open_s: tuple[float, ...]
    old_value_s: float
    kept: bool
    must_leave: bool


def rest_of(
    older: ShotList,
    told: Told,
    sha256: str,
    *,
    limit_s: float = LIMIT_S,
    gap: float = GAP,
    tell: Progress | None = None,
    began: float | None = None,
) -> Rest:
    """Plan the rest of the night of a list, and audit it by itself and together with what was done.

    The rest is never worth less than what is still possible of the older list: that is kept where the search
    finds nothing better. `sha256` is that of the older list's file; `tell` and `began` as in `Night.plan`.
    The audit of both together takes the older list as it is: where that went on with another one itself, what
    came before it was audited when it was made.
    """
    began = time.monotonic() if began is None else began
    standing = standing_of(older, told)
    request = rest_request(older, standing, told, slack_left_s(older, standing, told))
    continues = Continues(
        sha256=sha256,
        now_utc=told.now,
        steps_done=standing.done,
        begin=standing.begin,
        told=told.says_where or not standing.as_listed,
    )
    night = Night(request.with_aim(time_limit_s=limit_s, gap=gap), continues, older)
    solution = night.search(tell, began)
    shots, kept = night.plan(), False
    violations = _broken(older, shots)
    rests = old_rests(night.problem, night.sky.clock, older, standing, told)
    for rest in rests:  # the first that is lawful is what could still be done
        if rest.profit <= solution.profit:
            break
        possible = _list_of(night, solution, rest)
        if not (found := _broken(older, possible)):
            shots, violations, kept = possible, found, True
            break
    return Rest(
        older=older,
        told=told,
        standing=standing,
        shots=shots,
        violations=violations,
        old_open_s=tuple(
            rest.frames[task.index] * task.goal.exposure_s for task in night.problem.tasks_in_file_order
        ),
        old_value_s=night.problem.weighted_seconds(rest.profit),
        kept=kept,
        must_leave=_must_leave(night),
    )


def _broken(older: ShotList, shots: ShotList) -> tuple[Violation, ...]:
    """What a list breaks by itself, and together with what was done before it."""
    return (*shots.audit_report.violations, *audit_joined(older, shots).violations)


def _must_leave(night: Night) -> bool:
    """Whether the mount tracks outside the zone of its pier side as the list begins."""
    continues = night.continues
    assert continues is not None
    begin = continues.begin
    if begin.target is None or begin.pier_side is None or begin.stands_since_utc is not None:
        return False
    at = np.array([night.sky.clock.seconds(begin.utc)])
    hour_angle_s = float(night.windows[begin.target].track.hour_angle_s(at)[0])
    low, high = zone_s(night.request.mount, begin.pier_side)
    return not low <= hour_angle_s <= high


def proven_of(solution: Solution, profit: int, ceiling: int) -> Solution:
    """A search's answer with the profit of the older rest in place of its own: what is proven of that.

    The older rest may be worth more than the bound: that is on plans which begin with a dither where one is
    due, and it need not. Then only the `ceiling` on all lists holds.
    """
    if profit <= solution.bound:
        status = "optimal" if profit == solution.bound else solution.status
        return replace(solution, profit=profit, status=status)
    bound = max(profit, ceiling)
    status = "feasible" if solution.status == "optimal" else solution.status
    return replace(solution, profit=profit, bound=bound, status="optimal" if bound == profit else status)


def _list_of(night: Night, solution: Solution, rest: OldRest) -> ShotList:
    """The older list's rest as the new list."""
    kept = replace(
        proven_of(solution, rest.profit, ceiling(night.problem)), plan=rest.plan, schedule=rest.schedule
    )
    unaudited = unaudited_list(
        night.request,
        night.sky,
        night.windows,
        night.problem,
        kept,
        night.scarcity,
        night.continues,
        night.in_season(kept.schedule.visits),
    )
    return unaudited.model_copy(update={"audit": audit_shot_list(unaudited)})
