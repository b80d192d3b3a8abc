"""The arithmetic of the flip, on paper and in a plan that has not a second to spare."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from optimizer.models.request import Request
from optimizer.models.rig import Mount
from optimizer.mount.flip import FlipTimes, flip_fit, flip_times, longest_exposure_s
from optimizer.mount.zones import zone_s
from optimizer.night import Night
from optimizer.packing.solve import solve
from optimizer.problem import build_problem
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows
from tests.support.checks import there
from tests.support.mount_nights import a_request, after_origin, instant, loaded, second_of

# Common practice, no source: equipment touches 30 min past the meridian, 10 min are kept clear, the flip is
# due 10 min past, exposures last 10 min. Begun just before it is due, one ends at 20 min: 30 - 20 = 10 left.
TOUCHES_AT_30: dict[str, Any] = {"contact_min": 30.0, "clearance_min": 10.0, "flip_from_min": 10.0}


def test_ten_minute_exposure_leaves_exactly_the_clearance() -> None:
    fit = flip_fit(Mount(**TOUCHES_AT_30), 600.0)
    assert fit.fits
    assert (fit.latest_track_min, fit.worst_end_min, fit.margin_min) == (20.0, 20.0, 10.0)
    assert fit.longest_fitting_s == 600.0


def test_twelve_minute_exposure_does_not_fit() -> None:
    fit = flip_fit(Mount(**TOUCHES_AT_30), 720.0)
    assert fit.fits is False
    assert (fit.worst_end_min, fit.margin_min) == (22.0, 8.0)
    assert fit.longest_fitting_s == 600.0


@pytest.mark.parametrize(
    ("keys", "exposure_s", "fits"),
    [
        ({}, 600.0, True),
        ({}, 600.001, False),
        ({"clock_error_s": 1.0}, 600.0, False),
        ({"clock_error_s": 1.0}, 599.0, True),
        ({"flip_from_min": 10.02}, 600.0, False),
        ({"contact_min": 29.98}, 600.0, False),
        ({"clearance_min": 10.02}, 600.0, False),
        # 0.1 + 0.7 is not 0.8 in binary: sums of minutes that come out even must still fit
        ({"contact_min": 10.8, "clearance_min": 10.0, "flip_from_min": 0.1}, 42.0, True),
    ],
)
def test_fit_turns_at_the_last_second(keys: dict[str, float], exposure_s: float, fits: bool) -> None:
    assert flip_fit(Mount(**{**TOUCHES_AT_30, **keys}), exposure_s).fits is fits


def test_without_an_exposure_nothing_is_judged() -> None:
    fit = flip_fit(Mount(**TOUCHES_AT_30), None)
    assert (fit.fits, fit.worst_end_min, fit.margin_min) == (None, None, None)


def test_no_exposure_fits_where_tracking_ends_before_the_flip_is_due() -> None:
    fit = flip_fit(Mount(contact_min=10.0, clearance_min=10.0, flip_from_min=5.0), 1.0)
    assert fit.longest_fitting_s == 0.0
    assert not fit.fits


def test_longest_exposure_is_of_what_is_still_wanted() -> None:
    goals = [
        {"filter": "L", "exposure_s": 900.0, "frames": 5, "done": 5},
        {"filter": "L", "exposure_s": 300.0, "frames": 5},
        {"filter": "L", "exposure_s": 420.5, "frames": 5, "done": 4},
    ]
    target = {"name": "Cradle", "ra_deg": 52.297, "dec_deg": 31.31, "goals": goals}
    assert longest_exposure_s(a_request(targets=[target])) == 420.5
    target["goals"] = goals[:1]
    assert longest_exposure_s(a_request(targets=[target])) is None


# By the law: 8 s and the hour axis' way from home at 3 degrees a second. The slew begins 600 + 218 + 39 s
# before hour angle 1200 s, at 341 s = 1.4 degrees past the meridian: 8 + (90 + 1.4) / 3 = 38.5 s.
SLEW_S = 39


def tight(clearance_min: float = 10.0, exposure_s: float = 600.0) -> Request:
    """A night cleared just in time: the exposure begins as the flip is all but due, on the first side.

    Its shutter closes at the last second before hour angle 20 min = 1200 s. Before it lie 218 s of acts and
    the slew; `never` keeps the planner from flipping instead.
    """
    mount = {**TOUCHES_AT_30, "clearance_min": clearance_min, "flip_by": "never"}
    goals = [{"filter": "L", "exposure_s": exposure_s, "frames": 1}]
    target = {"name": "Cradle", "ra_deg": 52.297, "dec_deg": 31.31, "sides": "before", "goals": goals}
    request = a_request(mount={**mount, "clearance_min": 10.0}, targets=[target])
    last = second_of(request, 1200.0)
    begins = last - 600 - 218 - SLEW_S
    clear = [[instant(request, begins), instant(request, last + 7200)]]
    return a_request(mount=mount, targets=[target], night={"clear": clear})


def test_plan_ends_an_exposure_exactly_at_the_limit() -> None:
    request = tight()
    shots = Night(loaded(request)).plan()
    assert shots.audit_report.violations == ()
    (expose,) = [step for step in shots.steps if step.kind == "expose"]
    assert expose.pier_side == "west"
    shutter_closes = expose.start_utc + dt.timedelta(seconds=600)
    assert after_origin(request, shutter_closes) == second_of(request, 1200.0)
    assert expose.latest_start_utc == expose.start_utc
    # it began before the flip was due at 10 min, and the 10 min of clearance are left, to the second
    assert 9.9 / 60 < (expose.hour_angle_h or 0) < 10 / 60
    assert 10.0 <= (shots.audit_report.least_margin_min or 0) < 10.0 + 1.01 / 60


@pytest.mark.parametrize(
    ("clearance_min", "exposure_s"),
    [(10 + 1.01 / 60, 600.0), (10.0, 601.0), (10.0, 720.0)],
)
def test_a_second_more_of_clearance_or_exposure_leaves_nothing(
    clearance_min: float, exposure_s: float
) -> None:
    request = tight(clearance_min, exposure_s)
    problem = build_problem(request, sky_windows(request, night_sky(request)))
    assert problem.slots
    solution = solve(problem)
    assert not solution.plan
    assert solution.bound == 0
    shorter = request.targets[0].goals[0].model_copy(update={"exposure_s": exposure_s - 1.01})
    target = request.targets[0].model_copy(update={"goals": (shorter,)})
    if exposure_s < 700:  # and a second less fits again
        again = request.model_copy(update={"targets": (target,)})
        assert solve(build_problem(again, sky_windows(again, night_sky(again)))).plan


def test_flip_times_are_where_the_hour_angle_says() -> None:
    """Due at 10 min, from 10 min 20 s on with the clock's error, the first side left at 20 min less 20 s."""
    request = a_request(mount={**TOUCHES_AT_30, "clock_error_s": 20.0})
    track = sky_windows(request, night_sky(request))["Cradle"].track
    (times,) = flip_times(request.mount, track)
    found = [
        float(track.hour_angle_s(there(t)))
        for t in (times.transit_s, times.due_s, times.flipped_s, times.left_s, times.latest_s)
    ]
    assert found == pytest.approx([0.0, 600.0, 620.0 * 1.00273790935, 1180.0, 1180.0], abs=0.01)


def times_with(**mount: object) -> tuple[FlipTimes, Callable[[float], float]]:
    request = a_request(mount={**TOUCHES_AT_30, **mount})
    track = sky_windows(request, night_sky(request))["Cradle"].track
    (times,) = flip_times(request.mount, track)
    return times, lambda time_s: float(track.hour_angle_s(time_s))


def test_mount_that_flips_by_itself_does_so_where_it_was_told_to() -> None:
    """Its clock may be 20 s off: the first side is left 20 s sooner, its flip has begun 20 s later."""
    times, turned = times_with(flip_by="mount", clock_error_s=20.0)
    assert turned(times.left_s) == pytest.approx(580.0, abs=0.01)
    assert times.due_s is not None
    assert times.latest_s is not None
    assert turned(times.due_s) == pytest.approx(600.0, abs=0.01)
    assert turned(times.latest_s) == pytest.approx(620.0 * 1.00273790935, abs=0.01)
    assert times.latest_s == times.flipped_s


def test_nothing_presses_a_flip_before_which_the_mount_stands_still() -> None:
    """Contact at 14 min, 12 kept: left at 2 min, three minutes before the mount takes a flip."""
    times, turned = times_with(contact_min=14.0, clearance_min=12.0, flip_from_min=5.0)
    assert turned(times.left_s) == pytest.approx(120.0, abs=0.01)
    assert times.latest_s is None
    assert turned(times.flipped_s) == pytest.approx(300.0 * 1.00273790935, abs=0.01)


def test_no_flip_where_no_target_is_carried_across() -> None:
    times, _ = times_with(flip_by="never")
    assert (times.due_s, times.latest_s) == (None, None)


# An exposure of 10 min in each mode, equipment touching at 30 min, 10 min kept, flip from 10 min.
@pytest.mark.parametrize(
    ("mode", "latest_min", "worst_end_min", "margin_min", "fits"),
    [
        ("plan", 20.0, 20.0, 10.0, True),
        ("mount", 10.0, 20.0, 10.0, False),  # begun just before the mount's own flip it would straddle it
        ("never", 20.0, 20.0, 10.0, True),  # nothing falls due: the last one ends where the side must be left
    ],
)
def test_fit_goes_by_the_zone_of_its_mode(
    mode: Any, latest_min: float, worst_end_min: float, margin_min: float, fits: bool
) -> None:
    mount = Mount(**TOUCHES_AT_30, flip_by=mode)
    fit = flip_fit(mount, 600.0)
    assert fit.latest_track_min == pytest.approx(latest_min)
    assert fit.latest_track_min * 60 == zone_s(mount, "west")[1]
    assert (fit.worst_end_min, fit.margin_min) == pytest.approx((worst_end_min, margin_min))
    assert fit.last_begin_min == pytest.approx(latest_min - 10.0)
    assert fit.fits is fits


def test_flip_is_due_no_sooner_than_the_flipped_side_is_clear() -> None:
    """From 20 min before the meridian the mount would; the other side is clear from 10 past it on."""
    fit = flip_fit(Mount(flip_from_min=-20.0, contact_min=30.0), 600.0)
    assert (fit.worst_end_min, fit.fits) == (20.0, True)
    fit = flip_fit(Mount(flip_from_min=-20.0, contact_min=15.0), 600.0)
    assert (fit.worst_end_min, fit.fits) == (20.0, False)


def test_margin_to_contact_is_known_only_where_contact_was_measured() -> None:
    fit = flip_fit(Mount(flip_from_min=-20.0, contact_before_min=40.0), 600.0)
    assert (fit.latest_track_min, fit.worst_end_min, fit.margin_min, fit.fits) == (0.0, -10.0, None, True)


def test_target_that_transits_twice_flips_twice() -> None:
    """What transits two minutes after the origin does so again within the 24 h."""
    request = a_request(mount=TOUCHES_AT_30)
    track = sky_windows(request, night_sky(request))["Cradle"].track
    noon_s = float(track.hour_angle_s(0.0)) % 86400
    ra_deg = (52.297 + noon_s / 240 + 0.5) % 360  # half a degree east of the meridian at the origin
    target = {
        "name": "Noon star",
        "ra_deg": ra_deg,
        "dec_deg": 31.31,
        "goals": [{"filter": "L", "exposure_s": 60.0, "frames": 1}],
    }
    request = a_request(mount=TOUCHES_AT_30, targets=[target])
    track = sky_windows(request, night_sky(request))["Noon star"].track
    transits = [each.transit_s for each in flip_times(request.mount, track)]
    assert len(transits) == 2
    assert transits[1] - transits[0] == pytest.approx(86164.1, abs=0.1)
