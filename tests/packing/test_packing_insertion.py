"""Plans by insertion keep every rule, are never better than possible, and say what they are worth."""

from __future__ import annotations

import time

import numpy as np
import pytest
from optimizer.packing.search.opening import Opening

from optimizer.packing.bound.columns import Path
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import constructed, following
from optimizer.packing.search.insertion import Insertions
from optimizer.problem import Problem
from tests.support.packing_nights import READY_S, Place, a_problem, goal
from tests.support.packing_random import check_path, crowded, draft_of, random_problem

OPENS = 1000 + READY_S
BEAR = 0.003


def _insertions(problem: Problem) -> Insertions:
    return Insertions(TimeExpandedGraph(RunGraph(problem), 60))


def _improved(problem: Problem, start: Plan, tries: int, seed: int = 1) -> Path:
    """The best path met; that of the start where none is better."""
    path = _insertions(problem).improved(start, tries, BEAR, seed, np.array([False]))
    return Path(0.0, 0.0, draft_of(problem, start)) if path is None else path


def _profit(problem: Problem, path: Path) -> int:
    return sum(problem.tasks[run.task].profit * run.frames for run in path.runs)


@pytest.mark.parametrize("seed", range(80))
def test_what_comes_back_keeps_caps_and_its_plan_holds(seed: int) -> None:
    problem = random_problem(seed + 2700, most_targets=2)
    start = constructed(problem)
    if not start:
        pytest.skip("nothing can be done on this night")
    path = _improved(problem, start, 200)
    check_path(problem, path)


def _busy(**focus: float | bool) -> Problem:
    """Five targets open together and close one after the other, each wants two goals."""
    ends = [OPENS + (number + 1) * (8 * 63 + 2 * READY_S) for number in range(5)]
    places = [Place(name, (1000, end)) for name, end in zip("ABCDE", ends, strict=True)]
    wanted = {name: [goal("L", 60.0, 6), goal("R", 60.0, 6)] for name in "ABCDE"}
    return a_problem(places, wanted, focus=focus)


def test_an_empty_plan_is_filled() -> None:
    """In the order in which the windows close all four frames of each of five targets fit."""
    ends = [OPENS + (number + 1) * (4 * 63 + READY_S + 30) for number in range(5)]
    places = [Place(name, (1000, end)) for name, end in zip("ABCDE", ends, strict=True)]
    problem = a_problem(places, {name: [goal(frames=4)] for name in "ABCDE"})
    path = _improved(problem, (), 200)
    assert profit_of(problem, following(problem, path)) == 5 * 4 * 60_000


@pytest.mark.parametrize("every_min", [0, 5, 9, 20])
@pytest.mark.parametrize("on_filter_change", [False, True])
def test_the_seconds_it_reckons_with_are_those_of_the_plan(every_min: float, on_filter_change: bool) -> None:
    """Focus runs that fall due while one is carried along are counted: no frame is lost when it is laid out."""
    problem = _busy(every_min=every_min, on_filter_change=on_filter_change, on_new_target=on_filter_change)
    for seed in range(5):
        path = _improved(problem, constructed(problem), 300, seed)
        assert profit_of(problem, following(problem, path)) >= _profit(problem, path)


def test_nothing_is_done_where_it_is_halted_at_once() -> None:
    problem = _busy(every_min=0)
    assert _insertions(problem).improved((), 1000, BEAR, 1, np.array([True])) is None
    assert _insertions(problem).improved((), 1000, BEAR, 1, np.array([False])) is not None


def test_the_same_seed_gives_the_same_path() -> None:
    problem = crowded()
    start = constructed(problem)
    assert _improved(problem, start, 200, 3) == _improved(problem, start, 200, 3)
    assert _improved(problem, start, 200, 3) != _improved(problem, start, 200, 4)


@pytest.mark.parametrize("counted", [False, True])
def test_an_opening_only_grows_better(counted: bool) -> None:
    problem = crowded()
    until = time.monotonic() + 60
    with Opening(RunGraph(problem), (), 0.2, counted=counted) as opening:
        begun = opening.profit
        while opening.profit == 0 and time.monotonic() < until:
            time.sleep(0.01)
    scheduled(problem, opening.plan)
    assert profit_of(problem, opening.plan) == opening.profit >= begun
    assert opening.profit > 0
    assert begun > 0 or not counted
