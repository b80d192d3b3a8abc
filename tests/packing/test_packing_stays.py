"""What the bound's linear programme knows of a stay with a target: its goals' caps hold for each stay."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.models.rig import PierSide
from optimizer.packing import stays
from optimizer.packing.bound.bounds import tighter_bounds
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.problem import Problem
from tests.support.packing_nights import OPENS_AFTER_FLIP_S, READY_S, Place, a_problem, goal
from tests.support.packing_random import bound_night, first_path, optimum, random_problem, walk_of


@pytest.mark.parametrize("seed", range(40))
def test_no_plan_takes_more_than_its_stays_give(seed: int) -> None:
    graph, runs = first_path(seed + 2100)
    assert (graph.rows.stays.balance(walk_of(graph, runs)) <= 0).all()


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


def test_a_cap_holds_for_each_stay(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = _two_sides()
    best, bound = optimum(problem, rows=True), bound_night(RunGraph(problem), 5.0).bound
    monkeypatch.setattr(stays.Stays, "__init__", _no_stays)
    without = bound_night(RunGraph(problem), 5.0).bound
    assert best <= bound < without == 8 * 60_000


def _no_stays(self: stays.Stays, graph: RunGraph) -> None:
    self.graph, self.mine = graph, np.zeros((len(graph.slots), len(graph.problem.tasks)))
    self.given = np.zeros(len(graph.problem.tasks))
    self.begins = np.ones((len(graph.slots) + 1, len(graph.slots)))


@pytest.mark.parametrize("seed", range(12))
def test_a_bound_by_the_clock_is_never_below_the_optimum(seed: int) -> None:
    problem = random_problem(seed + 2200, most_targets=2)
    best, graph = optimum(problem, rows=True) if problem.slots else 0, RunGraph(problem)
    first = bound_night(graph, 0.05, counted=False)
    assert best <= first.bound
    assert all(best <= found.bound for found in tighter_bounds(graph, first, 0.05, counted=False))
