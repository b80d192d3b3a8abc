"""The search as a whole: what it calls proven, what ends it, what it may not lose; it repeats itself."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from optimizer.errors import SolverFailureError
from optimizer.packing import phases
from optimizer.packing.bound import bounds as bounds_module
from optimizer.packing.bound.bounds import NightBound
from optimizer.packing.budget import Budget
from optimizer.packing.model import search as model_search
from optimizer.packing.model import ties
from optimizer.packing.model.build import build_model, hint_plan
from optimizer.packing.model.rules import night_length
from optimizer.packing.model.value import make_value
from optimizer.packing.model.variables import NightVars
from optimizer.packing.parameters import DEFAULT
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import Schedule, profit_of, scheduled
from optimizer.packing.search.construct import constructed
from optimizer.packing.solve import solve
from optimizer.problem import Problem
from tests.support.packing_nights import READY_S, SHUTTER_S, Place, a_problem, frames, goal, proven
from tests.support.packing_random import crowded, optimum, outline, random_problem
from tests.support.speeds import deep

OPENS = 1000 + READY_S


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10**9))
def test_first_plan_lays_out_and_wants_no_more_than_is_left(seed: int) -> None:
    problem = random_problem(seed, most_targets=4)
    plan = constructed(problem)
    schedule = scheduled(problem, plan)  # raises where a window, the cadence or the quiet time is broken
    counted = [0] * len(problem.tasks)
    for visit in plan:
        for run in visit.runs:
            counted[run.task] += run.frames
    assert all(count <= task.frames_left for count, task in zip(counted, problem.tasks, strict=True))
    for in_time in schedule:
        open_s = sum(problem.tasks[task].goal.exposure_s for task, _ in in_time.exposures)
        assert open_s >= in_time.slot.target.least_min * 60


@pytest.mark.parametrize("seed", range(30))
def test_rows_that_carry_the_bound_cut_no_plan(seed: int) -> None:
    problem = random_problem(seed, most_targets=2)
    if not problem.slots:
        problem = random_problem(seed + 1000, most_targets=2)
    with_rows = optimum(problem, rows=True)
    assert with_rows == optimum(problem, rows=False)
    assert with_rows >= profit_of(problem, constructed(problem))
    solution = proven(problem)
    assert solution.profit == with_rows
    assert profit_of(problem, solution.plan) == with_rows


def test_rows_that_carry_the_bound_exist_where_too_much_is_wanted() -> None:
    """Otherwise the test above would compare nothing."""
    made = 0
    for seed in range(30):
        problem = random_problem(seed, most_targets=2)
        model, night = build_model(problem)
        before = len(model.proto.constraints)
        night_length.build(model, night)
        made += len(model.proto.constraints) - before
    assert made > 20


# --- statuses ------------------------------------------------------------------------------------------


def test_proven_means_that_value_and_bound_are_one() -> None:
    solution = proven(random_problem(3))
    assert (solution.status, solution.gap, solution.ended) == ("optimal", 0.0, "gap")


def test_nothing_to_do_is_proven_too() -> None:
    solution = solve(a_problem([], {"A": [goal()]}))
    assert (solution.plan, solution.schedule) == (Plan(), Schedule())
    assert (solution.profit, solution.bound) == (0, 0)
    assert (solution.status, solution.gap, solution.ended) == ("optimal", 0.0, "gap")


def test_near_enough_is_feasible_within_the_gap_asked_for() -> None:
    """With a gap of 30 % the search ends at the first plan that is proven so near."""
    solution = solve(crowded(gap=0.3))
    assert (solution.status, solution.ended) == ("feasible", "gap")
    assert 0 < solution.gap <= 0.3
    assert solution.gap == (solution.bound - solution.profit) / solution.profit


def test_bound_is_never_below_what_is_possible() -> None:
    for seed in range(8):
        best = proven(random_problem(seed)).profit
        loose = solve(random_problem(seed, gap=1.0))
        assert loose.profit <= best <= loose.bound


def test_time_limit_ends_the_search_with_a_plan() -> None:
    """A first plan is at hand before the search begins, so even no time at all is enough for one."""
    solution = solve(crowded(time_limit_s=0.001))
    assert (solution.status, solution.ended) == ("feasible", "time")
    assert solution.profit >= profit_of(crowded(), constructed(crowded())) > 0


@pytest.mark.parametrize("workers", [1, 2])
def test_search_that_finds_nothing_better_ends_before_its_time(
    workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beside it a bound that never falls and never ends by itself: nobody waits for it."""

    def endless(_: object, bound: NightBound, budget: Budget, *__: object) -> Iterator[NightBound]:
        while not budget.is_over:
            budget.spend(1e7)
            time.sleep(0.001)
            yield bound

    monkeypatch.setattr(phases, "tighter_bounds", endless)
    few = replace(DEFAULT.turns, tries=(20,), most_in_vain=5)
    parameters = replace(DEFAULT, few_runs=0, turns=few)
    problem = crowded(workers=workers, gap=0.0, time_limit_s=1.0 if workers == 1 else 60.0)
    solution = solve(problem, parameters=parameters)
    assert (solution.status, solution.ended) == ("feasible", "settled")
    assert workers == 1 or solution.seconds < 50


@pytest.fixture
def heeded() -> Iterator[None]:
    """Ctrl-C is heard: a shell's background jobs are started deaf to it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def test_a_plan_that_meets_the_bound_ends_the_search_for_bounds(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = a_problem([Place("A", (1000, 90_000))], {"A": [goal(frames=3)]})
    asked: list[int] = []

    def bounds(*_: object, **__: object) -> Iterator[NightBound]:
        for number, bound in enumerate((9 * 60_000, 3 * 60_000, 3 * 60_000)):
            asked.append(number)
            yield replace(NightBound.trivial(problem), bound=bound)

    monkeypatch.setattr(bounds_module, "ceiling", lambda _: 9 * 60_000)  # else it is proven by sums
    monkeypatch.setattr(phases, "first_bounds", bounds)
    assert solve(problem).status == "optimal"
    assert asked == [0, 1]


@pytest.mark.parametrize("seed", [3, 6, 7, 8, 9])
def test_a_night_of_few_runs_is_proven_before_the_long_search(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    def searched(*_: object) -> None:
        raise RuntimeError("searched")

    monkeypatch.setattr(phases, "tighter_bounds", searched)
    problem = random_problem(seed)
    assert solve(problem).profit == optimum(problem, rows=False)
    for parameters in (replace(DEFAULT, few_runs=0), replace(DEFAULT, constraint_model=False)):
        with pytest.raises(RuntimeError, match="searched"):
            solve(problem, parameters=parameters)


@pytest.mark.usefixtures("heeded")
def test_interrupt_keeps_the_best_plan_so_far() -> None:
    """Ctrl-C while the solver runs: it ends early, the plan stays and is called what it is."""
    told: list[float] = []

    def interrupt(seconds: float, value: float, bound: float) -> None:
        told.append(value)
        if len(told) == 1:
            os.kill(os.getpid(), signal.SIGINT)

    solution = solve(crowded(workers=2, time_limit_s=300.0), interrupt)
    assert told
    assert (solution.status, solution.ended) == ("stopped", "interrupted")
    assert solution.profit > 0
    assert solution.seconds < 60
    assert scheduled(crowded(), solution.plan) == solution.schedule


@pytest.mark.usefixtures("heeded")
def test_interrupt_keeps_the_best_plan_of_the_solver_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same once the solver itself runs, which would catch the signal: with no bound before it."""
    running = threading.Event()
    inner = model_search.search

    def search(*given: Any, **named: Any) -> model_search.Answer:
        running.set()
        threading.Timer(0.5, os.kill, (os.getpid(), signal.SIGINT)).start()
        return inner(*given, **named)

    monkeypatch.setattr(phases, "search", search)
    parameters = replace(DEFAULT, bound_share=0.0, few_share=1.0)
    solution = solve(crowded(workers=2, time_limit_s=300.0), parameters=parameters)
    assert running.is_set()
    assert solution.status == "stopped"
    assert solution.profit > 0
    assert solution.seconds < 60
    assert scheduled(crowded(), solution.plan) == solution.schedule


@pytest.mark.parametrize("phase", [1, 2])
def test_interrupt_between_two_phases_keeps_the_best_plan_so_far(
    phase: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Models are built by Python, where Ctrl-C raises: the plan at hand must not be lost with it."""
    built: list[int] = []

    def interrupted(problem: Problem) -> tuple[cp_model.CpModel, NightVars]:
        built.append(1)
        if len(built) == phase:
            raise KeyboardInterrupt
        return build_model(problem)

    for module in (model_search, ties):
        monkeypatch.setattr(module, "build_model", interrupted)
    try:
        solution = solve(crowded(time_limit_s=1.0))
    except KeyboardInterrupt:
        pytest.fail("the plan at hand was lost")
    assert len(built) >= phase
    assert solution.profit >= profit_of(crowded(), constructed(crowded())) > 0
    assert solution.status in ("stopped", "feasible")
    assert solution.status == "stopped" or phase == 2  # the last phase only chooses among equals
    assert scheduled(crowded(), solution.plan) == solution.schedule


def test_progress_is_told_in_weighted_seconds() -> None:
    told: list[tuple[float, float, float]] = []
    problem = random_problem(5)
    solution = solve(problem, lambda *values: told.append(values))
    assert told
    for _, value, bound in told:
        assert 0 <= value <= solution.profit / 1000 + 1e-6
        assert bound >= value - 1e-6


# --- defects must be loud ------------------------------------------------------------------------------


def searched(problem: Problem) -> object:
    """The constraint search by itself: an easy night is proven before it begins."""
    solver = model_search.make_solver(problem, 5.0, 1)
    return model_search.search(problem, Plan(), solver, model_search.Watch(problem, None))


def test_invalid_model_is_no_empty_night(monkeypatch: pytest.MonkeyPatch) -> None:
    def spoiled(problem: Problem) -> tuple[cp_model.CpModel, NightVars]:
        model, night = build_model(problem)
        big = model.new_int_var(0, 2**62, "")
        model.add(sum([4 * big] * 4) >= 0)  # overflows the solver's whole numbers
        return model, night

    monkeypatch.setattr(model_search, "build_model", spoiled)
    with pytest.raises(SolverFailureError, match="MODEL_INVALID"):
        searched(random_problem(5))


def test_impossible_model_is_no_empty_night(monkeypatch: pytest.MonkeyPatch) -> None:
    """An empty night is always possible, so a model without any solution is wrong."""

    def spoiled(problem: Problem) -> tuple[cp_model.CpModel, NightVars]:
        model, night = build_model(problem)
        model.add_bool_or([])
        return model, night

    monkeypatch.setattr(model_search, "build_model", spoiled)
    with pytest.raises(SolverFailureError, match="INFEASIBLE"):
        searched(random_problem(5))


def hinted(model: cp_model.CpModel) -> dict[int, int]:
    hint = model.proto.solution_hint
    assert len(set(hint.vars)) == len(hint.vars), "a variable is hinted twice: the model is invalid"
    return dict(zip(hint.vars, hint.values, strict=True))


def test_hints_of_an_earlier_phase_are_cleared() -> None:
    """Stale hints made a third solve return an invalid model as an empty night elsewhere."""
    problem = random_problem(5)
    best = proven(problem).plan
    model, night = build_model(problem)
    hint_plan(model, night, best, scheduled(problem, best))
    wanted = hinted(model)
    hint_plan(model, night, Plan(), Schedule())
    empty = hinted(model)
    assert 1 not in {empty[night.visits[visit.slot].present.index] for visit in best}
    hint_plan(model, night, best, scheduled(problem, best))
    assert hinted(model) == wanted
    assert model.validate() == ""


def test_hint_is_a_whole_plan_that_the_model_accepts() -> None:
    """All that is hinted, fixed: the model must allow it, or the hint is worth nothing."""
    for seed in range(12):
        problem = random_problem(seed)
        plan = constructed(problem)
        model, night = build_model(problem)
        hint_plan(model, night, plan, scheduled(problem, plan))
        for index, value in hinted(model).items():
            variable = model.get_int_var_from_proto_index(index)
            model.add(variable == value)
        model.maximize(make_value(model, night).scaled)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        assert solver.solve(model) == cp_model.OPTIMAL
        assert round(solver.objective_value) == profit_of(problem, plan)


def test_choosing_among_equal_plans_loses_nothing() -> None:
    """The phase that breaks ties has a limit of its own; whatever it finds is worth as much."""
    for limit_s in (0.01, 20.0):
        solution = solve(random_problem(11, time_limit_s=limit_s, gap=1.0))
        assert solution.profit == profit_of(random_problem(11), solution.plan)


# --- one worker and a seed: the same plan every time ---------------------------------------------------

AGAIN = """
import json
from tests.support.packing_random import outline
print(json.dumps(outline()))
"""


@deep
def test_one_worker_and_a_seed_give_the_same_plan_whatever_the_hash_seed() -> None:
    here = json.loads(json.dumps(outline()))
    assert here[2] == "feasible"
    assert json.loads(json.dumps(outline())) == here
    for hash_seed in ("1", "4242"):
        run = subprocess.run(
            [sys.executable, "-c", AGAIN],
            cwd=Path(__file__).parents[2],
            env={**os.environ, "PYTHONHASHSEED": hash_seed},
            capture_output=True,
            text=True,
            check=True,
        )
        assert json.loads(run.stdout) == here


def test_seed_is_handed_to_the_solver() -> None:
    solvers = [model_search.make_solver(crowded(seed=seed), 1.0, 1) for seed in (1, 77)]
    assert [solver.parameters.random_seed for solver in solvers] == [1, 77]


def test_frames_are_those_of_the_plan() -> None:
    solution = proven(random_problem(7))
    counted: dict[int, int] = {}
    for visit in solution.plan:
        for run in visit.runs:
            counted[run.task] = counted.get(run.task, 0) + run.frames
    assert frames(solution) == counted


def test_window_that_ends_before_anything_is_ready_is_never_entered() -> None:
    problem = a_problem([Place("A", (1000, OPENS + SHUTTER_S - 1))], {"A": [goal()]})
    assert proven(problem).plan == Plan()
    assert constructed(problem) == Plan()
    assert constructed(replace(problem, slots=())) == Plan()
