"""The cut by segments: the last one of a goal is as short as it is."""

from __future__ import annotations

import pytest

from optimizer.packing.bound.cuts.segments import segments
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.problem import Problem
from tests.support.packing_nights import READY_S, Place, a_problem, goal
from tests.support.packing_random import bound_night, column_runs, first_path, optimum, without


@pytest.mark.parametrize("seed", range(40))
def test_no_plan_takes_more_than_its_segments_give(seed: int) -> None:
    graph, runs = first_path(seed + 2300)
    cut = segments(graph)
    assert (cut.coefficients(column_runs(graph, runs)) <= cut.rhs).all()


def _five_frames_of_four() -> Problem:
    """A goal of five frames of which a focus run serves four, on both sides of a flip; another takes all time.

    Mixed, columns would take four of it on both sides, and pay for five frames as for 1.25 segments.
    """
    flip, ends = 1000 + READY_S + 650, 1000 + READY_S + 1300
    return a_problem(
        [Place("A", (1000, flip)), Place("A", (flip, ends), side="east"), Place("B", (1000, ends))],
        {"A": [goal(frames=5)], "B": [goal(frames=40)]},
        keys={"A": {"weight": 4.0}},
        focus={"every_min": 4.3, "run_s": 150.0},
        mount={"contact_min": 30.0},
    )


def test_segments_of_a_goal_are_counted_whole() -> None:
    problem = _five_frames_of_four()
    # 5 frames in 2 segments: frames - 1 x segments <= 5 - 2
    assert segments(RunGraph(problem)).rhs.tolist() == [3, 0]
    best, bound = optimum(problem, rows=True), bound_night(RunGraph(problem), 5.0).bound
    assert best == bound < bound_night(RunGraph(problem, without("segments")), 5.0).bound
