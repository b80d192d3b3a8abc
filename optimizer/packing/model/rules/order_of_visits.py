"""The night's circuit: which visit follows which, by slew or by flip, and what the motion takes."""

from __future__ import annotations

import math
from itertools import pairwise

from ortools.sat.python import cp_model

from optimizer.packing.model.variables import NightVars, VisitVars
from optimizer.problem import VISITS_PER_SIDE, Problem, Slot
from optimizer.problem.transitions import may_begin, may_follow, transition

NIGHT = -1
FINER = 100  # whole numbers stand for slew rates; rounding them costs under 1 ms a night


def build(model: cp_model.CpModel, night: NightVars) -> None:
    """Lead a circuit through the visits with the motions between them, and keep twins in order."""
    nodes = {index: number for number, index in enumerate(night.visits, start=1)}
    empty = model.new_bool_var("night.empty")
    arcs: list[tuple[int, int, cp_model.LiteralT]] = [(0, 0, empty)]
    for index, visit in night.visits.items():
        arcs.append((nodes[index], nodes[index], ~visit.present))
        last = model.new_bool_var(f"arc{index}>{NIGHT}")
        night.arcs[index, NIGHT] = last
        arcs.append((nodes[index], 0, last))
        if may_begin(night.problem, visit.slot):
            first = model.new_bool_var(f"arc{NIGHT}>{index}") if visit.stays is None else visit.stays
            night.arcs[NIGHT, index] = first
            arcs.append((0, nodes[index], first))
            if visit.stays is None:
                _motion(model, night, None, visit, first)
            else:
                _go_on(model, night, visit, first)
        for other_index, other in night.visits.items():
            if other_index != index and may_follow(night.problem, visit.slot, other.slot):
                literal = model.new_bool_var(f"arc{index}>{other_index}")
                night.arcs[(index, other_index)] = literal
                arcs.append((nodes[index], nodes[other_index], literal))
                _motion(model, night, visit, other, literal)
    model.add_circuit(arcs)
    _twins(model, night)


def _go_on(model: cp_model.CpModel, night: NightVars, visit: VisitVars, literal: cp_model.IntVar) -> None:
    """Go on with what is tracked as the plan begins: nothing comes before, but for a dither that is due."""
    start = night.problem.start
    model.add_implication(literal, visit.present)
    model.add(visit.by_flip == 0).only_enforce_if(literal)
    model.add(visit.depart == start.at_s).only_enforce_if(literal)
    model.add(visit.ready >= start.at_s + start.lead_s(night.problem.rules)).only_enforce_if(literal)


def _motion(
    model: cp_model.CpModel,
    night: NightVars,
    before: VisitVars | None,
    after: VisitVars,
    literal: cp_model.IntVar,
) -> None:
    problem = night.problem
    start = problem.start.slot if before is None else before.slot
    acquire_s = problem.acquisition_s(start, after.slot)
    flips = problem.flips_between(start, after.slot)
    moving = transition(problem, start, after.slot)
    model.add_implication(literal, after.present)
    model.add(after.by_flip == int(flips)).only_enforce_if(literal)
    model.add(after.ready >= after.slot.work[0] + acquire_s).only_enforce_if(literal)
    arrive = after.ready - acquire_s
    if before is None:
        model.add(after.depart >= problem.start.at_s).only_enforce_if(literal)
    else:
        model.add_implication(literal, before.present)
        model.add(after.depart >= before.free).only_enforce_if(literal)
    if before is not None and not _may_have_to_wait(problem, before.slot, after.slot):
        model.add(arrive >= after.depart + moving.at_once_s).only_enforce_if(literal)
    else:
        # the mount stands while the sky turns: the longer the wait, the longer (or shorter) the way
        stands_s = 0 if start is None else problem.start.left_s  # home does not turn with the sky
        wait = after.depart - (stands_s if before is None else before.free)
        seconds = arrive - after.depart
        up, down = math.floor(moving.per_wait_s * FINER), math.ceil(moving.per_wait_s * FINER)
        model.add(seconds >= moving.floor_s).only_enforce_if(literal)
        model.add(seconds * up >= math.ceil(moving.ahead_s * up) + FINER * wait).only_enforce_if(literal)
        model.add(seconds * down >= math.ceil(moving.behind_s * down) - FINER * wait).only_enforce_if(literal)
    if after.slot.quiet and not flips:
        quiet_from, quiet_to = after.slot.quiet
        early = model.new_bool_var("")
        model.add(arrive <= quiet_from).only_enforce_if(literal, early)
        model.add(after.depart >= quiet_to).only_enforce_if(literal, ~early)


def _may_have_to_wait(problem: Problem, before: Slot, after: Slot) -> bool:
    shortest_s = min(problem.tasks[task].frame_s for task in before.shutter)
    return after.motion[0] > before.work[0] + shortest_s or after.quiet is not None


def _twins(model: cp_model.CpModel, night: NightVars) -> None:
    """Interchangeable visits are used in order; at most two on one target and side."""
    by_twin: dict[int, list[VisitVars]] = {}
    by_side: dict[tuple[str, str | None], list[cp_model.IntVar]] = {}
    for visit in night.visits.values():
        by_twin.setdefault(visit.slot.twin, []).append(visit)
        by_side.setdefault((visit.slot.target.name, visit.slot.side), []).append(visit.present)
    for twins in by_twin.values():
        for first, second in pairwise(twins):
            model.add_implication(second.present, first.present)
            model.add(second.depart >= first.free).only_enforce_if(second.present)
    for present in by_side.values():
        if len(present) > VISITS_PER_SIDE:
            model.add(sum(present) <= VISITS_PER_SIDE)
