"""Among plans of the same profit: fewer moves, then visits nearer to their transit (higher sky)."""

from __future__ import annotations

from ortools.sat.python import cp_model

from optimizer.errors import SolverFailureError
from optimizer.packing.model.build import build_model, hint_plan, read_plan
from optimizer.packing.model.interruptible import run_solver
from optimizer.packing.model.search import make_solver
from optimizer.packing.model.value import make_value
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import scheduled
from optimizer.problem import Problem

# The plan with the higher sky is better among equals, but never at the price of a move.
MOVE_COST_S = 10 * 86400


def break_ties(problem: Problem, plan: Plan, profit: int, limit_s: float, workers: int) -> Plan:
    """Look for a plan of at least this profit with fewer moves or a higher sky, for so many seconds.

    The plan itself comes back where none is found. Raises KeyboardInterrupt where Ctrl-C comes while the
    model is built.
    """
    solver = make_solver(problem, limit_s, workers)
    solver.parameters.cp_model_presolve = workers == 1  # would take most of so short a search
    model, night = build_model(problem)
    value = make_value(model, night)
    model.add(value.at_least(profit))
    cost: list[cp_model.LinearExprT] = []
    for visit in night.visits.values():
        cost.append(MOVE_COST_S * visit.present)
        away = model.new_int_var(0, 4 * 86400, "")
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
