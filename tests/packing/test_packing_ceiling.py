"""The profit that no plan exceeds by sums alone, and by one labelling that remembers nothing."""

from __future__ import annotations

from itertools import islice

import numpy as np
import pytest

import optimizer.packing.bound.ceiling as ceiling_module
from optimizer.packing.bound.bounds import first_bounds
from optimizer.packing.bound.ceiling import ceiling, first_duals
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.subgradient import Subgradient
from optimizer.packing.budget import Budget
from optimizer.packing.parameters import BoundParameters
from optimizer.packing.schedule import profit_of
from optimizer.packing.search.construct import constructed
from optimizer.packing.solve import solve
from optimizer.problem import Problem
from tests.support.packing_nights import HOME_S, READY_S, Place, a_problem, goal, under_sky
from tests.support.packing_random import optimum, random_problem

SEASON = 5000  # frames: no night holds so many


def _open_seconds(problem: Problem) -> int:
    """The seconds of a night in which the shutter may be open for some goal."""
    spans = [span for slot in problem.slots for spans in slot.shutter.values() for span in spans]
    return len({second for opens, closes in spans for second in range(opens, closes)})


def _most_a_second(problem: Problem) -> float:
    return max(task.profit / task.shutter_s for task in problem.tasks)


@pytest.mark.parametrize("seed", range(40))
def test_sums_are_never_below_the_optimum(seed: int) -> None:
    problem = random_problem(seed + 3100, most_targets=2)
    best = optimum(problem, rows=True) if problem.slots else 0
    assert best <= ceiling(problem) <= problem.most_profit
    assert ceiling(problem) <= _open_seconds(problem) * _most_a_second(problem) * (1 + 1e-9)


@pytest.mark.parametrize("seed", range(40))
def test_a_bound_is_at_most_the_open_seconds_times_the_greatest_weight(seed: int) -> None:
    """After the first sums, after the first pricing and at the end, whatever is wanted; by depth as well."""
    by_time = seed % 4 == 3
    problem = random_problem(seed + 3200, most_targets=3, **({"value": "depth"} if by_time else {}))
    if by_time:
        problem = under_sky(problem, np.random.default_rng(seed).integers(1, 60_000, 9000))
        # the tasks' own profit is that of the best frame
        most = 60_000 / min(task.shutter_s for task in problem.tasks)
    else:
        most = _most_a_second(problem)
    graph, value = RunGraph(problem), profit_of(problem, constructed(problem))
    bounds = [found.bound for found in first_bounds(graph, Budget(0.05, deterministic=True))]
    assert value <= min(bounds)
    assert by_time or max(bounds) <= _open_seconds(problem) * most * (1 + 1e-9)


def test_sums_count_the_seconds_in_which_a_shutter_may_be_open() -> None:
    """Two windows that share 500 s of 1500, the second with twice the profit a second."""
    problem = a_problem(
        [Place("A", (1000, 2000)), Place("B", (1500, 2500))],
        {"A": [goal(frames=SEASON)], "B": [goal(frames=SEASON)]},
        keys={"B": {"weight": 2.0}},
        camera={"download_s": 0.0},
        mount={"centre_s": 0.0, "settle_s": 0.0, "slew_extra_s": 0.0, "slew_deg_s": 30.0},
        focus={"on_new_target": False, "on_filter_change": False},
    )
    assert _open_seconds(problem) == 1500
    assert ceiling(problem) == (500 * 1 + 1000 * 2) * 1000


def test_sums_count_an_arrival_for_each_target() -> None:
    """Forty targets of one frame each: a frame takes 63 s, an arrival 9 s of slew and 218 s of setting up.

    From 1000 to 4000 s, the first arrival before it: no more than 3003 / 290 = 10.4 frames and the first
    arrival's share.
    """
    names = [f"T{number:02}" for number in range(40)]
    places = [
        Place(name, (1000, 4000 + READY_S + HOME_S), {at: (1000, 4000)}) for at, name in enumerate(names)
    ]
    problem = a_problem(places, {name: [goal(frames=1)] for name in names})
    frame_s = 63 + 9 + READY_S
    assert ceiling(problem) == pytest.approx((3003 + frame_s - 63) / frame_s * 60_000, abs=1)


@pytest.mark.parametrize("seed", range(20))
def test_first_duals_are_those_at_which_the_sums_come_out_equal(seed: int) -> None:
    """Of linear programmes both ends meet: frames at their duals and seconds at theirs give the same sum."""
    problem = random_problem(seed + 3900, most_targets=4)
    if not problem.slots:
        pytest.skip("nothing can be done on this night")
    duals, second = first_duals(problem)
    assert duals.min() >= 0.0
    assert second >= 0.0
    offers, left_s = ceiling_module._offers(problem)
    caps = np.array([task.frames_left for task in problem.tasks])
    total = float(duals @ caps) + second * left_s
    assert total == pytest.approx(ceiling_module._by_frames(problem))
    for cost_s, task in offers:  # no frame is cheaper than what it brings
        assert duals[task.index] + second * cost_s >= task.profit * (1 - 1e-9)


def test_first_duals_say_more_than_many_labellings_from_others(monkeypatch: pytest.MonkeyPatch) -> None:
    """Forty targets with two goals each, twice what fits: ten labellings from them, thirty from flat ones."""
    names = [f"T{number:02}" for number in range(40)]
    goals = {name: [goal("L", 60.0 + at, 6), goal("R", 90.0 + at, 4)] for at, name in enumerate(names)}
    weights = {name: {"weight": 0.5 + at % 4 / 2} for at, name in enumerate(names)}
    places = [Place(name, (1000, 20_000)) for name in names]
    graph = RunGraph(a_problem(places, goals, keys=weights))
    from_sums = [found.bound for found in islice(first_bounds(graph, Budget(5.0, deterministic=True)), 10)][
        -1
    ]

    def flat(self: Subgradient) -> np.ndarray:
        return 0.2 * self.units

    monkeypatch.setattr(Subgradient, "first", flat)
    bounds = islice(first_bounds(graph, Budget(5.0, deterministic=True)), 30)
    assert from_sums < [found.bound for found in bounds][-1]


def test_of_goals_of_season_size_one_labelling_proves() -> None:
    """Six targets with four goals each of which no cap binds: nothing is remembered, nothing has a dual."""
    names = [f"T{number}" for number in range(6)]
    filters = ("L", "R", "G", "B")
    problem = a_problem(
        [Place(name, (1000 + 1500 * at, 9000 + 1500 * at)) for at, name in enumerate(names)],
        {name: [goal(each, 60.0 + at, SEASON) for each in filters] for at, name in enumerate(names)},
        filters=[{"name": each} for each in filters],
        aim={"time_limit_s": 5.0},
    )
    graph = RunGraph(problem)
    assert not graph.binding.any()
    assert graph.lean.sets.tolist() == [1] * 6
    sums, labelled, *_ = first_bounds(graph, Budget(0.2, deterministic=True))
    solution = solve(problem)
    assert solution.profit <= solution.bound <= labelled.bound <= sums.bound
    assert labelled.bound <= 1.02 * solution.profit


def test_a_bound_is_there_where_no_labelling_has_time() -> None:
    """Whatever the limit: never is all that is wanted said to be possible where a night does not hold it."""
    names = [f"T{number}" for number in range(8)]
    filters = ("L", "R", "G", "B")
    problem = a_problem(
        [Place(name, (1000, 20_000)) for name in names],
        {name: [goal(each, 60.0 + at, 80) for each in filters] for at, name in enumerate(names)},
        filters=[{"name": each} for each in filters],
    )
    found = list(
        first_bounds(RunGraph(problem, BoundParameters(most_cells=0)), Budget(1e-9, deterministic=True))
    )
    assert len(found) == 1
    assert found[0].bound <= _open_seconds(problem) * _most_a_second(problem) < 0.2 * problem.most_profit


def test_a_cap_that_the_night_can_reach_is_remembered() -> None:
    """The window holds 15 frames: of 15 wanted it may hold all and no more, of 14 it could hold one more."""
    window = (1000, 1000 + 15 * 63)
    for wanted, binds in ((14, True), (15, False), (SEASON, False)):
        problem = a_problem([Place("A", window)], {"A": [goal(frames=wanted)]})
        assert RunGraph(problem).binding.tolist() == [binds]
