"""Among plans of equal value the one farther from contact, wherever it comes from, and before the higher sky."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from optimizer.models.rig import SIDES
from optimizer.mount.zones import SIDEREAL_RATE
from optimizer.packing.parameters import DEFAULT
from optimizer.packing.schedule import profit_of, scheduled
from optimizer.packing.search.construct import constructed
from optimizer.packing.solution import Solution
from optimizer.packing.solve import solve
from optimizer.packing.sooner_flips import nearness_s, with_sooner_flips
from optimizer.problem import Problem
from tests.support.packing_nights import FRAME_S, Place, a_problem, frames, goal, under_sky

FLIPS_FROM, TRANSIT = 3000, 2900


def crossing(left_by: int, wanted: int = 200, **places: int) -> Problem:
    """One target carried across: the first side must be left by `left_by`, the flip may begin at 3000 s."""
    places = {"ends": 9000, **places}
    sides = [
        Place("A", (1000, left_by)),
        Place("A", (FLIPS_FROM, places["ends"]), side="east", motion=(FLIPS_FROM, places["ends"])),
    ]
    return with_transit(a_problem(sides, {"A": [goal(frames=wanted)]}), TRANSIT)


def with_transit(problem: Problem, second: int) -> Problem:
    slots = tuple(replace(slot, hour_angle_s=-second * SIDEREAL_RATE) for slot in problem.slots)
    return replace(problem, slots=slots)


def random_crossing(seed: int) -> Problem:
    """A target with one or two goals and a rival, focus runs and dithers of every kind."""
    rng = random.Random(seed)
    left_by, ends = FLIPS_FROM + rng.randint(0, 2500), rng.randint(5000, 9000)
    goals = [
        goal(name, rng.choice([40.0, 60.0, 130.0]), rng.randint(5, 120)) for name in ("LR", "L")[seed % 2]
    ]
    places = [
        Place("A", (1000, left_by)),
        Place("A", (FLIPS_FROM, ends), side="east", motion=(FLIPS_FROM, ends)),
        Place("B", (1000, rng.randint(3000, 9000)), declination_deg=40.0),
    ]
    problem = a_problem(
        places,
        {"A": goals, "B": [goal(frames=rng.randint(1, 40))]},
        keys={"A": {"weight": rng.choice([0.9, 1.1]), "least_min": rng.choice([0.0, 20.0])}},
        camera={"dither_every": rng.choice([0, 3])},
        focus={"every_min": rng.choice([0.0, 15.0, 40.0]), "on_filter_change": rng.random() < 0.5},
        mount={"refocus_after_flip": rng.random() < 0.5},
    )
    return with_transit(problem, TRANSIT)


def flip_of(solution: Solution) -> int:
    """When the flip begins."""
    (flip,) = [act for visit in solution.schedule for act in visit.acts if act.kind == "flip"]
    return flip.start


@pytest.mark.parametrize("ties", [True, False])
def test_more_room_to_contact_is_not_used_up(ties: bool) -> None:
    """With 800 s more of room the frames and the flip stay as they are: within a frame of its first second."""
    solved = [solve(crossing(left_by), parameters=replace(DEFAULT, ties=ties)) for left_by in (4200, 5000)]
    assert [frames(solution) for solution in solved] == [frames(solved[0])] * 2
    for solution in solved:
        assert solution.status == "optimal"
        assert FLIPS_FROM <= flip_of(solution) < FLIPS_FROM + FRAME_S


@pytest.mark.parametrize("ties", [True, False])
def test_first_side_is_not_filled_where_the_flipped_one_holds_as_much(ties: bool) -> None:
    """A night too short for all frames: four frames' room less on the first side takes none of them."""
    ends, left_by = 5000, 4200
    free = solve(crossing(left_by, ends=ends), parameters=replace(DEFAULT, ties=ties))
    fewer = solve(crossing(left_by - 4 * FRAME_S, ends=ends), parameters=replace(DEFAULT, ties=ties))
    assert frames(free) == frames(fewer)
    assert flip_of(free) == flip_of(fewer) < FLIPS_FROM + FRAME_S


@pytest.mark.parametrize("ties", [True, False])
def test_value_comes_first(ties: bool) -> None:
    """Blocked behind the flip for a while, the frames before it are worth more than the room to contact."""
    problem = crossing(4200)
    blocked = tuple(
        replace(slot, shutter={0: ((4600, 9000),)}) if slot.side == SIDES[1] else slot
        for slot in problem.slots
    )
    solution = solve(replace(problem, slots=blocked), parameters=replace(DEFAULT, ties=ties))
    assert flip_of(solution) > 4200 - 2 * FRAME_S


def test_profit_that_hangs_on_the_time_is_left_alone() -> None:
    problem = crossing(4200)
    plan = solve(problem, parameters=replace(DEFAULT, ties=False)).plan
    by_time = replace(
        under_sky(problem, np.full(20000, problem.tasks[0].profit)),
        rules=replace(problem.rules, by_time=True),
    )
    assert with_sooner_flips(by_time, plan) == plan


def test_sooner_flips_cost_nothing() -> None:
    """On random problems: as much profit in no more visits, nearer to contact never, farther often."""
    farther = 0
    for seed in range(300):
        problem = random_crossing(seed)
        plan = constructed(problem)
        moved = with_sooner_flips(problem, plan)
        assert profit_of(problem, moved) >= profit_of(problem, plan)
        assert len(moved) <= len(plan)
        before, after = (nearness_s(problem, scheduled(problem, each).visits) for each in (plan, moved))
        assert after <= before
        assert (after < before) == (moved != plan)
        farther += after < before
    assert farther >= 30
