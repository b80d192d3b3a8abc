"""The rest of a night: what it asks for, that it is lawful with what was done, and never worse."""

from __future__ import annotations

import datetime as dt
import random
from pathlib import Path
from typing import Any, Literal

import pytest

from benchmarks.interrupted_nights import interruption, judged, literal_rest, value
from optimizer import chart, save
from optimizer.models.shots import ShotList
from optimizer.models.site import night_span
from optimizer.night import Night
from optimizer.packing.plan import Plan
from optimizer.packing.schedule import Schedule
from optimizer.packing.solution import Solution
from optimizer.replan import Rest, Told, rest_of
from optimizer.replan.replanned import proven_of
from optimizer.replan.rest import rest_request, slack_left_s, steps_left
from optimizer.replan.standing import standing_of
from optimizer.report.replan_facts import replanned
from optimizer.views.visits import visits_of
from tests.support.replan_nights import DATA, at, flipping_list, laid_list, small_list, small_request
from tests.support.speeds import deep, sampled

LIMIT_S = 0.1
MINUTE = dt.timedelta(minutes=1)


def rest(now: dt.datetime, older: ShotList | None = None, **told: Any) -> Rest:
    found = rest_of(small_list() if older is None else older, Told(now, **told), "0" * 64, limit_s=LIMIT_S)
    assert not found.violations, [violation.message for violation in found.violations]
    return found


def instant(seed: int) -> dt.datetime:
    """Some second between the first step of the small night and its last."""
    steps = small_list().steps
    span_s = round((steps[-1].start_utc - steps[0].start_utc).total_seconds())
    return steps[0].start_utc + dt.timedelta(seconds=random.Random(f"now {seed}").randrange(span_s))


@pytest.mark.parametrize("seed", sampled(range(40), 6))
def test_as_planned_the_new_list_is_worth_at_least_the_rest_of_the_older_one(seed: int) -> None:
    found = rest(instant(seed))
    literal_s, forgiven_s = value(found, literal_rest(found))
    assert found.shots.proof.objective >= literal_s - forgiven_s
    assert found.shots.proof.objective >= found.old_value_s - 1e-6


@pytest.mark.parametrize("slack_s", [0, 60])
def test_list_with_nothing_to_spare_loses_nothing(slack_s: int) -> None:
    """A dither before the first sub that the older list does not have would cost the last one of a tight window."""
    aim = {**DATA["aim"], "slack_s": slack_s}
    tight = {**DATA["night"], "clear": [["2026-11-14T20:30:00Z", "2026-11-14T21:30:00Z"]]}
    older = Night(small_request(aim=aim, night=tight)).plan()
    subs = [step for step in older.steps if step.kind == "expose"]
    for sub in (subs[1], subs[len(subs) // 2]):
        found = rest(sub.start_utc + dt.timedelta(seconds=20), older)
        assert found.shots.proof.objective >= value(found, literal_rest(found))[0] - 0.001


def test_best_is_claimed_only_where_the_bound_says_so() -> None:
    for seed in range(6):
        proof = rest(instant(seed)).shots.proof
        assert proof.bound >= proof.objective
        assert (proof.status == "optimal") <= (proof.bound == proof.objective)


@pytest.mark.parametrize(
    ("status", "profit", "ceiling", "claimed"),
    [
        ("feasible", 95, 200, ("feasible", 100)),
        ("feasible", 100, 200, ("optimal", 100)),
        ("optimal", 101, 200, ("feasible", 200)),  # the search's proof was of plans with a dither more
        ("optimal", 101, 101, ("optimal", 101)),
        ("stopped", 101, 200, ("stopped", 200)),
    ],
)
def test_older_rest_is_proven_by_no_more_than_holds(
    status: Literal["optimal", "feasible", "stopped"], profit: int, ceiling: int, claimed: tuple[str, int]
) -> None:
    found = Solution(Plan(), Schedule(), 90, 100, status, "gap", 1.0, 2, {})
    kept = proven_of(found, profit, ceiling)
    assert (kept.status, kept.bound) == claimed
    assert kept.profit == profit


def test_request_asks_for_what_is_left() -> None:
    older = laid_list()
    told = Told(
        at("20:58"), until=at("00:30"), blocks=((at("21:10"), at("21:20")), (at("20:40"), at("20:50")))
    )
    standing = standing_of(older, told)
    request = rest_request(older, standing, told, 17)
    night_begins, night_ends = night_span(older.request.night, -3.11, "Europe/Madrid")
    assert request.night.blocked == (
        (night_begins, at("20:58")),
        (at("21:10"), at("21:20")),
        (at("00:30"), night_ends),
    )
    assert request.aim.slack_s == 17
    done = {(target.name, goal.filter): goal.done for target, goal in request.goals()}
    assert done == {
        ("Cradle", "L"): 2,
        ("Cradle", "Ha"): 2,
        ("Iris", "L"): 0,
    }  # three subs fell into the cloud


def test_target_left_out_stays_complete_only_where_the_mount_is_on_it() -> None:
    older = laid_list()
    told = Told(at("20:58"), left_out=frozenset({"Cradle"}))
    request = rest_request(older, standing_of(older, told), told, 0)
    assert [target.name for target in request.targets] == ["Cradle", "Iris"]
    assert all(goal.frames_left == 0 for goal in request.targets[0].goals)
    parked = Told(at("20:58"), left_out=frozenset({"Cradle"}), parked=True)
    request = rest_request(older, standing_of(older, parked), parked, 0)
    assert [target.name for target in request.targets] == ["Iris"]


def list_with_slack() -> ShotList:
    """The laid list with a latest start 60 s after each start, but for waits and park."""
    older = laid_list()
    latest = dt.timedelta(seconds=60)
    steps = [
        step
        if step.kind in ("wait", "park")
        else step.model_copy(update={"latest_start_utc": step.start_utc + latest})
        for step in older.steps
    ]
    return older.model_copy(update={"steps": tuple(steps)})


@pytest.mark.parametrize(("late_s", "left_s"), [(12, 48), (42, 18), (60, 0), (102, 0)])
def test_late_list_has_so_much_slack_left(late_s: int, left_s: int) -> None:
    """The dither planned at 20:55:32 comes next, and was to begin so many seconds ago."""
    older = list_with_slack()
    told = Told(at("20:55:32") + dt.timedelta(seconds=late_s), done=frozenset(range(1, 12)))
    standing = standing_of(older, told)
    assert standing.running is None
    assert slack_left_s(older, standing, told) == left_s


def test_steps_that_cannot_be_made_say_nothing_of_the_slack() -> None:
    older = list_with_slack()
    told = Told(at("20:56:02"), done=frozenset(range(1, 12)), blocks=((at("20:56:02"), at("21:16")),))
    assert slack_left_s(older, standing_of(older, told), told) == 30  # of the dither; then comes the cloud
    told = Told(at("20:56:02"), done=frozenset(range(1, 12)), left_out=frozenset({"Cradle"}))
    assert slack_left_s(older, standing_of(older, told), told) == 60


def test_list_that_goes_on_from_elsewhere_has_the_slack_from_its_next_slew_on() -> None:
    """The slew was to begin 45 s ago; in the second case no slew is left."""
    older = list_with_slack()
    told = Told(at("20:40:45"), done=frozenset(), parked=True)
    assert slack_left_s(older, standing_of(older, told), told) == 15
    told = Told(at("20:56:14"), done=frozenset(range(1, 12)), at="Cradle", pier_side="east")
    standing = standing_of(older, told)
    slews = [step for step in steps_left(older, standing) if step.kind == "slew"]
    late_s = max([0.0, *((at("20:56:14") - step.start_utc).total_seconds() for step in slews)])
    assert slack_left_s(older, standing, told) == 60 - late_s


def test_slack_is_that_of_the_request_where_nothing_is_late() -> None:
    found = rest(instant(1))
    assert found.shots.request.aim.slack_s == 60
    parked = rest(instant(1), parked=True)
    assert parked.shots.request.aim.slack_s == 60


@pytest.mark.parametrize(
    ("minutes", "first_words"),
    [
        (25, "Now: stop tracking at once, for pier side west must not track Cradle now; "),
        (
            35,
            "Now: stop tracking at once, stop the old list, and look at the mount: by contact_min it is past ",
        ),
    ],
)
def test_mount_on_the_wrong_side_leaves_it_at_once(minutes: int, first_words: str) -> None:
    """The flip was refused: half an hour later the tube still tracks on pier side west, past its limit."""
    older = flipping_list()
    flip = next(step for step in older.steps if step.kind == "flip")
    now = flip.start_utc + minutes * MINUTE
    found = rest(now, older, at=flip.target, pier_side="west")
    assert found.must_leave
    first = found.shots.steps[0]
    assert first.kind in ("flip", "slew") or (first.kind == "wait" and not first.tracking)
    assert first.start_utc == now
    again = replanned(found)
    assert again.assumed.startswith(f"Assumed: tube on pier side west, on {flip.target}, tracking.")
    assert again.first.startswith(first_words)
    assert any(note.startswith("The new list begins with ") for note in again.notes)


def test_mount_that_stands_still_before_a_flip_goes_on_standing_or_flips() -> None:
    older = flipping_list(contact_min=10)
    waits = [step for step in older.steps if step.kind == "wait" and not step.tracking]
    flips = [step for step in older.steps if step.kind == "flip"]
    assert waits
    assert flips
    before = next(step for step in waits if step.end_utc == flips[0].start_utc)
    found = rest(before.end_utc - MINUTE, older)
    assert found.standing.begin.stands_since_utc == before.start_utc
    assert not found.must_leave
    first = found.shots.steps[0]
    assert first.kind in ("flip", "slew") or not first.tracking
    assert "standing still since" in replanned(found).assumed


def test_sub_under_way_is_named_with_what_it_needs_before() -> None:
    sub = next(step for step in small_list().steps if step.kind == "expose")
    again = replanned(rest(sub.start_utc + dt.timedelta(seconds=30)))
    assert sum(change.old_s for change in again.changes) <= small_list().totals.open_shutter_s
    assert again.value_s >= again.old_value_s - 1e-6
    assert [change.target for change in again.changes] == [goal.target for goal in again.shots.totals.goals]


@deep
@pytest.mark.parametrize("seed", range(60))
def test_interrupted_nights_are_lawful_and_never_worse(seed: int) -> None:
    found, words = judged(interruption(seed), limit_s=0.5)
    assert words == []
    assert found["violations"] == 0
    assert found["worse"] == 0


def test_rest_can_be_drawn_and_told_from_where_the_mount_stays(tmp_path: Path) -> None:
    """The first visit of such a list has no slew."""
    sub = next(step for step in small_list().steps if step.kind == "expose")
    shots = rest(sub.start_utc + dt.timedelta(seconds=30)).shots
    assert visits_of(shots.steps)[0].steps[0] is shots.steps[0]
    page = chart(shots)
    assert page.count("<svg") >= 1
    assert shots.continues is not None
    stem = f"2026-11-14.replan-{shots.continues.now_utc:%H%M}"
    assert [path.name for path in save(shots, tmp_path)] == [f"{stem}.shots.json", f"{stem}.shots.csv"]
