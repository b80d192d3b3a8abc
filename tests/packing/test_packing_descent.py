"""Prices moved down the slope of the bound: still valid, and sooner near it where there are many goals."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.packing import bound as bound_module
from optimizer.packing.bound.bounds import first_bounds, tighter_bounds
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.subgradient import Subgradient
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.compiled import Floats
from optimizer.packing.schedule import profit_of
from optimizer.packing.search.construct import constructed
from optimizer.problem import Problem
from tests.support.packing_nights import Place, a_problem, goal
from tests.support.packing_random import bound_night, optimum, random_problem


@pytest.mark.parametrize("seed", range(24))
def test_a_bound_found_by_descent_is_never_below_the_optimum(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On nights that would do without, against the exact optimum."""
    monkeypatch.setattr(bound_module, "MANY_TASKS", 0)
    problem = random_problem(seed + 1700, most_targets=2)
    best = optimum(problem, rows=True) if problem.slots else 0
    graph = RunGraph(problem)
    first = bound_night(graph, 0.05)
    assert best <= first.bound
    tighter = tighter_bounds(graph, first, 1.0, lambda: best, counted=True)
    assert all(best <= found.bound <= first.bound for found in tighter)


def test_with_many_goals_descent_says_more_in_the_same_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twenty targets with four goals each, three times what fits; work is counted, not timed."""
    problem = _many()
    assert len(problem.tasks) >= bound_module.MANY_TASKS
    with_descent = bound_night(RunGraph(problem), 1.0).bound
    monkeypatch.setattr(bound_module, "MANY_TASKS", 10_000)
    without = bound_night(RunGraph(problem), 1.0).bound
    assert profit_of(problem, constructed(problem)) <= with_descent < without


def test_a_hope_too_high_does_little_harm() -> None:
    """Steps towards it would have no length: the linear programme alone must go on."""
    problem = _many()
    graph = RunGraph(problem)
    *_, hoped = first_bounds(graph, 1.0, None, lambda: float(problem.most_profit))
    assert hoped.bound <= 1.02 * bound_night(graph, 1.0).bound


def test_a_step_makes_dearer_what_a_path_takes_too_often() -> None:
    """Cheaper what it leaves; nothing below 0; no step at all where there is nothing left to win."""
    problem = _many()
    graph = RunGraph(problem)
    caps: Floats = np.full(len(problem.tasks), 3.0)  # of five: some goals are taken too often
    descent = Subgradient(graph.rows, caps, np.array([float(task.profit) for task in problem.tasks]), 1.0)
    prices = 0.2 * descent.units  # none is 0, so that each may fall
    path = TimeExpandedGraph(graph, 60, join_arcs=True).best_columns(prices, 1)[0]
    bound = path.value + float(prices[: len(caps)] @ caps)
    assert np.array_equal(descent.next(prices, path, bound, bound), prices)
    moved = Subgradient(graph.rows, caps, descent.units[: len(caps)], 1.0).next(
        prices, path, bound, 0.8 * bound
    )
    assert moved.min() >= 0.0
    left = caps - path.frames()
    assert (left > 0).any()
    assert (left < 0).any()
    assert (moved[: len(caps)] < prices[: len(caps)])[left > 0].all()
    assert (moved[: len(caps)] > prices[: len(caps)])[left < 0].all()


def test_the_first_step_is_that_of_the_book() -> None:
    """Polyak's: the gap over the squared slope times the slope, in units of each price."""
    problem = _many()
    graph = RunGraph(problem)
    caps: Floats = np.array([float(task.frames_left) for task in problem.tasks])
    descent = Subgradient(graph.rows, caps, np.array([float(task.profit) for task in problem.tasks]), 1.0)
    prices: Floats = np.where(descent.units > 0, 1e6, 0.0)  # far from 0, so that none is cut off
    path = TimeExpandedGraph(graph, 60, join_arcs=True).best_columns(np.zeros(len(caps)), 1)[0]
    slope = np.concatenate([caps - path.frames(), -graph.rows.balance(path.walk)]) * descent.units
    moved = descent.next(prices, path, 5000.0, 4000.0)
    assert np.allclose(moved, prices - 1000.0 / (slope @ slope) * slope * descent.units, rtol=1e-12)


def _many() -> Problem:
    """Twenty targets, side by side in pairs."""
    names = [f"T{number:02}" for number in range(20)]
    places = [Place(name, (1000 + 300 * at, 4000 + 320 * at)) for at, name in enumerate(names)]
    goals = {
        name: [goal(each, 60.0 + at, 5) for each in ("L", "R", "G", "B")] for at, name in enumerate(names)
    }
    return a_problem(places, goals, filters=[{"name": each} for each in ("L", "R", "G", "B")])
