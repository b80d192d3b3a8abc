"""The cut by stretches: the last focus run of a target serves what is left for it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from optimizer.packing.bound.cuts.focus_age import focus_age
from optimizer.packing.bound.cuts.stretches import stretches
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.search.construct import constructed
from optimizer.problem import Problem
from tests.support.packing_nights import READY_S, Place, a_problem, goal
from tests.support.packing_random import (
    PathRun,
    bound_night,
    column_runs,
    draft_of,
    optimum,
    random_problem,
    without,
)


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
        cut = stretches(graph)
        path = column_runs(graph, [PathRun(*run[:2], 0, run[2], first, *run[3:]) for run in runs])
        return float((cut.coefficients(path) - cut.rhs)[0])

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
def test_no_mixture_of_visits_saves_a_focus_run(shutters_s: int) -> None:
    flip, ends = 1000 + READY_S + shutters_s // 2, 1000 + READY_S + shutters_s
    problem = a_problem(
        [Place("A", (1000, flip)), Place("A", (flip, ends), side="east"), Place("B", (1000, ends))],
        {"A": [goal("L", frames=3), goal("R", frames=3)], "B": [goal(frames=40)]},
        keys={"A": {"weight": 4.0}},
        focus={"every_min": 5.6, "run_s": 150.0, "on_new_target": True, "on_filter_change": False},
        mount={"contact_min": 30.0, "refocus_after_flip": True},
    )
    best, bound = optimum(problem, rows=True), bound_night(RunGraph(problem), 5.0).bound
    assert best == bound < bound_night(RunGraph(problem, without("stretches")), 5.0).bound


def _begun_focused(seed: int) -> Problem:
    """A drawn night each of whose visits begins with a focus run, which a change of filter does not ask for."""
    problem = random_problem(seed, most_targets=2)
    rules = replace(
        problem.rules, focus_on_new_target=True, focus_on_filter_change=False, focus_after_flip=True
    )
    return replace(problem, rules=rules)


@pytest.mark.parametrize("seed", range(40))
def test_no_plan_takes_more_than_its_focus_runs_serve(seed: int) -> None:
    problem = _begun_focused(seed + 2600)
    plan = constructed(problem)
    if not plan:
        pytest.skip("nothing can be done on this night")
    graph = RunGraph(problem)
    runs = column_runs(graph, draft_of(problem, plan))
    for cut in (focus_age(graph), stretches(graph)):
        if len(cut.rhs):
            assert (cut.coefficients(runs) <= cut.rhs + 1e-9).all()


@pytest.mark.parametrize("seed", range(60))
def test_bound_is_never_below_the_optimum_where_each_visit_begins_with_a_focus_run(seed: int) -> None:
    problem = _begun_focused(seed + 2400)
    best = optimum(problem, rows=True) if problem.slots else 0
    assert best <= bound_night(RunGraph(problem), 5.0).bound
