"""The bound must never lie below what is possible: a bound that does calls a poor plan the best one."""

from __future__ import annotations

import time

import pytest

from optimizer.packing.bound.bounds import first_bounds, tighter_bounds
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.budget import WORK_PER_SECOND, Budget
from optimizer.packing.parameters import BoundParameters
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import following
from tests.support.packing_nights import (
    FOCUS_S,
    FRAME_S,
    READY_S,
    SHUTTER_S,
    Place,
    a_problem,
    frames,
    goal,
    proven,
)
from tests.support.packing_random import bound_night, crowded, optimum, random_problem

OPENS = 1000 + READY_S
FINE_STEPS_S = BoundParameters().fine_steps_s
SECONDS = (5.0, 0.1, 0.002)  # of work: from the finest grid to the coarsest


def test_shortest_cut_of_a_run_counts_not_the_longest_segments() -> None:
    """Dithers after every third frame, 4 frames within the cadence of 270 s (4 x 63 - 3 + 12 = 261 s).

    Cut 4 + 1 a run of five takes 261 + 3 + 150 + 12 + 60 = 486 s; cut 3 + 2 it saves a dither: 186 + 3 + 150
    + 12 + 123 = 474 s.
    """
    for seconds, count in ((474, 5), (473, 4)):
        problem = a_problem(
            [Place("A", (1000, OPENS + seconds))],
            {"A": [goal()]},
            focus={"every_min": 4.5},
            camera={"dither_every": 3, "dither_s": 12.0},
        )
        assert optimum(problem, rows=True) == count * 60_000
        assert frames(proven(problem)) == {0: count}


@pytest.mark.parametrize("step_s", FINE_STEPS_S)
@pytest.mark.parametrize("exposure_s", [1.0, 12.5, 30.0, 60.0])
def test_exposures_shorter_than_a_step_are_not_forgotten(step_s: int, exposure_s: float) -> None:
    """What takes less than a step of the grid brings its profit on it all the same."""
    problem = a_problem([Place("A", (1000, OPENS + 65))], {"A": [goal("L", exposure_s, 1)]})
    assert TimeExpandedGraph(RunGraph(problem), step_s).best_columns(1)[0].value == 1000 * exposure_s


@pytest.mark.parametrize("step_s", FINE_STEPS_S)
def test_every_grid_bounds_from_above(step_s: int) -> None:
    """Without duals the best column has at least the profit of the best plan."""
    goals = {"A": [goal("L", 1.0, 9), goal("R", 25.0, 4)], "B": [goal("L", 7.0, 9), goal("R", 30.0, 4)]}
    places = [Place("A", (1000, 1500)), Place("B", (1100, 1700))]
    problem = a_problem(places, goals, camera={"download_s": 1.0})
    best = optimum(problem, rows=True)
    assert TimeExpandedGraph(RunGraph(problem), step_s).best_columns(1)[0].value >= best
    assert bound_night(RunGraph(problem), step_s / 100).bound >= best


@pytest.mark.parametrize("seed", range(24))
def test_bound_is_never_below_the_optimum(seed: int) -> None:
    problem = random_problem(seed + 500, most_targets=2)
    best = optimum(problem, rows=True) if problem.slots else 0
    for seconds in SECONDS:
        bounds = list(first_bounds(RunGraph(problem), Budget(seconds, deterministic=True)))
        found, heights = bounds[-1], [found.bound for found in bounds]
        assert heights == sorted(heights, reverse=True)
        assert found.bound >= best
        for column in found.columns:
            along = following(problem, column.draft())
            scheduled(problem, along)  # raises where the plan breaks a rule
            assert profit_of(problem, along) <= best


def test_bound_is_no_larger_than_all_that_is_wanted() -> None:
    problem = a_problem([Place("A", (1000, 90_000))], {"A": [goal(frames=3)]})
    assert bound_night(RunGraph(problem), 1.0).bound == 3 * 60_000


def test_bound_proves_by_itself_where_one_window_is_all() -> None:
    """Three frames fit, not four: 3 x 63 - 3 s after the first opening."""
    ends = OPENS + 2 * FRAME_S + SHUTTER_S
    for window_ends, count in ((ends, 3), (ends - 1, 2)):
        problem = a_problem([Place("A", (1000, window_ends))], {"A": [goal()]})
        assert bound_night(RunGraph(problem), 5.0).bound == count * 60_000


def test_bound_knows_what_an_arrival_takes() -> None:
    """A shutter cannot open before the target is centred, settled, filtered and focused."""
    late = a_problem([Place("A", (1000, OPENS + SHUTTER_S - 1))], {"A": [goal()]})
    assert bound_night(RunGraph(late), 5.0).bound == 0
    no_focus = a_problem(
        [Place("A", (1000, OPENS + SHUTTER_S - 1))],
        {"A": [goal()]},
        focus={"on_new_target": False, "on_filter_change": False},
    )
    assert bound_night(RunGraph(no_focus), 5.0).bound == 60_000 * ((FOCUS_S + SHUTTER_S - 1 + 3) // FRAME_S)


@pytest.mark.parametrize("seed", range(24))
def test_a_bound_tightened_is_never_below_the_optimum_nor_above_the_first(seed: int) -> None:
    problem = random_problem(seed + 1100, most_targets=2)
    best = optimum(problem, rows=True) if problem.slots else 0
    graph = RunGraph(problem)
    first = bound_night(graph, 0.01)
    tighter = list(tighter_bounds(graph, first, Budget(1.0, deterministic=True)))
    assert all(best <= found.bound <= first.bound for found in tighter)
    assert [found.bound for found in tighter_bounds(graph, first, Budget(1.0, deterministic=True))] == [
        found.bound for found in tighter
    ]


def test_a_bound_is_tightened_until_the_time_is_up() -> None:
    """Also where the first stage has the finest grid already."""
    parameters = BoundParameters(tight_stages=((6, 0.5), (3, 0.8), (1, 1.0)))
    graph = RunGraph(crowded(), parameters)
    first = bound_night(graph, 0.01)
    work = TimeExpandedGraph(graph, 1, join_arcs=True).work + parameters.work_of_master
    budget = Budget(6.5 * work / WORK_PER_SECOND, deterministic=True)
    found = list(tighter_bounds(graph, first, budget))
    assert {each.step_s for each in found} == {1}
    assert len(found) == 7


def test_the_first_labelling_says_nothing_of_how_fast_they_go(monkeypatch: pytest.MonkeyPatch) -> None:
    """Loops may have been compiled in it: 30 s, and the next ones take half a second each."""
    work = TimeExpandedGraph(RunGraph(crowded()), 60).work
    now = [0.0]
    monkeypatch.setattr(time, "monotonic", lambda: now[0])
    budget = Budget(100.0, deterministic=False)
    now[0] = 30.0
    budget.spend(work)
    assert budget.work_per_s == WORK_PER_SECOND
    now[0] = 30.5
    budget.spend(work)
    assert budget.work_per_s == pytest.approx(work / 0.5)
    assert budget.work_left == pytest.approx(69.5 * work / 0.5)


@pytest.mark.parametrize("seed", range(24))
def test_a_column_put_on_another_grid_is_a_path_there(seed: int) -> None:
    problem = random_problem(seed + 1200, most_targets=2)
    graph = RunGraph(problem)
    if not graph.nodes:
        pytest.skip("nothing can be done on this night")
    coarse, fine = TimeExpandedGraph(graph, 60), TimeExpandedGraph(graph, 1)
    best = fine.best_columns(1)[0]
    assert fine.regridded(best).profit == pytest.approx(best.profit) or problem.by_time
    for column in coarse.best_columns(4):
        assert fine.regridded(column).profit <= best.value * (1 + 1e-9)


def test_the_bound_counts_the_focus_runs_that_a_long_visit_needs() -> None:
    """Four goals of half an hour in one visit, cadence an hour, no focus run for a change of filter.

    The window is as long as all their runs with the one focus run at the arrival: but more than 7560 s need at
    least 7560 / 3600 - 1 = 1.1 focus runs of 150 s more, the time of more than two frames.
    """
    wanted = {"A": [goal(name, exposure_s, 30) for name in "LR" for exposure_s in (60.0, 60.6)]}
    focus = {"every_min": 60, "on_filter_change": False}
    frames_s = sum(30 * task.frame_s for task in a_problem([], wanted, focus=focus).tasks)
    assert frames_s >= 7560
    problem = a_problem([Place("A", (1000, OPENS + frames_s))], wanted, focus=focus)
    found = bound_night(RunGraph(problem), 5.0)
    best = max(profit_of(problem, following(problem, column.draft())) for column in found.columns)
    assert problem.most_profit - 5 * 60_600 <= best <= found.bound <= problem.most_profit - 2 * 60_000


@pytest.mark.parametrize("seed", range(12))
def test_a_bound_by_the_clock_is_never_below_the_optimum(seed: int) -> None:
    problem = random_problem(seed + 2200, most_targets=2)
    best, graph = optimum(problem, rows=True) if problem.slots else 0, RunGraph(problem)
    first = bound_night(graph, 0.05, counted=False)
    assert best <= first.bound
    tighter = tighter_bounds(graph, first, Budget(0.05, deterministic=False))
    assert all(best <= found.bound for found in tighter)
