"""Plans that serve filter sets: what the searches count, what the model proves, and what comes of it."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from itertools import permutations, product
from typing import Any

import numpy as np
import pytest
from numba import njit
from ortools.sat.python import cp_model

from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.packing.model.build import build_model, hint_plan
from optimizer.packing.model.search import Watch, make_solver, search
from optimizer.packing.model.ties import break_ties
from optimizer.packing.model.value import can_count, make_value
from optimizer.packing.plan import Plan, Run, Visit
from optimizer.packing.schedule import DoesNotFit, gathered_by, profit_of, scheduled
from optimizer.packing.search.construct import _GrowingPlan, constructed
from optimizer.packing.search.promises import promises_of
from optimizer.packing.search.ruin_and_recreate import RuinAndRecreate, sets_of
from optimizer.packing.search.set_loops import Sets, Standing, more_to_level, worth, worth_of_more
from optimizer.problem import Problem
from optimizer.problem.filter_sets import Worth, filter_sets_of
from optimizer.timeline.totals import frames_planned
from tests.support.packing_judge import broken_rules
from tests.support.packing_nights import FRAME_S, READY_S, Place, a_problem, goal, under_sky
from tests.support.packing_random import random_problem

OPENS = 1000 + READY_S
BALANCES = (Fraction(3, 10), Fraction(1), Fraction(137, 1000))
FOUR = ("L", "R", "G", "B")


def with_sets(problem: Problem, done: list[int], balance: Fraction = BALANCES[0]) -> Problem:
    """The same night, all goals of each target a set; so many frames of each are in hand beside those left."""
    tasks = tuple(
        replace(
            task,
            goal=task.goal.model_copy(update={"frames": task.frames_left + more, "done": more}),
            whole_profit=Fraction(task.profit),
        )
        for task, more in zip(problem.tasks, done, strict=True)
    )
    return replace(problem, tasks=tasks, worth=Worth(balance, filter_sets_of(tasks)))


def drawn(seed: int) -> Problem:
    """A drawn night with sets and uneven frames in hand; on every third one the sky changes all the time."""
    rng, by_sky = random.Random(seed), seed % 3 == 0
    problem = random_problem(seed, gap=0.0, value="depth" if by_sky else "hours")
    done = [rng.choice([0, rng.randint(1, 9)]) for _ in problem.tasks]
    problem = with_sets(problem, done, BALANCES[seed % 2])
    if not by_sky:
        return problem
    most = min(task.profit for task in problem.tasks)
    return under_sky(problem, np.random.default_rng(seed).integers(1, most, 9000))


def a_set(frames: list[int], seconds: int, done: list[int]) -> Problem:
    """One target with up to four goals of one filter each, and a window of so many seconds."""
    goals = [goal(name, 60.0, count) for name, count in zip(FOUR, frames, strict=False)]
    place = Place("A", (1000, OPENS + seconds), dict.fromkeys(range(len(frames)), (OPENS, OPENS + seconds)))
    filters = [{"name": name} for name in FOUR]
    return with_sets(a_problem([place], {"A": goals}, filters=filters), done)


def _counted(sets: Sets, standing: Standing, task: int, more: float) -> tuple[float, float, float]:
    value = worth(sets, standing)
    return value, worth_of_more(sets, standing, task, more), more_to_level(sets, standing, task)


counted: Any = njit(_counted)


def a_state(seed: int) -> tuple[Problem, list[int], Standing]:
    """Two targets with sets of two to seven goals, and what a night gathers of each: nothing, some or all."""
    rng = random.Random(seed)
    goals = {
        name: [
            goal(rng.choice("LR"), 30.0 + place, rng.randint(1, 9), gain=place)
            for place in range(rng.randint(2, 7))
        ]
        for name in "AB"
    }
    problem = a_problem([Place(name, (1000, 9000)) for name in "AB"], goals)
    problem = with_sets(
        problem, [rng.choice([0, rng.randint(1, 9)]) for _ in problem.tasks], BALANCES[seed % 3]
    )
    gathered = [task.profit * rng.choice([0, rng.randint(0, task.frames_left)]) for task in problem.tasks]
    standing = Standing(
        np.array(gathered, dtype=np.float64),
        np.zeros(len(gathered)),
        sets_of(problem.worth, len(problem.tasks)).members.copy(),
    )
    return problem, gathered, standing


@pytest.mark.parametrize("seed", range(40))
def test_loops_count_what_the_law_says(seed: int) -> None:
    problem, gathered, standing = a_state(seed)
    law, sets = problem.worth, sets_of(problem.worth, len(problem.tasks))
    for task in problem.tasks:
        left = task.frames_left * task.profit - gathered[task.index]
        for more in {0, task.profit, left // 3, left}:
            value, gain, to_level = counted(sets, standing, task.index, float(min(more, left)))
            assert value == pytest.approx(law.profit(gathered), abs=1.001)
            assert gain == pytest.approx(float(law.gain(gathered, {task.index: min(more, left)})), abs=1e-3)
        if 1 < to_level < left - 1:  # as far as the level all is worth the same, beyond it less
            first = counted(sets, standing, task.index, 1.0)[1]
            assert counted(sets, standing, task.index, to_level)[1] == pytest.approx(first * to_level)
            beyond = counted(sets, standing, task.index, float(left))[1]
            assert beyond < first * left * (1 - 1e-9)


@pytest.mark.parametrize("seed", range(40))
def test_gain_is_what_the_profit_grows_by(seed: int) -> None:
    problem, gathered, _ = a_state(seed)
    law = problem.worth
    for target in "AB":
        more = {
            task.index: task.frames_left * task.profit - gathered[task.index]
            for task in problem.tasks
            if task.target.name == target
        }
        grown = [profit + more.get(index, 0) for index, profit in enumerate(gathered)]
        gain = law.gain(gathered, more)
        assert abs(law.profit(grown) - law.profit(gathered) - gain) < 1
        assert gain <= sum(law.most_share(index) * profit for index, profit in more.items())


@pytest.mark.parametrize("seed", range(30))
def test_search_makes_no_plan_worse_and_breaks_no_rule(seed: int) -> None:
    problem = drawn(seed + 300)
    start = constructed(problem)
    assert not broken_rules(problem, start)
    graph = RunGraph(problem)
    if not graph.nodes:
        return
    budget = Budget(0.05, deterministic=True)
    plan = RuinAndRecreate(graph).improve(start, budget, np.random.default_rng(seed))
    assert profit_of(problem, plan) >= profit_of(problem, start)
    assert not broken_rules(problem, plan)


@pytest.mark.parametrize("seed", range(30))
def test_visit_pays_no_more_than_is_promised(seed: int) -> None:
    problem = drawn(seed + 900)
    plan = _GrowingPlan.empty(problem)
    ranked = promises_of(problem).ranked(None, plan.night.free, plan.left, heaviest_first=False)
    promised = {slot: rank[1] for rank, slot in ranked}
    for slot in problem.slots:
        offer = plan.fullest(slot)
        assert offer is None or offer[0] <= promised[slot.index]


def found(problem: Problem, seconds: float = 0.2) -> list[int]:
    """Frames by task of the plan that ruin and recreate come to."""
    search = RuinAndRecreate(RunGraph(problem))
    plan = search.improve(constructed(problem), Budget(seconds, deterministic=True), np.random.default_rng(1))
    planned = frames_planned(plan)
    return [planned[task.index] for task in problem.tasks]


def test_filter_that_is_behind_comes_first() -> None:
    """Of a set three filters are half done, and blue is not begun: a short night goes to blue."""
    problem = a_set([20, 20, 20, 40], 9 * FRAME_S, done=[20, 20, 20, 0])
    assert found(problem) == [0, 0, 0, 9]
    assert found(replace(problem, worth=Worth())) != [0, 0, 0, 9]


def test_blue_catches_up_and_then_both_go_on() -> None:
    """Time for more than blue needs to reach the other: what is beyond is shared, not spent on blue alone."""
    problem = a_set([60, 80], 40 * FRAME_S + 158, done=[20, 0])
    assert found(problem) == [10, 30]


def test_even_sets_grow_evenly() -> None:
    problem = a_set([40, 40], 24 * FRAME_S + 158, done=[5, 5])
    assert found(problem) == [12, 12]
    assert max(found(replace(problem, worth=Worth()))) > 12


def best_by_trying(problem: Problem) -> int:
    """The greatest profit of all plans of one visit: every order of every choice of goals and frames."""
    most, spans = 0, problem.slots[0].shutter
    for counts in product(*(range(task.frames_left + 1) for task in problem.tasks)):
        chosen = [index for index, count in enumerate(counts) if count]
        for order in permutations(chosen):
            runs = tuple(Run(index, (counts[index],), spans[index][0], focus_first=True) for index in order)
            plan = Plan((Visit(0, runs),)) if runs else Plan()
            try:
                most = max(most, problem.worth.profit(gathered_by(problem, scheduled(problem, plan))))
            except DoesNotFit:
                continue
    return most


@pytest.mark.parametrize("seed", range(12))
def test_model_proves_what_trying_all_plans_finds(seed: int) -> None:
    rng = random.Random(seed)
    frames = [rng.randint(1, 4) for _ in range(rng.choice([2, 3, 3]))]
    problem = a_set(frames, rng.randint(4, 14) * 60, done=[rng.randint(0, 5) for _ in frames])
    answer = search(problem, Plan(), make_solver(problem, 20.0, 1), Watch(problem, None))
    assert profit_of(problem, answer.plan) == answer.bound == best_by_trying(problem)


@pytest.mark.parametrize("seed", [seed for seed in range(24) if seed % 3])
def test_model_takes_a_plan_at_its_worth(seed: int) -> None:
    """All that is hinted held fast: the objective is the plan's profit, but for what rounding may lose."""
    problem = drawn(seed + 42)
    plan = constructed(problem)
    model, night = build_model(problem)
    value = make_value(model, night)
    profit = profit_of(problem, plan)
    for row in (value.at_most(profit), value.at_most(profit + 5)):
        model.add(row)
    model.maximize(value.scaled)
    hint_plan(model, night, plan, scheduled(problem, plan))
    value.hint(model, plan)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.fix_variables_to_their_hinted_value = True
    assert solver.solve(model) == cp_model.OPTIMAL
    assert profit <= value.bound_of(solver.objective_value) <= profit + 1


@pytest.mark.parametrize("seed", [seed for seed in range(12) if seed % 3])
def test_choice_among_equals_loses_nothing(seed: int) -> None:
    problem = drawn(seed + 81)
    plan = constructed(problem)
    chosen = break_ties(problem, plan, profit_of(problem, plan), 5.0, 1)
    assert profit_of(problem, chosen) >= profit_of(problem, plan)


def test_model_leaves_out_sets_of_very_many_goals() -> None:
    goals = [goal("L", 30.0 + place, 3) for place in range(9)]
    problem = a_problem([Place("A", (1000, 9000))], {"A": goals})
    assert can_count(problem)
    assert not can_count(with_sets(problem, [0] * 9))
    assert can_count(with_sets(a_problem([Place("A", (1000, 9000))], {"A": goals[:8]}), [1] * 8))
