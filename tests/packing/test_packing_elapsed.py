"""The cut by time: by the second, all runs and arcs fit into the night."""

from __future__ import annotations

from dataclasses import replace

import pytest

from optimizer.packing.bound.cuts.elapsed import elapsed
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.parameters import BoundParameters
from optimizer.problem import Problem
from tests.support.packing_nights import (
    FILTER_S,
    FOCUS_S,
    FRAME_S,
    READY_S,
    SHUTTER_S,
    SLEW_S,
    Place,
    a_problem,
    goal,
)
from tests.support.packing_random import PathRun, bound_night, column_runs, first_path, optimum

DOWNLOAD_S = FRAME_S - SHUTTER_S


@pytest.mark.parametrize("seed", range(60))
def test_no_plan_takes_longer_than_the_night(seed: int) -> None:
    graph, runs = first_path(seed + 2500)
    cut = elapsed(graph)
    assert (cut.coefficients(column_runs(graph, runs)) <= cut.rhs).all()


def test_seconds_of_runs_and_arcs_are_counted() -> None:
    """Three runs of four frames and the two slews between them, in a night that ends with the last download."""
    seconds = 12 * FRAME_S + 2 * (SLEW_S + READY_S)
    span = (1000, 1000 + READY_S + seconds - DOWNLOAD_S)
    problem = a_problem([Place(name, span) for name in "ABC"], {name: [goal(frames=6)] for name in "ABC"})
    graph = RunGraph(problem)
    slots = [slot.index for slot in problem.slots if not slot.copy]

    def over(*frames: int) -> float:
        runs = [PathRun(slot, at, 0, frames[at], 0, True) for at, slot in enumerate(slots[: len(frames)])]
        cut = elapsed(graph)
        return float((cut.coefficients(column_runs(graph, runs)) - cut.rhs)[0])

    assert over(4, 4, 4) == 0
    assert over(4, 5, 4) == FRAME_S
    assert over(6) == 6 * FRAME_S - seconds


def test_changes_are_counted_where_other_goals_share_a_filter() -> None:
    """From L to B the filter is changed, and the focus with it, whatever lies between the goals in R."""
    seconds = 8 * FRAME_S + FILTER_S + FOCUS_S
    span = (1000, 1000 + READY_S + seconds - DOWNLOAD_S)
    filters = [{"name": name} for name in "LRB"]
    problem = a_problem(
        [Place("A", span)], {"A": [goal("L"), goal("B"), goal("R"), goal("R", 90.0)]}, filters=filters
    )
    graph = RunGraph(problem)
    slot = problem.slots[0].index

    def over(frames: int) -> float:
        runs = [PathRun(slot, 0, 0, 4, 0, True), PathRun(slot, 1, 0, frames, 0)]
        cut = elapsed(graph)
        return float((cut.coefficients(column_runs(graph, runs)) - cut.rhs)[0])

    assert over(4) == 0
    assert over(5) == FRAME_S


def _eight_goals() -> Problem:
    """Eight frames of 88 to 91 s wanted, in a night that has room for five."""
    span = (1000, 1000 + READY_S + 5 * 91)
    wanted = [goal(name, 85.0 + longer, 1) for name in "LR" for longer in range(4)]
    return a_problem([Place("A", span)], {"A": wanted}, focus={"on_filter_change": False})


def test_a_coarse_grid_wins_no_frame_by_rounding() -> None:
    """On a grid of 60 s each of these frames seems to take 60 s."""
    problem = _eight_goals()
    coarse = BoundParameters(coarse_steps_s=(60,), fine_steps_s=(60,))
    others = tuple(name for name in coarse.cuts if name != "elapsed")
    best, counted = optimum(problem, rows=True), bound_night(RunGraph(problem, coarse), 5.0).bound
    rounded = bound_night(RunGraph(problem, replace(coarse, cuts=others)), 5.0).bound
    assert best <= counted < 1.06 * best < 1.4 * best < rounded
