"""Among plans of the same profit: fewer moves, then farther from contact, then the higher sky.

A visit that goes on as the plan begins needs no move; to leave what could go on counts as one more.
"""

from __future__ import annotations

from ortools.sat.python import cp_model

from optimizer.errors import SolverFailureError
from optimizer.models.rig import SIDES
from optimizer.packing.model.build import build_model, hint_plan, read_plan
from optimizer.packing.model.interruptible import run_solver
from optimizer.packing.model.search import make_solver
from optimizer.packing.model.value import make_value
from optimizer.packing.model.variables import NightVars
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import scheduled
from optimizer.problem import Problem

# Twice the most that the middle of a visit can be away from its transit. What comes first is never given up
# for what comes next: a second nearer to contact costs more than all visits' sky, a move more than any time.
MOST_AWAY = 4 * 86400
MOST_NEAR_S = 86400


def break_ties(problem: Problem, plan: Plan, profit: int, limit_s: float, workers: int) -> Plan:
    """Look for a plan of at least this profit: fewer moves, farther from contact, a higher sky.

    It looks for so many seconds.

    The plan itself comes back where none is found. Raises KeyboardInterrupt where Ctrl-C comes while the
    model is built.
    """
    solver = make_solver(problem, limit_s, workers)
    solver.parameters.cp_model_presolve = workers == 1  # would take most of so short a search
    model, night = build_model(problem)
    value = make_value(model, night)
    model.add(value.at_least(profit))
    near = _nearest(model, night)
    near_cost = 1 + MOST_AWAY * len(night.visits)
    cost: list[cp_model.LinearExprT] = [near_cost * near]
    for visit in night.visits.values():
        cost.append(near_cost * MOST_NEAR_S * visit.present)
        if visit.stays is not None:
            cost.append(-2 * near_cost * MOST_NEAR_S * visit.stays)
        away = model.new_int_var(0, MOST_AWAY, "")
        twice_transit = 2 * visit.slot.transit_s()
        middle_twice = visit.depart + visit.free
        model.add(away >= middle_twice - twice_transit).only_enforce_if(visit.present)
        model.add(away >= twice_transit - middle_twice).only_enforce_if(visit.present)
        cost.append(away)
    model.minimize(sum(cost))
    hint_plan(model, night, plan, scheduled(problem, plan))
    value.hint(model, plan)
    status, _ = run_solver(solver, model)
    if status == cp_model.MODEL_INVALID:
        raise SolverFailureError(model.validate())
    return read_plan(night, solver) if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else plan


def _nearest(model: cp_model.CpModel, night: NightVars) -> cp_model.IntVar:
    """How many seconds past its transit the first side is used, in the visit that does so longest.

    Where a flip follows for which the mount tracks on, it counts until the flip. Before the transit it is 0.
    """
    near = model.new_int_var(0, MOST_NEAR_S - 1, "near")
    problem = night.problem
    for index, visit in night.visits.items():
        if visit.slot.side != SIDES[0]:
            continue
        transit = visit.slot.transit_s()
        model.add(near >= visit.free - transit).only_enforce_if(visit.present)
        for (before, after), literal in night.arcs.items():
            if before == index and after >= 0:
                follower = night.visits[after]
                if problem.tracks_to_flip(visit.slot, follower.slot):
                    model.add(near >= follower.depart - transit).only_enforce_if(literal)
    return near
