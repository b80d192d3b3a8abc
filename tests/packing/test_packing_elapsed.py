"""What the bound's linear programme knows of time: by the second, all runs and ways fit into the night."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.packing import bound
from optimizer.packing.bound.columns import PathRun
from optimizer.packing.bound.cuts.elapsed import Elapsed
from optimizer.packing.bound.run_graph import RunGraph
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
from tests.support.packing_random import bound_night, first_path, optimum, walk_of

DOWNLOAD_S = FRAME_S - SHUTTER_S


@pytest.mark.parametrize("seed", range(60))
def test_no_plan_takes_longer_than_the_night(seed: int) -> None:
    graph, runs = first_path(seed + 2500)
    assert (graph.rows.elapsed.balance(walk_of(graph, runs)) <= 0).all()


def test_seconds_of_runs_and_ways_are_counted() -> None:
    """Three runs of four frames and the two slews between them, in a night that ends with the last download."""
    seconds = 12 * FRAME_S + 2 * (SLEW_S + READY_S)
    span = (1000, 1000 + READY_S + seconds - DOWNLOAD_S)
    problem = a_problem([Place(name, span) for name in "ABC"], {name: [goal(frames=6)] for name in "ABC"})
    graph = RunGraph(problem)
    slots = [slot.index for slot in problem.slots if not slot.copy]

    def over(*frames: int) -> float:
        runs = [PathRun(slot, at, 0, frames[at], 0, True) for at, slot in enumerate(slots[: len(frames)])]
        return float(graph.rows.elapsed.balance(walk_of(graph, runs))[0])

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
        return float(graph.rows.elapsed.balance(walk_of(graph, runs))[0])

    assert over(4) == 0
    assert over(5) == FRAME_S


def _eight_goals() -> Problem:
    """Eight frames of 88 to 91 s wanted, in a night that has room for five."""
    span = (1000, 1000 + READY_S + 5 * 91)
    wanted = [goal(name, 85.0 + longer, 1) for name in "LR" for longer in range(4)]
    return a_problem([Place("A", span)], {"A": wanted}, focus={"on_filter_change": False})


def test_a_coarse_grid_wins_no_frame_by_rounding(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a grid of 60 s each of these frames seems to take 60 s."""
    problem = _eight_goals()
    monkeypatch.setattr(bound, "COARSE_STEPS_S", (60,))
    monkeypatch.setattr(bound, "FINE_STEPS_S", (60,))
    best, counted = optimum(problem, rows=True), bound_night(RunGraph(problem), 5.0).bound
    monkeypatch.setattr(Elapsed, "__init__", _no_time)
    rounded = bound_night(RunGraph(problem), 5.0).bound
    assert best <= counted < 1.06 * best < 1.4 * best < rounded


def _no_time(self: Elapsed, graph: RunGraph) -> None:
    self.given, self.taken, self.focus_s = np.zeros(1), np.zeros(len(graph.option_s)), 0.0
    self.by_way = np.zeros((len(graph.slots) + 1, len(graph.slots)))
