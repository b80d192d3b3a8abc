"""The cut by stays: the caps of a target's goals hold for each stay with it."""

from __future__ import annotations

import pytest

from optimizer.models.rig import PierSide
from optimizer.packing.bound.bounds import tighter_bounds
from optimizer.packing.bound.cuts.stays import stays
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.problem import Problem
from tests.support.packing_nights import OPENS_AFTER_FLIP_S, READY_S, Place, a_problem, goal
from tests.support.packing_random import (
    bound_night,
    column_runs,
    first_path,
    optimum,
    random_problem,
    without,
)


@pytest.mark.parametrize("seed", range(40))
def test_no_plan_takes_more_than_its_stays_give(seed: int) -> None:
    graph, runs = first_path(seed + 2100)
    cut = stays(graph)
    assert (cut.coefficients(column_runs(graph, runs)) <= cut.rhs).all()


def _two_sides() -> Problem:
    """Two targets with four frames each; a night in which eight fit if all are taken of one of them.

    After a flip without a focus run or a change of filter: less than after a slew.
    """
    ends = 1000 + READY_S + 8 * 63 + OPENS_AFTER_FLIP_S
    sides: tuple[tuple[PierSide, int], ...] = (("west", 1000), ("east", 1400))
    places = [Place(name, (begins, ends), side=side) for name in "AB" for side, begins in sides]
    mount = {"contact_min": 30.0, "refocus_after_flip": False}
    wanted = {name: [goal(frames=4)] for name in "AB"}
    return a_problem(places, wanted, mount=mount, focus={"on_new_target": True})


def test_a_cap_holds_for_each_stay() -> None:
    problem = _two_sides()
    best, bound = optimum(problem, rows=True), bound_night(RunGraph(problem), 5.0).bound
    mixed = bound_night(RunGraph(problem, without("stays")), 5.0).bound
    assert best <= bound < mixed == 8 * 60_000


@pytest.mark.parametrize("seed", range(12))
def test_a_bound_by_the_clock_is_never_below_the_optimum(seed: int) -> None:
    problem = random_problem(seed + 2200, most_targets=2)
    best, graph = optimum(problem, rows=True) if problem.slots else 0, RunGraph(problem)
    first = bound_night(graph, 0.05, counted=False)
    assert best <= first.bound
    assert all(
        best <= found.bound for found in tighter_bounds(graph, first, Budget(0.05, deterministic=False))
    )
