"""What easier settings give where filter sets count: their progress is part of every gain."""

from __future__ import annotations

from typing import Any

import pytest

from optimizer.models.request import Request
from optimizer.night import Night
from optimizer.packing.schedule import profit_of_visits
from optimizer.problem.filter_sets import filter_sets_of
from optimizer.relief import Question, asking, questions_of, relieve
from optimizer.relief.changes import Change, halved_exposures
from tests.support.relief_nights import EXACT, FORK, cradle, planned
from tests.support.timeline_nights import a_request, goal

SETS = {**EXACT, "balance": 0.3}


def with_red(*, floor_deg: float = 40.0, **red: Any) -> Request:
    """In the west until it meets its floor: L is still wanted, and R, as many seconds, is complete."""
    return a_request(
        cradle(goal("L", frames=60), goal("R", frames=60, done=60, **red), floor_deg=floor_deg),
        clear=("03:00", "06:00"),
        mount=FORK,
        aim=SETS,
    )


@pytest.mark.parametrize(("in_set", "frame_s"), [(True, 390.0), (False, 300.0)])
def test_two_frames_more_of_what_lags_are_worth_more_than_their_seconds(in_set: bool, frame_s: float) -> None:
    """L is the slowest half of 36000 s: a frame of 300 s adds 600 s of progress, 0.7 x 300 + 0.3 x 600 = 390."""
    shots, night = planned(with_red(in_set=in_set))
    frames = shots.totals.goals[0].frames_planned
    assert night.value == pytest.approx(frame_s * frames)
    (entry,) = relieve(night, shots.unplanned, questions_of(night, shots.unplanned))
    (step,) = entry.relief or ()
    assert (step.key, step.open_s) == ("floor_deg", 600.0)
    assert step.value_s == pytest.approx(2 * frame_s)
    assert Night(with_red(floor_deg=38.0, in_set=in_set)).plan().totals.value_s == pytest.approx(
        night.value + step.value_s
    )


def two_with_sets(weight: float) -> Request:
    """The Wheel, of which R lags, and the Cradle; there is no time for both."""
    return a_request(
        cradle(goal("L", frames=9), goal("R", frames=6, done=2)),
        cradle(goal("L", frames=9, done=8), goal("R", frames=9), name="Wheel", weight=weight),
        clear=("21:00", "22:10"),
        mount=FORK,
        aim=SETS,
    )


def test_answer_to_another_weight_has_the_value_that_the_weights_as_they_are_give_it() -> None:
    """The same visits, judged by the night as it stands: each target's set by its own weight."""
    night, heavier = Night(two_with_sets(0.9)), Night(two_with_sets(1.35))
    night.plan()
    heavier.plan()
    assert {visit.slot.target.name for visit in heavier.solution.schedule} >= {"Wheel"}
    by_hand = night.problem.weighted_seconds(profit_of_visits(night.problem, heavier.solution.schedule))
    assert asking._value_s(heavier, night.request) == pytest.approx(by_hand, abs=0.002)
    assert asking._value_s(heavier, heavier.request) == heavier.value
    assert by_hand < heavier.value
    open_s = sum(0.9 * heavier.open_s(name) if name == "Wheel" else heavier.open_s(name) for name in NAMES)
    assert by_hand != pytest.approx(open_s, abs=1.0)


NAMES = ("Cradle", "Wheel")


def test_gain_of_a_heavier_target_is_that_of_planning_by_hand() -> None:
    """At 0.7 the Cradle has it all, at 1.05 the Wheel gets eight of R, and the Cradle keeps four of L.

    Wheel: R from 0 to 8 of 9, the slowest half of 5400 s: 0.7 x 2400 + 0.3 x 4800 = 3120, by weight 2184.
    Cradle: L 0 to 4 of 9, R at 1/3; of the 2250 s that make half of it R is 1800 and L 450, together at 800:
    0.7 x 1200 + 0.3 x 1600 = 1320. In all 3504 for 3720.
    """
    shots, night = planned(two_with_sets(0.7))
    change = Change("weight", 0.7, 1.05, target="Wheel")
    entries = relieve(night, shots.unplanned, [Question(change, tuple(range(len(shots.unplanned))))])
    steps = {entry.target: step for entry in entries for step in entry.relief or ()}
    assert list(steps) == ["Wheel"]
    answer = night.ask(two_with_sets(1.05), gap=0.0)
    by_hand = night.problem.weighted_seconds(profit_of_visits(night.problem, answer.solution.schedule))
    assert night.value == pytest.approx(3720.0)
    assert by_hand == pytest.approx(3504.0)
    assert steps["Wheel"].value_s == pytest.approx(by_hand - night.value, abs=0.002)
    assert steps["Wheel"].target_open_s == 2400.0
    assert not steps["Wheel"].certain


@pytest.mark.parametrize("done", [0, 7])
def test_half_as_long_subs_leave_the_set_as_it_is(done: int) -> None:
    """Hours wanted, hours in hand and share: what one more second brings is the same."""
    request = a_request(
        cradle(goal("L", frames=20, done=done), goal("R", exposure_s=120.0, frames=30)), aim=SETS
    )
    change = halved_exposures(request.targets[0], "L", 300.0)
    assert change is not None
    before, after = (
        filter_sets_of(Night(each).problem.tasks)[0] for each in (request, change.made_in(request))
    )
    units = [Night(each).problem.profit_unit for each in (request, change.made_in(request))]
    assert [each * units[0] for each in before.wanted] == [each * units[1] for each in after.wanted]
    assert [each * units[0] for each in before.in_hand] == [each * units[1] for each in after.in_hand]
