"""Where the night has time to spare, a visit waits for its target to rise: to the second, and at no price."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from optimizer.models.rig import PierSide
from optimizer.mount.zones import SIDEREAL_RATE
from optimizer.packing.higher_sky import LEAST_WAIT_S, toward_transits
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import constructed
from optimizer.problem import Problem
from tests.support.packing_nights import READY_S, SHUTTER_S, SLEW_S, Place, a_problem, goal, proven, under_sky
from tests.support.packing_random import random_problem


def with_transit_at(problem: Problem, second: int) -> Problem:
    slots = tuple(replace(slot, hour_angle_s=-second * SIDEREAL_RATE) for slot in problem.slots)
    return replace(problem, slots=slots)


def alone(side: PierSide | None, transit: int, **aim: str) -> Problem:
    problem = a_problem([Place("A", (1000, 9000), side=side)], {"A": [goal(frames=5)]}, aim=aim)
    return with_transit_at(problem, transit)


def test_visit_ends_with_the_transit_on_the_side_that_must_be_left_after_it() -> None:
    (visit,) = proven(alone("west", 5000)).schedule
    assert visit.free == 5000


def test_visit_lies_about_the_transit_where_it_may_be_followed_across() -> None:
    (visit,) = proven(alone(None, 5000)).schedule
    assert abs(visit.exposures[0][1] + visit.free - 2 * 5000) <= 1


@pytest.mark.parametrize(("side", "transit"), [("west", 1100), ("east", 5000), ("east", 900)])
def test_sinking_target_is_shot_at_once(side: PierSide, transit: int) -> None:
    (visit,) = proven(alone(side, transit)).schedule
    assert visit.exposures[0][1] == 1000 + READY_S


def test_visit_waits_no_longer_than_the_one_behind_it_lets_it() -> None:
    """The only place of B begins at 3500 s: the mount leaves for it just in time, and A ends just then."""
    places = [Place("A", (1000, 3400)), Place("B", (1000, 9000), {1: (3500, 3500 + SHUTTER_S)})]
    first, second = proven(a_problem(places, {"A": [goal(frames=5)], "B": [goal(frames=1)]})).schedule
    assert second.depart == 3500 - READY_S - SLEW_S
    assert first.free == second.depart


def test_wait_that_raises_nothing_is_left_out() -> None:
    (visit,) = proven(alone("west", 1000 + READY_S + 5 * 63 + LEAST_WAIT_S - 1)).schedule
    assert visit.exposures[0][1] == 1000 + READY_S
    (visit,) = proven(alone("west", 1000 + READY_S + 5 * 63 + LEAST_WAIT_S)).schedule
    assert visit.exposures[0][1] == 1000 + READY_S + LEAST_WAIT_S


def test_waiting_takes_nothing_away() -> None:
    """Same visits and runs; none begins sooner, none ends beyond its transit for it, the last ends in time."""
    waited = 0
    for seed in range(200):
        problem = random_problem(seed)
        if seed % 2:
            problem = with_transit_at(problem, 2000 + 10 * seed)
        plan = constructed(problem)
        moved = toward_transits(problem, plan)
        assert moved.without_waiting() == plan
        assert profit_of(problem, moved) == profit_of(problem, plan)
        for before, after in zip(scheduled(problem, plan), scheduled(problem, moved), strict=True):
            assert [task for task, _ in after.exposures] == [task for task, _ in before.exposures]
            later_s = after.exposures[0][1] - before.exposures[0][1]
            assert later_s >= 0
            assert later_s == 0 or after.free <= max(before.free, before.slot.transit_s())
            waited += later_s >= LEAST_WAIT_S
        assert toward_transits(problem, moved) == moved
    assert waited >= 100


def test_profit_that_hangs_on_the_time_decides_by_itself() -> None:
    problem = under_sky(alone("west", 5000, value="depth"), np.arange(20000, 0, -1))
    (visit,) = proven(problem).schedule
    assert visit.exposures[0][1] == 1000 + READY_S
