"""Sky and mount met: which sides a target gets, and what closes its windows there."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from optimizer.models.request import Request
from optimizer.models.rig import SIDES, PierSide
from optimizer.mount.sides import SideWindows, permitted_sides, side_windows
from optimizer.sky.bodies import night_sky
from optimizer.sky.tracks import Track
from optimizer.sky.windows import sky_windows
from tests.support.mount_nights import a_request

GOALS = [{"filter": "L", "exposure_s": 60.0, "frames": 5}]
CRADLE = {"name": "Cradle", "ra_deg": 52.297, "dec_deg": 31.31, "goals": GOALS}


def windows_on(request: Request, side: PierSide | None) -> tuple[SideWindows, Track]:
    sky = sky_windows(request, night_sky(request))
    target = request.targets[0]
    return side_windows(request, sky, target, side), sky[target.name].track


@pytest.mark.parametrize(
    ("kind", "sides", "permitted"),
    [
        ("german", "either", SIDES),
        ("german", "before", ("west",)),
        ("german", "after", ("east",)),
        ("fork", "either", (None,)),
        ("fork", "before", (None,)),
        ("fork", "after", (None,)),
    ],
)
def test_sides_that_a_target_may_be_shot_on(kind: str, sides: str, permitted: tuple[Any, ...]) -> None:
    request = a_request(mount={"kind": kind}, targets=[{**CRADLE, "sides": sides}])
    assert permitted_sides(request, request.targets[0]) == permitted


def test_zone_opens_and_closes_where_the_formulas_say() -> None:
    """Contact 40 min less 12 less 20 s: 1660 s. Flip from 5 min, and 20 s, read by the clock: 320.876 s."""
    mount = {"contact_min": 40.0, "clearance_min": 12.0, "flip_from_min": 5.0, "clock_error_s": 20.0}
    request = a_request(mount=mount, targets=[CRADLE])
    west, track = windows_on(request, "west")
    east, _ = windows_on(request, "east")
    (first,) = [window for window in west.shutter["L"] if window.closed_by.cause == "zone"]
    (flipped,) = [window for window in east.shutter["L"] if window.opened_by.cause == "zone"]
    assert float(track.hour_angle_s(first.end_s)) == pytest.approx(1660.0, abs=0.01)
    assert float(track.hour_angle_s(flipped.start_s)) == pytest.approx(320.0 * 1.00273790935, abs=0.01)
    assert first.closed_by.words == "pier side west must be left"
    assert flipped.opened_by.words == "pier side east opens"


def test_quiet_minutes_end_at_the_meridian() -> None:
    request = a_request(mount={"quiet_min": 8.0, "clock_error_s": 20.0}, targets=[CRADLE])
    west, track = windows_on(request, "west")
    edges = [edge for window in west.quiet for edge in (window.start_s, window.end_s)]
    assert track.hour_angle_s(np.array(edges)) == pytest.approx([-480.0, 0.0], abs=0.01)


def test_without_quiet_minutes_there_is_no_quiet_time() -> None:
    assert windows_on(a_request(targets=[CRADLE]), "west")[0].quiet == ()


def test_fork_has_whole_nights_and_keeps_a_wish_for_exposures_alone() -> None:
    """Before the transit the shutter; the telescope itself may come and go on either side."""
    free, _ = windows_on(a_request(mount={"kind": "fork"}, targets=[CRADLE]), None)
    for sides, sign in (("before", -1), ("after", 1)):
        request = a_request(mount={"kind": "fork", "quiet_min": 8.0}, targets=[{**CRADLE, "sides": sides}])
        wished, track = windows_on(request, None)
        assert wished.work == free.work
        assert wished.quiet == ()
        (window,) = wished.shutter["L"]
        edge = window.end_s if sides == "before" else window.start_s
        assert float(track.hour_angle_s(edge)) == pytest.approx(0.0, abs=0.01)
        assert np.all(sign * track.hour_angle_s(np.linspace(window.start_s + 1, window.end_s - 1, 50)) > 0)


def test_motion_needs_no_altitude_and_work_needs_no_dark() -> None:
    request = a_request(targets=[CRADLE])
    west, _ = windows_on(request, "west")
    for outer, inner in ((west.zone, west.motion), (west.motion, west.work), (west.work, west.shutter["L"])):
        assert inner
        for window in inner:
            assert any(each.start_s <= window.start_s and window.end_s <= each.end_s for each in outer)
    assert west.motion[0].opened_by.cause == "sun"
    assert west.shutter["L"][0].opened_by.cause in ("darkness", "floor")


def test_circumpolar_target_is_left_at_the_lower_culmination() -> None:
    """Both sides meet there again; each keeps the clock's error away from it."""
    pole = {"name": "Polar Dust", "ra_deg": 230.0, "dec_deg": 76.0, "goals": GOALS, "floor_deg": 10.0}
    site = {"latitude_deg": 38.92, "longitude_deg": -3.11, "floor_deg": 10.0}
    request = a_request(mount={"clock_error_s": 30.0}, targets=[pole], site=site)
    west, track = windows_on(request, "west")
    east, _ = windows_on(request, "east")
    (opens,) = [window.start_s for window in west.work if window.opened_by.cause == "zone"]
    (closes,) = [window.end_s for window in east.work if window.closed_by.cause == "zone"]
    assert float(track.hour_angle_s(opens)) == pytest.approx(-43170.0, abs=0.01)
    assert float(track.hour_angle_s(closes)) == pytest.approx(43170.0, abs=0.01)
    assert opens - closes == pytest.approx(60 / 1.0027378, abs=0.05)
