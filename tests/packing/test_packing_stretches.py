"""What the bound's linear programme knows of a target's focus runs: the last one serves what is left for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from optimizer.packing.bound.columns import PathRun
from optimizer.packing.bound.cuts.focus_age import FocusAge
from optimizer.packing.bound.cuts.stretches import Stretches
from optimizer.packing.bound.run_graph import RunGraph
from tests.support.packing_nights import READY_S, Place, a_problem, goal
from tests.support.packing_random import bound_night, optimum, random_problem, walk_of


def test_the_focus_runs_of_a_target_are_counted_whole() -> None:
    """Six frames of which a focus run serves five: two stretches, and no less for five of each of them."""
    problem = a_problem(
        [Place("A", (1000, 4000)), Place("A", (4000, 7000), side="east")],
        {"A": [goal("L", frames=3), goal("R", frames=3)]},
        focus={"every_min": 5.3, "run_s": 150.0, "on_new_target": True, "on_filter_change": False},
        mount={"contact_min": 30.0, "refocus_after_flip": True},
    )
    graph = RunGraph(problem)
    (west, first), (east, _) = (
        (slot.index, slot.shutter[0][0][0]) for slot in problem.slots if not slot.copy
    )

    def over(*runs: tuple[int, int, int, bool, bool]) -> float:
        """Of runs by slot, task, frames, and whether an arrival or a focus run lies before it."""
        walk = walk_of(graph, [PathRun(*run[:2], 0, run[2], first, *run[3:]) for run in runs])
        return float(graph.rows.stretches.balance(walk)[0])

    whole = over((west, 0, 3, True, False), (west, 1, 3, False, True))
    assert whole == pytest.approx(0.0)
    assert over((west, 0, 3, True, False), (east, 1, 3, True, False)) == pytest.approx(0.0)
    assert over((west, 0, 3, True, False), (west, 1, 3, False, False)) > 0.1
    assert (
        over(
            *(
                part
                for slot in (west, east)
                for part in ((slot, 0, 3, True, False), (slot, 1, 2, False, False))
            )
        )
        > 0.7
    )
    assert over((west, 0, 3, True, False)) < 0


@pytest.mark.parametrize("shutters_s", [1600, 2500])
def test_no_mixture_of_visits_saves_a_focus_run(shutters_s: int, monkeypatch: pytest.MonkeyPatch) -> None:
    flip, ends = 1000 + READY_S + shutters_s // 2, 1000 + READY_S + shutters_s
    problem = a_problem(
        [Place("A", (1000, flip)), Place("A", (flip, ends), side="east"), Place("B", (1000, ends))],
        {"A": [goal("L", frames=3), goal("R", frames=3)], "B": [goal(frames=40)]},
        keys={"A": {"weight": 4.0}},
        focus={"every_min": 5.6, "run_s": 150.0, "on_new_target": True, "on_filter_change": False},
        mount={"contact_min": 30.0, "refocus_after_flip": True},
    )
    best, bound = optimum(problem, rows=True), bound_night(RunGraph(problem), 5.0).bound
    monkeypatch.setattr(Stretches, "__init__", _no_stretches)
    assert best == bound < bound_night(RunGraph(problem), 5.0).bound


def _no_stretches(self: Stretches, graph: RunGraph, age: FocusAge) -> None:
    self.given = np.zeros(0)
    self.by_focus, self.taken = np.zeros((0, len(graph.slots))), np.zeros((0, len(graph.option_s)))


@pytest.mark.parametrize("seed", range(60))
def test_bound_is_never_below_the_optimum_where_each_visit_begins_with_a_focus_run(seed: int) -> None:
    problem = random_problem(seed + 2400, most_targets=2)
    focus = problem.request.focus.model_copy(update={"on_new_target": True, "on_filter_change": False})
    mount = problem.request.mount.model_copy(update={"refocus_after_flip": True})
    request = problem.request.model_copy(update={"focus": focus, "mount": mount})
    problem = replace(problem, request=request)
    best = optimum(problem, rows=True) if problem.slots else 0
    assert best <= bound_night(RunGraph(problem), 5.0).bound
