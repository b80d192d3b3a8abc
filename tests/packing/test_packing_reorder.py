"""Plans reordered keep every rule, are never better than possible, and get out of a poor order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from optimizer.packing.bound.columns import Path, PathRun
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import profit_of
from optimizer.packing.search.construct import constructed, following
from optimizer.packing.search.reorder import DRAWS, reordered
from tests.support.packing_nights import READY_S, Place, a_problem, goal, under_sky
from tests.support.packing_random import check_path, random_problem

OPENS = 1000 + READY_S
BEAR = 0.003
HALT = np.zeros(1, dtype=np.bool_)


def _draws(tries: int, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).random((tries, DRAWS))


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("step_s", [1, 20])
def test_what_comes_back_keeps_caps_and_its_plan_holds(seed: int, step_s: int) -> None:
    problem = random_problem(seed + 1300, most_targets=2)
    grid = TimeExpandedGraph(RunGraph(problem), step_s)
    start = constructed(problem)
    if not grid.nodes or not start:
        pytest.skip("nothing can be done on this night")
    path = reordered(grid, start, _draws(30), BEAR, HALT)
    assert path is not None
    check_path(problem, path)


def _along(problem_runs: list[tuple[int, int, int]]) -> Path:
    return Path(0.0, 0.0, tuple(PathRun(slot, task, 0, count, 0) for slot, task, count in problem_runs))


def test_a_poor_order_is_got_out_of() -> None:
    """Five targets open together and close one after the other; the plan at hand serves the last one only."""
    ends = [OPENS + (number + 1) * (4 * 63 + READY_S + 30) for number in range(5)]
    places = [Place(name, (1000, end)) for name, end in zip("ABCDE", ends, strict=True)]
    problem = a_problem(places, {name: [goal(frames=4)] for name in "ABCDE"})
    grid = TimeExpandedGraph(RunGraph(problem), 1)
    task = next(task.index for task in problem.tasks if task.target.name == "E")
    slot = next(slot.index for slot in problem.slots if slot.target.name == "E" and not slot.copy)
    start: Plan = following(problem, _along([(slot, task, 4)]))[:1]
    path = reordered(grid, start, _draws(200), BEAR, HALT)
    assert path is not None
    assert profit_of(problem, following(problem, path)) == 5 * 4 * 60_000


def test_a_goal_in_two_windows_is_shared_between_them() -> None:
    """Two frames fit into each of two windows, three are wanted."""
    spans = ((OPENS, OPENS + 2 * 63), (OPENS + 1000, OPENS + 1000 + 2 * 63))
    problem = a_problem([Place("A", (1000, 4000))], {"A": [goal("L", frames=3)]})
    slots = tuple(replace(slot, shutter=dict.fromkeys(slot.shutter, spans)) for slot in problem.slots)
    problem = replace(problem, slots=slots)
    path = reordered(TimeExpandedGraph(RunGraph(problem), 1), constructed(problem), _draws(50), BEAR, HALT)
    assert path is not None
    assert sum(run.frames for run in path.runs) <= 3


def test_a_run_is_put_where_the_sky_is_best() -> None:
    """Two frames, and between two instants each is worth sixty times as much as at the window's end."""
    flat = a_problem([Place("A", (1000, 6000))], {"A": [goal("L", frames=2)]}, aim={"value": "depth"})
    profit = np.full(7000, 1000, dtype=np.int64)
    profit[3000:3200] = 60_000
    problem = under_sky(flat, profit)
    path = reordered(TimeExpandedGraph(RunGraph(problem), 1), constructed(problem), _draws(1), BEAR, HALT)
    assert path is not None
    assert 3000 <= path.runs[0].begins <= 3137  # the second frame opens 63 s later


def test_the_same_draws_give_the_same_path() -> None:
    problem = random_problem(1303, most_targets=2)
    grid, start = TimeExpandedGraph(RunGraph(problem), 5), constructed(problem)
    assert reordered(grid, start, _draws(20), BEAR, HALT) == reordered(grid, start, _draws(20), BEAR, HALT)


def test_focus_runs_that_fall_due_are_reckoned_with() -> None:
    """Four goals of half an hour in one visit, cadence an hour, no focus run for a change of filter.

    The window holds all their runs and no more focus runs than the one at the arrival: what is planned with
    those that fall due can be kept, and is one frame from the best at most.
    """
    wanted = {"A": [goal(name, exposure_s, 30) for name in "LR" for exposure_s in (60.0, 60.6)]}
    focus = {"every_min": 60, "on_filter_change": False}
    frames_s = sum(30 * task.frame_s for task in a_problem([], wanted, focus=focus).tasks)
    problem = a_problem([Place("A", (1000, OPENS + frames_s))], wanted, focus=focus)
    path = reordered(TimeExpandedGraph(RunGraph(problem), 1), constructed(problem)[:1], _draws(20), BEAR, HALT)
    assert path is not None
    planned = sum(problem.tasks[run.task].profit * run.frames for run in path.runs)
    assert planned == pytest.approx(profit_of(problem, following(problem, path)), abs=60_600)
    assert planned < problem.most_profit
