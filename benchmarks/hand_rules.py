"""Three rules by which people fill a night by hand, each followed by a careful person.

At each decision that person looks at what could be opened soonest without idling, picks a target by the rule,
and shoots a block of it, filter by filter in the order of the goals; then looks again. Staying on the target
costs no slew, and goes on with the filter that is in. The flip comes when the first side has nothing more to
offer and the flipped side is due. What would take longer to set up than it yields is passed over while there
is anything else. Each rule is tried with several lengths of block and the best of these plans counts.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from benchmarks.runs import GrowingPlan, Offer
from optimizer.mount.zones import SIDEREAL_RATE
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import profit_of
from optimizer.problem import Problem, Slot

BLOCKS_MIN = (30, 60, 120, math.inf)
IDLE_S = 60  # who can open within a minute of the first is not kept waiting
Score = Callable[["_Candidate", GrowingPlan], float]


@dataclass(frozen=True)
class _Candidate:
    """One frame of one goal next: when it could open and how long nothing would happen before."""

    slot: Slot
    task: int
    opens: int
    idle_s: int


def heaviest_first(candidate: _Candidate, plan: GrowingPlan) -> float:
    """The target of the greatest weight."""
    return candidate.slot.target.weight


def first_to_set_first(candidate: _Candidate, plan: GrowingPlan) -> float:
    """The target whose last window closes soonest."""
    name = candidate.slot.target.name
    return -max(
        spans[-1][1]
        for slot in plan.problem.slots
        if slot.target.name == name
        for task, spans in slot.shutter.items()
        if plan.left[task] > 0
    )


def highest_now(candidate: _Candidate, plan: GrowingPlan) -> float:
    """The target that stands highest when its shutter would open."""
    slot = candidate.slot
    hour_angle = math.radians((slot.hour_angle_s + SIDEREAL_RATE * candidate.opens) / 240)
    latitude = math.radians(plan.problem.rules.latitude_deg)
    declination = math.radians(slot.declination_deg)
    return math.sin(latitude) * math.sin(declination) + (
        math.cos(latitude) * math.cos(declination) * math.cos(hour_angle)
    )


RULES: dict[str, Score] = {
    "heaviest weight first": heaviest_first,
    "first to set first": first_to_set_first,
    "highest now": highest_now,
}


def by_hand(problem: Problem, rule: str) -> Plan:
    """The best of the plans by one rule, over the lengths of block."""
    plans = [_night(problem, RULES[rule], block_min * 60) for block_min in BLOCKS_MIN]
    return max(plans, key=lambda plan: profit_of(problem, plan))


def _night(problem: Problem, score: Score, block_s: float) -> Plan:
    plan = GrowingPlan(problem, [task.frames_left for task in problem.tasks])
    while True:
        candidates = _candidates(plan)
        if not candidates:
            return plan.plan
        chosen = None
        for thorough in (True, False):
            chosen = _pick(plan, candidates, score, block_s, thorough=thorough)
            if chosen is not None:
                break
        if chosen is None:
            return plan.plan
        plan.take(*chosen)


def _candidates(plan: GrowingPlan) -> list[_Candidate]:
    found = []
    slots = plan.slots_next() if plan.slot is None else [plan.slot, *plan.slots_next()]
    for slot in slots:
        for task in slot.shutter:
            if plan.left[task] < 1:
                continue
            offer = plan.offer(slot, task, 1)
            if offer is not None:
                opens = offer.visit.acts[-1].start
                found.append(_Candidate(slot, task, opens, _idle_s(plan, slot, offer)))
    return found


def _idle_s(plan: GrowingPlan, slot: Slot, offer: Offer) -> int:
    """Seconds before the new frame in which nothing is done."""
    staying = plan.slot is not None and slot.index == plan.slot.index
    new = [act for act in offer.visit.acts if act.start >= plan.now.free] if staying else offer.visit.acts
    busy_s = sum(act.end - act.start for act in new if act.kind != "wait")
    return offer.visit.free - plan.now.free - busy_s


def _pick(
    plan: GrowingPlan, candidates: list[_Candidate], score: Score, block_s: float, *, thorough: bool
) -> tuple[Slot, Offer] | None:
    """The block that the rule asks for; with `thorough` only one that yields more than its setting up."""
    soonest = min(candidate.idle_s for candidate in candidates)
    prompt = [candidate for candidate in candidates if candidate.idle_s <= soonest + IDLE_S]
    best = sorted({_target_of(each): score(each, plan) for each in prompt}.items(), key=lambda item: -item[1])
    for target, _ in best:
        for candidate in sorted((each for each in prompt if _target_of(each) == target), key=_by_goal(plan)):
            task = plan.problem.tasks[candidate.task]
            most = max(1, math.ceil(block_s / task.shutter_s)) if block_s < math.inf else task.frames_left
            offer = plan.offer(candidate.slot, candidate.task, most)
            if offer is None:
                continue
            staying = plan.slot is not None and candidate.slot.index == plan.slot.index
            setting_up_s = 0 if staying else candidate.opens - plan.now.free - candidate.idle_s
            if not thorough or offer.runs[-1].frames * task.shutter_s >= setting_up_s:
                return candidate.slot, offer
    return None


def _target_of(candidate: _Candidate) -> str:
    return candidate.slot.target.name


def _by_goal(plan: GrowingPlan) -> Callable[[_Candidate], tuple[bool, bool, int]]:
    """Stay before moving, the filter that is in before others, then the goals in their order."""

    def order(candidate: _Candidate) -> tuple[bool, bool, int]:
        staying = plan.slot is not None and candidate.slot.index == plan.slot.index
        same = bool(plan.runs) and plan.runs[-1].task == candidate.task
        return not staying, not same, candidate.task

    return order
