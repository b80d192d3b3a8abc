"""What may follow what: flips by whom, visits of one window, caps shared by visits, places in the night."""

from __future__ import annotations

from typing import Any

import pytest

from optimizer.problem import Problem
from optimizer.problem.transitions import may_follow
from tests.support.packing_nights import (
    CENTRED_S,
    FILTER_S,
    FLIP_S,
    FOCUS_S,
    FRAME_S,
    HOME_S,
    READY_S,
    SHUTTER_S,
    Place,
    a_problem,
    frames,
    goal,
    kinds,
    proven,
)

OPENS = 1000 + READY_S
ONE_A_SIDE = {"A": [goal(frames=1), goal(frames=1, gain=1)]}


def across(west_ends: int, east_opens: int, **mount: Any) -> Problem:
    places = [
        Place("A", (1000, west_ends), {1: None}, motion=(0, west_ends)),
        Place("A", (east_opens, 6000), {0: None}, side="east", motion=(east_opens, 6000)),
    ]
    return a_problem(places, ONE_A_SIDE, mount={"contact_min": 30.0, **mount})


def test_plan_flips_where_both_sides_are_wanted() -> None:
    solution = proven(across(1400, 1401))
    assert frames(solution) == {0: 1, 1: 1}
    assert kinds(solution).count("flip") == 1
    assert kinds(solution).count("filter") == 1  # the same filter before and after


def test_never_means_no_flip_but_both_sides_with_work_between() -> None:
    assert sum(frames(proven(across(1400, 1401, flip_by="never"))).values()) == 1
    places = [
        Place("A", (1000, 1400), {1: None}),
        Place("A", (1401, 6000), {0: None}, side="east", motion=(1401, 6000)),
        Place("B", (1000, 6000)),
    ]
    goals = {**ONE_A_SIDE, "B": [goal(frames=1)]}
    solution = proven(a_problem(places, goals, mount={"flip_by": "never"}))
    assert frames(solution) == {0: 1, 1: 1, 2: 1}
    assert [visit.slot.target.name for visit in solution.schedule] == ["A", "B", "A"]
    assert "flip" not in kinds(solution)


@pytest.mark.parametrize(("sky_ends", "flips"), [(20000, True), (1500, False)])
def test_mount_that_flips_by_itself_must_track_up_to_it(sky_ends: int, flips: bool) -> None:
    """From the first side's end to the flip the sky must not close: the mount tracks on until it does."""
    places = [
        Place("A", (1000, 1400), {1: None}, motion=(0, 1400), stretch=(0, sky_ends)),
        Place("A", (1600, 6000), {0: None}, side="east", motion=(1600, 6000)),
    ]
    solution = proven(a_problem(places, ONE_A_SIDE, mount={"contact_min": 30.0, "flip_by": "mount"}))
    assert sum(frames(solution).values()) == (2 if flips else 1)
    if flips:
        assert solution.schedule.visits[1].acts[0].kind == "flip"
        assert (
            solution.schedule.visits[1].depart == 1600
        )  # where the mount does it, not when the plan would like it


@pytest.mark.parametrize(("workable", "flips"), [(1600 + FLIP_S, True), (1600 + FLIP_S + 1, False)])
def test_mount_that_flips_by_itself_is_then_on_its_target(workable: int, flips: bool) -> None:
    places = [
        Place("A", (1000, 1400), {1: None}, motion=(0, 1400)),
        Place("A", (workable, 6000), {0: None}, side="east", motion=(1600, 6000)),
    ]
    solution = proven(a_problem(places, ONE_A_SIDE, mount={"contact_min": 30.0, "flip_by": "mount"}))
    assert sum(frames(solution).values()) == (2 if flips else 1)


def test_mount_that_flips_by_itself_must_not_come_too_near_before() -> None:
    """Contact 14 min less 10 of clearance is 240 s past the meridian; it flips at 300 s."""
    assert sum(frames(proven(across(1400, 1401, flip_by="mount", contact_min=14.0))).values()) == 1
    assert sum(frames(proven(across(1400, 1401, flip_by="mount", contact_min=15.1))).values()) == 2


def test_plan_never_goes_straight_back_to_one_window() -> None:
    problem = a_problem([Place("A", (1000, 9000))], {"A": [goal()]})
    first, second = problem.slots
    assert not may_follow(problem, first, second)
    assert not may_follow(problem, second, first)
    twice = a_problem([Place("A", (1000, 9000), {0: ((1000, 2000), (3000, 4000))})], {"A": [goal()]})
    assert may_follow(twice, *twice.slots)
    assert not may_follow(twice, *reversed(twice.slots))


def test_nothing_follows_what_ends_after_it() -> None:
    places = [Place("A", (1000, 9000)), Place("B", (100, 1000 + FRAME_S + 8))]
    problem = a_problem(places, {"A": [goal()], "B": [goal()]})
    assert not may_follow(problem, problem.slots[0], problem.slots[2])
    places[1] = Place("B", (100, 1000 + FRAME_S + 9))  # a slew to its neighbour takes 8 s and its safety
    problem = a_problem(places, {"A": [goal()], "B": [goal()]})
    assert may_follow(problem, problem.slots[0], problem.slots[2])


@pytest.mark.parametrize("left", [1, 3])
def test_goal_gets_no_more_than_it_lacks_in_all_its_visits(left: int) -> None:
    """Two windows west and one east, wide open: the cap is one for all of them."""
    places = [
        Place("A", (1000, 3000)),
        Place("A", (3001, 9000), side="east"),
    ]
    solution = proven(a_problem(places, {"A": [goal(frames=10, done=10 - left)]}))
    assert frames(solution) == {0: left}
    assert len(solution.schedule) == 1  # and among equal plans the one with fewer moves is taken


def test_cadence_as_long_as_an_exposure_gives_one_frame_a_visit() -> None:
    """A focus run inside a run is followed by a dither: nothing more fits until the next one is due."""
    places = [Place("A", (1000, 9000)), Place("B", (1000, 9000))]
    solution = proven(
        a_problem(
            places,
            {"A": [goal(frames=5)], "B": [goal(frames=5)]},
            focus={"every_min": 1.0},
            camera={"dither_every": 3, "dither_s": 12.0},
        )
    )
    assert frames(solution) == {0: 2, 1: 2}  # A B A B: two visits each, never straight back


def test_among_equal_plans_the_one_with_fewer_moves() -> None:
    """Two goals of A and one of B: A once, not before and after B."""
    places = [Place("A", (1000, 9000)), Place("B", (1000, 9000))]
    goals = {"A": [goal("L", frames=1), goal("R", frames=1)], "B": [goal(frames=1)]}
    assert len(proven(a_problem(places, goals)).schedule) == 2


def test_heavier_target_wins_the_only_place() -> None:
    places = [Place("A", (1000, OPENS + SHUTTER_S)), Place("B", (1000, OPENS + SHUTTER_S))]
    goals = {"A": [goal(frames=1)], "B": [goal(frames=1)]}
    solution = proven(a_problem(places, goals, keys={"B": {"weight": 1.001}}))
    assert frames(solution) == {1: 1}
    assert solution.profit == 60_060


def test_wait_comes_before_the_slew_so_that_the_focus_is_fresh() -> None:
    """The window opens at 3000 s: the slew leaves home as late as it may, not at dusk."""
    solution = proven(a_problem([Place("A", (1000, 9000), {0: (3000, 3060)})], {"A": [goal(frames=1)]}))
    (visit,) = solution.schedule
    assert [act.kind for act in visit.acts] == ["slew", "centre", "settle", "filter", "focus", "expose"]
    assert visit.depart == 3000 - READY_S - HOME_S
    assert [act.end - act.start for act in visit.acts] == [HOME_S, 45, 15, FILTER_S, FOCUS_S, FRAME_S]


def test_wait_within_a_visit_comes_before_the_filter() -> None:
    solution = proven(
        a_problem(
            [Place("A", (1000, 9000), {0: (1000, OPENS + SHUTTER_S), 1: (3000, 3060)})],
            {"A": [goal("L", frames=1), goal("R", frames=1)]},
            focus={"on_new_target": True},
        )
    )
    (visit,) = solution.schedule
    assert [act.kind for act in visit.acts][5:] == ["expose", "wait", "filter", "focus", "expose"]
    assert visit.acts[-1].start == 3000


def test_flip_before_a_wait_keeps_the_target() -> None:
    """Tight zone: the mount stands from the first side's last download until the flip may begin."""
    solution = proven(across(OPENS + SHUTTER_S, 2500))
    west, east = solution.schedule
    assert west.free == OPENS + FRAME_S
    assert (east.depart, east.acts[0].end) == (2500, 2500 + FLIP_S)
    assert east.acts[-1].start == 2500 + FLIP_S + CENTRED_S + FOCUS_S


def test_acts_without_length_are_left_out_but_for_changes() -> None:
    """The law: a step whose length would be 0 is no step, unless who runs the list would then not make it."""
    solution = proven(
        a_problem(
            [Place("A", (1000, 9000))],
            {"A": [goal(frames=3)]},
            mount={"centre_s": 0.0, "settle_s": 0.0},
            camera={"dither_every": 1, "dither_s": 0.0},
            focus={"on_new_target": False, "on_filter_change": False},
        )
    )
    assert kinds(solution) == ["slew", "filter", "expose", "dither", "expose", "dither", "expose"]


def test_lengths_are_rounded_up_each_by_itself() -> None:
    """45.2, 15.1, 150.01 and 12.3 s take 46, 16, 151 and 13; 180 / 7 is 25.7 and takes 26."""
    solution = proven(
        a_problem(
            [Place("A", (1000, 1500), {1: None}), Place("A", (1501, 6000), {0: None}, "east", (1501, 6000))],
            {"A": [goal(frames=2), goal(frames=2, gain=1)]},
            mount={"centre_s": 45.2, "settle_s": 15.1, "turn_rotator_after_flip": True, "rotator_deg_s": 7.0},
            camera={"dither_every": 1, "dither_s": 12.3},
            focus={"run_s": 150.01},
        )
    )
    lengths: dict[str, int] = {
        act.kind: act.end - act.start for visit in solution.schedule for act in visit.acts
    }
    wanted = {"centre": 46, "settle": 16, "rotate": 26, "focus": 151, "dither": 13, "filter": 8, "expose": 63}
    assert {kind: lengths[kind] for kind in wanted} == wanted
