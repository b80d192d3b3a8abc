"""Where the sky decides, a plan's runs lie where they bring most in all: to the second, and no later than pays."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from optimizer.packing.best_times import at_best_times
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import constructed
from optimizer.packing.search.run_profits import profits_as_laid
from optimizer.problem import Problem
from tests.support.packing_judge import broken_rules
from tests.support.packing_nights import (
    FRAME_S,
    READY_S,
    SHUTTER_S,
    SLEW_S,
    Place,
    a_problem,
    goal,
    under_sky,
)
from tests.support.packing_random import random_problem

END = 6000
NIGHT = np.arange(8000)
SOONEST = 1000 + READY_S
NEXT_S = FRAME_S + SLEW_S + READY_S  # from the last shutter of one target to the first of the other
LATEST = END - SHUTTER_S - NEXT_S - 2 * FRAME_S  # of the first shutter, if all four frames shall fit


def a_night(profit_by_start: NDArray[np.int64]) -> Problem:
    """Two frames of A, then two of B; both may be seen all the time."""
    goals = {name: [goal(frames=2)] for name in "AB"}
    problem = a_problem([Place(name, (1000, END)) for name in "AB"], goals, aim={"value": "depth"})
    return under_sky(problem, profit_by_start)


def begins(problem: Problem) -> list[int]:
    """When each shutter opens in the constructed plan, put where it brings most."""
    plan = at_best_times(problem, constructed(problem))
    assert broken_rules(problem, plan) == []
    return [opens for visit in scheduled(problem, plan) for _, opens in visit.exposures]


def test_nothing_is_put_off_where_it_does_not_pay() -> None:
    soonest = [SOONEST, SOONEST + FRAME_S, SOONEST + FRAME_S + NEXT_S, SOONEST + 2 * FRAME_S + NEXT_S]
    assert begins(a_night(np.full_like(NIGHT, 500))) == soonest
    assert begins(a_night(9000 - NIGHT)) == soonest


@pytest.mark.parametrize("better_s", [SOONEST + 1, 3000, LATEST])
def test_runs_wait_for_the_better_sky_and_no_longer(better_s: int) -> None:
    """The last of the three is the last second from which all four frames still fit."""
    opens = begins(a_night(np.where(better_s <= NIGHT, 900, 500)))
    assert opens[0] == better_s
    assert opens[2] == opens[1] + NEXT_S


def test_one_second_later_not_all_can_have_the_better_sky() -> None:
    """Then three frames have it: the first opens at once, for to wait would bring nothing."""
    problem = a_night(np.where(LATEST + 1 <= NIGHT, 900, 500))
    plan = at_best_times(problem, constructed(problem))
    assert profit_of(problem, plan) == 3 * 900 + 500


def test_run_whose_focus_would_be_too_old_does_not_wait() -> None:
    """B is served by the focus run of A, which sets long before the sky is best."""
    places = [Place("A", (1000, 1500)), Place("B", (1000, END))]
    focus = {"every_min": 15.0, "on_new_target": False, "on_filter_change": False}
    goals = {name: [goal(frames=2)] for name in "AB"}
    flat = a_problem(places, goals, aim={"value": "depth"}, focus=focus)
    problem = under_sky(flat, np.where(NIGHT < 4000, 500, 900))
    start = constructed(problem)
    assert not start.visits[1].runs[0].focus_first
    assert at_best_times(problem, start) is start


@pytest.mark.parametrize("seed", range(20))
def test_plan_is_never_worse_and_keeps_every_rule(seed: int) -> None:
    drawn = random_problem(seed + 4200, gap=0.0, value="depth")
    problem = under_sky(drawn, np.random.default_rng(seed).integers(1, 60_000, 9000))
    start = constructed(problem)
    plan = at_best_times(problem, start)
    assert broken_rules(problem, plan) == []
    assert profit_of(problem, plan) >= profit_of(problem, start)


def test_where_all_times_are_alike_the_plan_stays_as_it_is() -> None:
    problem = random_problem(4300, gap=0.0)
    start = constructed(problem)
    assert at_best_times(problem, start) is start


def test_runs_longer_than_all_ticks_bring_nothing() -> None:
    """Cut by focus runs, the longest runs of a short night may be longer than it."""
    graph = RunGraph(a_night(np.full_like(NIGHT, 500)))
    shorter = 2 * FRAME_S - 30  # than two frames
    assert profits_as_laid(graph, 10, shorter // 10).any(axis=1).tolist() == [True, False, True, False]
    assert profits_as_laid(graph, 10, graph.end_s // 10 + 1).any(axis=1).all()
