"""A plan is a solution of the constraint model to the second, so that a search can start from it."""

from __future__ import annotations

import random

import pytest
from ortools.sat.python import cp_model

from optimizer.packing.model.build import build_model, hint_plan
from optimizer.packing.model.value import make_value
from optimizer.packing.plan import Plan, draft
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import following
from optimizer.problem import Problem
from tests.support.packing_nights import READY_S, Place, a_problem, goal

OPENS = 1000 + READY_S
EXPOSURES = (("L", 60.0), ("R", 40.0), ("L", 100.0), ("R", 130.0), ("L", 30.0))


def _accepted_profit(problem: Problem, plan: Plan) -> float | None:
    """What the model says of the plan, all that is hinted held fast; None where it refuses it."""
    model, night = build_model(problem)
    model.maximize(make_value(model, night).scaled)
    hint_plan(model, night, plan, scheduled(problem, plan))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.fix_variables_to_their_hinted_value = True
    return solver.objective_value if solver.solve(model) == cp_model.OPTIMAL else None


def _a_visit(seed: int, *, two_windows: bool = False) -> tuple[Problem, Plan]:
    """One target with up to five goals, some of the same filter, served in an order that is drawn."""
    rng = random.Random(seed)
    goals = [goal(name, exposure_s, rng.randint(1, 3)) for name, exposure_s in rng.sample(EXPOSURES, 5)]
    focus = {
        "every_min": rng.choice([0.0, 4.0, 9.0]),
        "on_filter_change": rng.random() < 0.5,
        "run_s": 30.0,
    }
    spans = ((OPENS, OPENS + 900), (OPENS + 1000, OPENS + 9000)) if two_windows else (OPENS, OPENS + 9000)
    place = Place("A", (1000, 20000), dict.fromkeys(range(5), spans))
    problem = a_problem([place], {"A": goals}, focus=focus, camera={"dither_every": rng.choice([0, 2])})
    order = rng.sample(problem.tasks, len(problem.tasks))
    runs = [(0, task.index, 0, task.frames_left, 0) for task in order]
    return problem, following(problem, draft(runs, problem))


@pytest.mark.parametrize("seed", range(60))
def test_the_model_takes_a_plan_as_it_is(seed: int) -> None:
    problem, plan = _a_visit(seed, two_windows=seed % 3 == 0)
    assert _accepted_profit(problem, plan) == profit_of(problem, plan) > 0


def test_runs_of_one_filter_may_stand_together() -> None:
    """First R, last R, between them L, L of another length, R: two changes, whatever the order in the file."""
    goals = [
        goal("L", 60.0, 1),
        goal("R", 40.0, 1),
        goal("L", 100.0, 1),
        goal("R", 130.0, 1),
        goal("R", 30.0, 1),
    ]
    problem = a_problem([Place("A", (1000, 20000))], {"A": goals})
    plan = following(problem, draft([(0, task, 0, 1, 0) for task in (3, 2, 0, 1, 4)], problem))
    assert [run.task for run in plan.visits[0].runs] == [3, 2, 0, 1, 4]
    assert _accepted_profit(problem, plan) == profit_of(problem, plan)


def test_runs_of_different_filters_may_stand_in_any_order() -> None:
    """Each has its own change and focus run, so any order of them is a plan, and the search may start from it."""
    filters = [{"name": name} for name in "LRGBS"]
    goals = [goal(name, 60.0, 1) for name in "LRGBS"]
    problem = a_problem([Place("A", (1000, 20000))], {"A": goals}, filters=filters)
    plan = following(problem, draft([(0, task, 0, 1, 0) for task in (4, 3, 1, 2, 0)], problem))
    assert [run.task for run in plan.visits[0].runs] == [4, 3, 1, 2, 0]
    assert _accepted_profit(problem, plan) == 5 * 60_000
