"""The bound knows that a visit runs each goal once."""

from __future__ import annotations

from optimizer.packing.bound.run_graph import RunGraph
from tests.support.packing_nights import READY_S, Place, a_problem, goal
from tests.support.packing_random import bound_night


def test_a_goal_is_not_counted_twice_in_a_visit() -> None:
    """Three frames of each of two goals are wanted; the window holds twenty."""
    window = (1000, 1000 + READY_S + 20 * 63)
    problem = a_problem([Place("A", window)], {"A": [goal("L", frames=3), goal("R", frames=3)]})
    assert bound_night(RunGraph(problem), 1.0).bound == 6 * 60_000
