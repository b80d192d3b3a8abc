"""Nights on which a mount met trouble once, and a sweep of random rigs over the places that made it."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from optimizer.models.shots import ShotList
from optimizer.reading.load import request_from_data
from tests.support.modes.facts import Facts
from tests.support.modes.nights import ERROR_S, cell_data, instant_of, planned, utc_text
from tests.support.modes.sweep import random_rig, tower
from tests.support.speeds import deep

pytestmark = deep

LOW = "low in the south"


def plan_from(data: dict[str, Any]) -> ShotList:
    shots = planned(request_from_data(data, "a hard night"))
    assert shots.audit_report.violations == ()
    return shots


def own_flip(**mount: Any) -> dict[str, Any]:
    """A low target under a mount that flips by itself 5 min past the meridian."""
    data = cell_data("mount", LOW)
    data["mount"] |= {"contact_min": 40.0, **mount}
    return data


def assert_flips_by_itself(shots: ShotList) -> None:
    """The one flip begins where the mount takes it, or at the end of a download that ran over it."""
    facts = Facts(shots)
    (flip,) = facts.flips
    start_s = facts.after(flip.start_utc)
    late_s = start_s - facts.when_s(facts.edges.flipped_from, start_s)
    assert 0 <= late_s + 0.05 < 1.1 or facts.before(flip).kind == "expose"
    assert late_s < 1.1 + shots.request.camera.download_s + shots.request.camera.overhead_s


# A tower hides the target, or a spell is blocked, in these minutes past the meridian.
HINDRANCES = [(1.0, 2.5), (3.0, 4.5), (4.9, 5.1), (4.5, 6.5), (5.5, 9.0), (0.0, 4.9), (5.2, 5.4)]


@pytest.mark.parametrize("error_s", [ERROR_S, 90.0])
@pytest.mark.parametrize("span", HINDRANCES, ids=str)
@pytest.mark.parametrize("kind", ["tower", "blocked"])
def test_mount_reaches_its_own_flip_only_under_an_open_sky(
    kind: str, span: tuple[float, float], error_s: float
) -> None:
    """From the last shutter on the first side to the flip nothing may hide the target or block the night."""
    data = own_flip(clock_error_s=error_s)
    if kind == "tower":
        tower(data, LOW, *span)
    else:
        data["night"]["blocked"] = [
            [utc_text(instant_of(LOW) + dt.timedelta(minutes=minutes)) for minutes in span]
        ]
    shots = plan_from(data)
    facts = Facts(shots)
    assert sum(step.kind == "expose" for step in shots.steps) >= 12
    if facts.flips:
        assert_flips_by_itself(shots)


@pytest.mark.parametrize(("kind", "span"), [("tower", (-30.0, -20.0)), ("blocked", (20.0, 30.0))])
def test_hindrance_elsewhere_does_not_keep_it_from_flipping(kind: str, span: tuple[float, float]) -> None:
    data = own_flip()
    if kind == "tower":
        tower(data, LOW, *span)
    else:
        data["night"]["blocked"] = [
            [utc_text(instant_of(LOW) + dt.timedelta(minutes=minutes)) for minutes in span]
        ]
    assert_flips_by_itself(plan_from(data))


@pytest.mark.parametrize("flip_from_min", [0.0, 5.0, 12.0, 16.0, 20.0, 40.0])
def test_mount_flips_by_itself_however_late_it_does(flip_from_min: float) -> None:
    """The two readings of a minute part by 6.6 s at 40 min; that keeps nobody from the flip."""
    data = own_flip(flip_from_min=flip_from_min, contact_min=flip_from_min + 20.0)
    instant = instant_of(LOW)
    edges = [instant + dt.timedelta(minutes=minutes) for minutes in (-50, 100)]
    data["night"]["clear"] = [[utc_text(each) for each in edges]]
    shots = plan_from(data)
    assert Facts(shots).shapes() == "W E F"
    assert_flips_by_itself(shots)


@pytest.mark.parametrize("minutes", [30, 70, 110])
def test_wait_for_the_mounts_own_flip_ends_with_the_clear_sky(minutes: int) -> None:
    """Contact is hours away, so what bounds the latest start of the wait is the sky."""
    data = own_flip(contact_min=180.0)
    edges = [instant_of(LOW) + dt.timedelta(minutes=each) for each in (-60, minutes)]
    data["night"]["clear"] = [[utc_text(each) for each in edges]]
    shots = plan_from(data)
    facts = Facts(shots)
    wait = facts.before(facts.flips[0])
    assert wait.kind == "wait"
    assert wait.latest_start_utc is not None
    assert wait.start_utc <= wait.latest_start_utc <= edges[1] - (wait.end_utc - wait.start_utc)


def test_equator_has_one_sign() -> None:
    """Minus nought is a latitude like nought."""
    plans = []
    for latitude_deg in (0.0, -0.0):
        data = cell_data("plan", "from the equator")
        data["targets"][0]["dec_deg"] = 15.0
        data["site"]["latitude_deg"] = latitude_deg
        plans.append(plan_from(data).steps)
    assert plans[0] == plans[1]
    assert len(plans[0]) > 20


@pytest.mark.parametrize("place", [LOW, "lower culmination", "standstill", "north of the zenith"])
@pytest.mark.parametrize(("download_s", "overhead_s"), [(40.0, 0.0), (20.0, 100.0)])
@pytest.mark.parametrize("slew_deg_s", [0.1, 0.45, 0.5, 2.0])
@pytest.mark.parametrize("mode", ["plan", "fork"])
def test_way_counts_from_where_tracking_ended(
    mode: str, slew_deg_s: float, download_s: float, overhead_s: float, place: str
) -> None:
    """A slow download or overhead is worth half a degree of sky; planner and audit begin the way at the same instant."""
    data = cell_data(mode, place)
    data["mount"]["slew_deg_s"] = slew_deg_s
    data["camera"] |= {"download_s": download_s, "overhead_s": overhead_s}
    data["aim"]["time_limit_s"] = 0.5
    assert plan_from(data).steps


@pytest.mark.parametrize("quiet_min", [5.0, 12.0, 25.0])
@pytest.mark.parametrize("span", [(0.3, 6.0), (-1.0, 4.0), (-4.0, -0.5), (-45.0, 1.5)], ids=str)
def test_slew_keeps_quiet_where_work_begins_after_it(span: tuple[float, float], quiet_min: float) -> None:
    """A tower hides the target after the quiet minutes, so its work begins later than the way to it."""
    data = cell_data("plan", LOW)
    data["mount"] |= {
        "flip_from_min": -10.0,
        "contact_before_min": 40.0,
        "contact_min": 30.0,
        "slew_deg_s": 0.5,
        "quiet_min": quiet_min,
    }
    tower(data, LOW, *span)
    data["targets"].append(
        {
            "name": "Other",
            "ra_deg": (data["targets"][0]["ra_deg"] + 8) % 360,
            "dec_deg": 15.0,
            "weight": 1.5,
            "goals": [{"filter": "L", "exposure_s": 150.0, "frames": 14}],
        }
    )
    facts = Facts(plan_from(data))
    for stay in facts.mine:
        if stay.arrival.kind == "slew":
            start = facts.hour_angle_s(facts.after(stay.arrival.start_utc))
            end = facts.hour_angle_s(facts.after(stay.arrival.end_utc))
            assert end <= -quiet_min * 60 + 0.05 or start >= -0.05


@pytest.mark.parametrize("mode", ["plan", "fork"])
@pytest.mark.parametrize("sides", ["either", "before", "after"])
def test_lower_culmination_on_a_whole_second(mode: str, sides: str) -> None:
    """Without clock error the side begins at twelve hours to the dot, which is minus twelve as well."""
    data = cell_data(mode, "lower culmination")
    data["mount"]["clock_error_s"] = 0.0
    data["targets"][0]["sides"] = sides
    shots = plan_from(data)
    hours = [step.hour_angle_h or 0.0 for step in shots.steps if step.kind == "expose"]
    assert len(hours) >= 10
    assert (min(hours) < 0, max(hours) > 0) == (sides != "after", sides != "before")


def test_focus_carried_out_of_a_split_run_is_dithered_once() -> None:
    """What lies between the inner focus run and a later target's last shutter holds the dither after it."""
    data = cell_data("plan", "north of the zenith")
    data["night"]["clear"] = [["2026-11-14T12:35:00Z", "2026-11-14T15:05:00Z"]]
    data["night"]["blocked"] = [["2026-11-14T14:01:06Z", "2026-11-14T14:06:04Z"]]
    data["mount"] = {
        "flip_from_min": 45,
        "contact_min": 25,
        "slew_deg_s": 6,
        "settle_s": 0,
        "centre_s": 0,
    }
    data["camera"] = {"download_s": 3, "dither_every": 1}
    data["focus"] = {"run_s": 100.0, "every_min": 35, "on_new_target": False, "on_filter_change": False}
    data["targets"].append(
        {
            "name": "Other",
            "ra_deg": data["targets"][0]["ra_deg"] + 40,
            "dec_deg": -15.0,
            "weight": 0.4,
            "goals": [{"filter": "L", "exposure_s": 150.0, "frames": 8}],
        }
    )
    assert sum(step.kind == "expose" for step in plan_from(data).steps) >= 30


@pytest.mark.parametrize(("download_s", "overhead_s"), [(0.0, 0.0), (3.0, 0.0), (3.0, 37.0)])
@pytest.mark.parametrize("mode", ["plan", "fork", "early"])
def test_last_exposure_of_a_day_long_night(mode: str, download_s: float, overhead_s: float) -> None:
    """The night ends 24 h after it began, with the sky still dark and clear."""
    data = cell_data(mode, "two transits")
    data["camera"] = {"download_s": download_s, "overhead_s": overhead_s, "dither_every": 0}
    data["night"]["clear"][1][1] = "2026-12-21T12:30:00Z"
    shots = plan_from(data)
    assert shots.steps[-2].kind == "expose"


SWEEP, CHUNKS = 20, 5


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_random_rigs_at_hard_places_are_planned_without_a_violation(chunk: int) -> None:
    wrong, flips = [], 0
    for seed in range(chunk * SWEEP, (chunk + 1) * SWEEP):
        shots = planned(random_rig(seed))
        flips += any(step.kind == "flip" for step in shots.steps)
        wrong += [(seed, str(violation)) for violation in shots.audit_report.violations]
        if shots.request.mount.flip_by == "mount" and [s for s in shots.steps if s.kind == "flip"]:
            own = [step for step in shots.steps if step.kind == "flip" and step.target == "Main"]
            if own:
                assert_flips_by_itself(shots)
    assert wrong == []
    assert flips >= 2
