"""Paths built backwards keep what the relaxation leaves out, and become plans."""

from __future__ import annotations

from collections import Counter
from itertools import groupby, pairwise

import numpy as np
import pytest
from optimizer.packing.beam import beam_paths

from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import constructed, following
from optimizer.packing.search.portfolio import sampled_plans
from optimizer.problem import VISITS_PER_SIDE
from tests.support.packing_nights import READY_S, Place, a_problem, goal, under_sky
from tests.support.packing_random import bound_night, optimum, random_problem

OPENS = 1000 + READY_S
HALT = np.zeros(1, dtype=np.bool_)


@pytest.mark.parametrize("seed", range(30))
def test_paths_keep_caps_and_visits_and_their_plans_hold(seed: int) -> None:
    problem = random_problem(seed + 900, most_targets=2)
    grid = TimeExpandedGraph(RunGraph(problem), 1)
    if not grid.nodes:
        pytest.skip("nothing can be done on this night")
    best = optimum(problem, rows=True)
    found = bound_night(RunGraph(problem), 1.0)
    for path in beam_paths(grid, found.frame_prices, 40, 0.0, 8, HALT):
        used: Counter[int] = Counter()
        on_side: Counter[tuple[str, str | None]] = Counter()
        for slot, runs in groupby(path.runs, key=lambda run: run.slot):
            here = problem.slots[slot]
            on_side[here.target.name, here.side] += 1
            for run in runs:
                used[run.task] += run.frames
        assert all(used[task.index] <= task.frames_left for task in problem.tasks)
        assert all(first.begins < second.begins for first, second in pairwise(path.runs))
        if all(len(spans) == 1 for slot in problem.slots for spans in slot.shutter.values()):
            assert max(on_side.values()) <= VISITS_PER_SIDE
        if not problem.by_depth:
            profit = sum(problem.tasks[task].profit * count for task, count in used.items())
            assert path.value == pytest.approx(profit)
        plan = following(problem, path)
        scheduled(problem, plan)  # raises where the plan breaks a rule
        assert profit_of(problem, plan) <= best


def test_a_wide_beam_finds_the_best_of_a_small_night() -> None:
    """Two targets whose windows overlap: the order that serves both is found."""
    places = [Place("A", (1000, OPENS + 900)), Place("B", (1000, OPENS + 1500))]
    problem = a_problem(places, {"A": [goal(frames=8)], "B": [goal(frames=9)]})
    prices = bound_night(RunGraph(problem), 5.0).frame_prices
    paths = beam_paths(TimeExpandedGraph(RunGraph(problem), 1), prices, 500, 0.0, 4, HALT)
    plans = [profit_of(problem, following(problem, path)) for path in paths]
    assert max(plans) == optimum(problem, rows=True)


def test_only_paths_above_the_least_profit_come_back() -> None:
    problem = a_problem([Place("A", (1000, OPENS + 900))], {"A": [goal(frames=3)]})
    grid, prices = TimeExpandedGraph(RunGraph(problem), 1), np.zeros(1)
    assert [path.value for path in beam_paths(grid, prices, 10, 120_000.0, 9, HALT)] == [180_000.0]
    assert beam_paths(grid, prices, 10, 180_000.0, 9, HALT) == []


def test_a_path_of_the_bound_has_no_goal_twice_in_a_visit() -> None:
    """Three frames of each of two goals are wanted; the window holds twenty."""
    problem = a_problem(
        [Place("A", (1000, OPENS + 20 * 63))], {"A": [goal("L", frames=3), goal("R", frames=3)]}
    )
    path = TimeExpandedGraph(RunGraph(problem), 1).best_columns(np.zeros(2), 1)[0]
    assert sorted(run.task for run in path.runs) == [0, 1]
    assert bound_night(RunGraph(problem), 1.0).bound == 6 * 60_000


def test_a_built_plan_carries_a_focus_run_from_goal_to_goal() -> None:
    """Cadence of an hour, no focus run for a filter: one at arrival serves both goals."""
    problem = a_problem(
        [Place("A", (1000, 4000))],
        {"A": [goal("L", frames=4), goal("R", frames=4)]},
        focus={"every_min": 60, "on_filter_change": False},
    )
    runs = [run for visit in constructed(problem) for run in visit.runs]
    assert [run.focus_first for run in runs] == [True, False]


@pytest.mark.parametrize(("wanted", "built"), [(8, 8), (40, 20)])
def test_a_run_of_no_allowed_length_is_all_that_is_left_or_fills_its_window(wanted: int, built: int) -> None:
    """The window holds twenty frames."""
    problem = a_problem([Place("A", (1000, OPENS + 20 * 63))], {"A": [goal("L", frames=wanted)]})
    graph = RunGraph(problem)
    none = np.zeros(len(graph.option_s), dtype=np.bool_)
    (path, *_) = beam_paths(TimeExpandedGraph(graph, 1), np.zeros(1), 10, 0.0, 1, HALT, none)
    assert [run.frames for run in path.runs] == [built]


def test_a_run_waits_for_the_better_sky() -> None:
    """Two frames, and between two instants each is worth sixty times as much as at the window's end."""
    flat = a_problem([Place("A", (1000, 6000))], {"A": [goal("L", frames=2)]}, aim={"value": "depth"})
    profit = np.full(7000, 1000, dtype=np.int64)
    profit[3000:3200] = 60_000
    problem = under_sky(flat, profit)
    (path, *_) = beam_paths(TimeExpandedGraph(RunGraph(problem), 1), np.zeros(1), 10, 0.0, 1, HALT)
    assert path.value == 120_000
    assert 3000 <= path.runs[0].begins <= 3137  # the second frame opens 63 s later
    assert profit_of(problem, following(problem, path)) == 120_000


def test_sampled_plans_do_all_that_fits_where_prices_say_nothing() -> None:
    """Five targets that open together and close one after the other, each just in time: all fit in that order.

    The best price of a frame is all of its worth, so the night before a run seems worth nothing.
    """
    opens, each_s = OPENS, 4 * 63
    names = "ABCDE"
    ends = [opens + (number + 1) * (each_s + READY_S + 30) for number in range(len(names))]
    places = [Place(name, (1000, end)) for name, end in zip(names, ends, strict=True)]
    problem = a_problem(places, {name: [goal(frames=4)] for name in names})
    graph = RunGraph(problem)
    found = bound_night(graph, 1.0)
    *_, best = [(), *sampled_plans(graph, lambda: found, (), 5.0, counted=True)]
    assert profit_of(problem, best) == found.bound == 5 * 4 * 60_000
