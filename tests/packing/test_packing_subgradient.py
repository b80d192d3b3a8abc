"""Duals moved down the slope of the bound: still valid, and sooner near it where there are many goals."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.packing.bound.bounds import first_bounds, tighter_bounds
from optimizer.packing.bound.cuts.cut_list import CutList
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.subgradient import Subgradient
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.budget import Budget
from optimizer.packing.compiled import Floats
from optimizer.packing.parameters import BoundParameters
from optimizer.packing.schedule import profit_of
from optimizer.packing.search.construct import constructed
from optimizer.problem import Problem
from tests.support.packing_nights import Place, a_problem, goal
from tests.support.packing_random import bound_night, optimum, random_problem


@pytest.mark.parametrize("seed", range(24))
def test_a_bound_by_subgradient_is_never_below_the_optimum(seed: int) -> None:
    """On nights that would do without, against the exact optimum."""
    problem = random_problem(seed + 1700, most_targets=2)
    best = optimum(problem, rows=True) if problem.slots else 0
    graph = RunGraph(problem, BoundParameters(many_tasks=0))
    first = bound_night(graph, 0.05)
    assert best <= first.bound
    tighter = tighter_bounds(graph, first, Budget(1.0, deterministic=True), lambda: best)
    assert all(best <= found.bound <= first.bound for found in tighter)


def test_with_many_goals_the_subgradient_says_more_in_the_same_time() -> None:
    """Twenty targets with four goals each, three times what fits; work is counted, not timed."""
    problem = _many()
    assert len(problem.tasks) >= BoundParameters().many_tasks
    sooner = bound_night(RunGraph(problem), 1.0).bound
    without = bound_night(RunGraph(problem, BoundParameters(many_tasks=10_000)), 1.0).bound
    assert profit_of(problem, constructed(problem)) <= sooner < without


def test_a_hope_too_high_does_little_harm() -> None:
    """Steps towards it would have no length: the master alone must go on."""
    problem = _many()
    graph = RunGraph(problem)
    *_, hoped = first_bounds(graph, Budget(1.0, deterministic=True), None, lambda: float(problem.most_profit))
    assert hoped.bound <= 1.02 * bound_night(graph, 1.0).bound


def test_a_step_raises_duals_of_what_a_column_takes_too_often() -> None:
    """It lowers those of what is left; none falls below 0; there is no step where nothing is left to win."""
    graph = RunGraph(_many())
    cuts = CutList(graph)
    caps = len(graph.problem.tasks)
    cuts.rhs[:caps] = 3.0  # of five: some goals are taken too often
    start: Floats = 0.2 * Subgradient(cuts, 1.0).units  # none is 0, so that each may fall
    column = TimeExpandedGraph(graph, 60, join_arcs=True).best_columns(1, cuts.reduction(start))[0]
    bound = column.value
    assert np.array_equal(Subgradient(cuts, 1.0).next(start, column, bound, bound), start)
    after = Subgradient(cuts, 1.0).next(start, column, bound, 0.8 * bound)
    assert after.min() >= 0.0
    left = (cuts.rhs - cuts.coefficients(column.runs))[:caps]
    assert (left > 0).any()
    assert (left < 0).any()
    assert (after[:caps] < start[:caps])[left > 0].all()
    assert (after[:caps] > start[:caps])[left < 0].all()


def test_the_first_step_is_that_of_the_book() -> None:
    """Polyak's: the gap over the squared slope times the slope, in units of each dual."""
    graph = RunGraph(_many())
    cuts = CutList(graph)
    subgradient = Subgradient(cuts, 1.0)
    start: Floats = np.where(subgradient.units > 0, 1e6, 0.0)  # far from 0, so that none is cut off
    column = TimeExpandedGraph(graph, 60, join_arcs=True).best_columns(1)[0]
    slope = (cuts.rhs - cuts.coefficients(column.runs)) * subgradient.units
    after = subgradient.next(start, column, 5000.0, 4000.0)
    assert np.allclose(after, start - 1000.0 / (slope @ slope) * slope * subgradient.units, rtol=1e-12)


def _many() -> Problem:
    """Twenty targets, side by side in pairs."""
    names = [f"T{number:02}" for number in range(20)]
    places = [Place(name, (1000 + 300 * at, 4000 + 320 * at)) for at, name in enumerate(names)]
    goals = {
        name: [goal(each, 60.0 + at, 5) for each in ("L", "R", "G", "B")] for at, name in enumerate(names)
    }
    return a_problem(places, goals, filters=[{"name": each} for each in ("L", "R", "G", "B")])
