"""What a second of open shutter is worth by depth: the formula by hand, and by the audit's own route."""

from __future__ import annotations

import math

import numpy as np
import pytest

from optimizer.audit import audit_shot_list
from optimizer.models.request import Request
from optimizer.models.shots import ShotList
from optimizer.night import Night
from optimizer.sky.bodies import night_sky
from optimizer.sky.depth import DEPTH_STEP_S
from optimizer.sky.moonlight import moonlight_mag
from optimizer.sky.windows import SkyWindows, sky_windows
from tests.support.sky_cases import a_request

NEW_MOON, BRIGHT = "2026-11-09", "2026-11-20"


def request_on(evening: str, factor: float = 1.0) -> Request:
    targets = [
        {"name": "high", "ra_deg": 40.0, "dec_deg": 50.0},
        {"name": "low", "ra_deg": 60.0, "dec_deg": -5.0},
    ]
    return a_request(
        evening=evening,
        site={"extinction_mag": 0.25, "zenith_sky_mag": 21.0},
        filters=[{"name": "L", "moonlight_factor": factor}],
        targets=targets,
        aim={"value": "depth", "time_limit_s": 1.0, "workers": 1},
    )


def windows_of(request: Request) -> SkyWindows:
    return sky_windows(request, night_sky(request))


def weight(windows: SkyWindows, name: str, second: int) -> float:
    """Of the second around a mark of the grid."""
    opens = np.array([second])
    return float(windows[name].depth["L"].between_s(opens, opens + 1)[0])


def test_a_second_under_the_dark_zenith_counts_one() -> None:
    windows = windows_of(request_on(NEW_MOON))
    seconds = np.arange(0, 86400, DEPTH_STEP_S)
    altitudes = windows["high"].track.altitude_deg(seconds.astype(float))
    top = int(seconds[np.argmax(altitudes)])
    assert altitudes.max() > 89.8
    assert weight(windows, "high", top) == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("altitude_deg", [25.0, 30.0, 34.0])
def test_weight_at_an_altitude_is_the_formula_by_hand(altitude_deg: float) -> None:
    # Squared signal-to-noise of a faint source under sky noise: (T S)^2 / B (any handbook of photometry, from
    # memory); airmass Kasten & Young 1989; dark sky towards the horizon Krisciunas & Schaefer 1991, equation 2.
    windows = windows_of(request_on(NEW_MOON))
    seconds = np.arange(0, 86400, DEPTH_STEP_S)
    altitudes = windows["low"].track.altitude_deg(seconds.astype(float))
    second = int(seconds[np.argmin(np.abs(altitudes - altitude_deg))])
    altitude = math.radians(float(altitudes[np.argmin(np.abs(altitudes - altitude_deg))]))
    airmass = 1 / (math.sin(altitude) + 0.50572 * (math.degrees(altitude) + 6.07995) ** -1.6364)
    path = (1 - 0.96 * math.cos(altitude) ** 2) ** -0.5
    transmission = 10 ** (-0.4 * 0.25 * (airmass - 1))
    brighter = 10 ** (-0.4 * 0.25 * (path - 1)) * path
    assert weight(windows, "low", second) == pytest.approx(transmission**2 / brighter, rel=2e-3)


@pytest.mark.parametrize("factor", [1.0, 0.2])
def test_moonlight_takes_its_share_through_the_filter(factor: float) -> None:
    bright, dark = request_on(BRIGHT, factor), request_on(NEW_MOON, factor)
    sky = night_sky(bright)
    windows = sky_windows(bright, sky)
    track = windows["high"].track
    seconds = np.arange(0, 86400, DEPTH_STEP_S)
    light = moonlight_mag(track, sky.moon, seconds.astype(float))
    place = int(np.argmax(light * (track.altitude_deg(seconds.astype(float)) > 40)))
    altitude = float(track.altitude_deg(np.array([float(seconds[place])]))[0])
    without = windows_of(dark)
    same = int(np.argmin(np.abs(without["high"].track.altitude_deg(seconds.astype(float)) - altitude)))
    taken = 1 + factor * (10 ** (0.4 * float(light[place])) - 1)
    assert light[place] > 0.5
    assert weight(windows, "high", int(seconds[place])) == pytest.approx(
        weight(without, "high", int(seconds[same])) / taken, rel=5e-3
    )


def planned(evening: str) -> ShotList:
    return Night(request_on(evening, 0.5)).plan()


@pytest.mark.parametrize("evening", [NEW_MOON, BRIGHT])
def test_audit_finds_the_same_depth_by_its_own_route(evening: str) -> None:
    shots = planned(evening)
    assert shots.audit_report.violations == ()
    assert shots.totals.depth_s is not None
    assert 0 < shots.totals.depth_s < shots.totals.open_shutter_s
    assert shots.proof.objective == pytest.approx(shots.totals.depth_s, rel=1e-3)


@pytest.mark.parametrize(
    ("part", "key", "factor", "rule"),
    [
        ("totals", "depth_s", 1.0003, "totals"),
        ("totals", "depth_s", 0.9997, "totals"),
        ("totals", "depth_s", None, "totals"),
        ("proof", "objective", 1.0003, "proof"),
    ],
)
def test_depth_that_is_told_wrong_is_found(part: str, key: str, factor: float | None, rule: str) -> None:
    shots = planned(BRIGHT)
    held = getattr(shots, part)
    told = None if factor is None else getattr(held, key) * factor
    broken = shots.model_copy(update={part: held.model_copy(update={key: told})})
    assert rule in {violation.rule for violation in audit_shot_list(broken).violations}


def test_depth_is_not_told_where_the_aim_is_hours() -> None:
    shots = planned(BRIGHT)
    aim = shots.request.aim.model_copy(update={"value": "hours"})
    hours = shots.model_copy(update={"request": shots.request.model_copy(update={"aim": aim})})
    words = [violation.message for violation in audit_shot_list(hours).violations]
    assert "depth_s is given, but aim.value is hours" in words


def test_a_moon_that_rises_sends_the_exposures_before_it() -> None:
    """With less wanted than the night holds, depth chooses the dark hours; hours would not care."""
    request = request_on("2026-11-29")
    shots = Night(request).plan()
    assert shots.audit_report.violations == ()
    sky = night_sky(request)
    windows = sky_windows(request, sky)
    lit = []
    for step in shots.steps:
        if step.kind == "expose":
            assert step.target is not None
            opens = np.array([(step.start_utc - sky.clock.origin).total_seconds()])
            lit.append(float(moonlight_mag(windows[step.target].track, sky.moon, opens)[0]))
    # the light begins with the Moon's centre over the horizon without refraction, minutes after moonrise
    assert sum(mag == 0 for mag in lit) > 0.9 * len(lit)
    assert shots.proof.gap < 0.01
