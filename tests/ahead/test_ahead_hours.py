"""Hours in the nights to come: counted by hand where that can be done, and against exact windows elsewhere."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import numpy as np
import pytest

from optimizer.ahead import hours as module
from optimizer.ahead.hours import hours_ahead
from optimizer.ahead.nights import LATER, STEP_S, NightsAhead
from optimizer.models.request import Request
from optimizer.models.site import Night
from optimizer.mount.sides import permitted_sides, side_windows
from optimizer.reading.load import request_from_data
from optimizer.sky.bodies import night_sky
from optimizer.sky.spans import Windows, total_s, unite
from optimizer.sky.windows import sky_windows
from tests.support.ahead_cases import at_the_pole, realistic
from tests.support.scenarios.nights import random_night
from tests.support.sky_cases import a_request
from tests.support.speeds import sampled

ALL_H = 28 * 24.0
TURNS = ALL_H * 1.00273790935 / 24  # of the sky
HALF_A_TURN_ODD = 1.4  # the sky makes 28.08 turns in those hours, so that one half of it comes 0.9 h short


def counted(request: Request) -> dict[tuple[str, str], float]:
    return hours_ahead(request, night_sky(request))


def alone(request: Request) -> float:
    (hours,) = counted(request).values()
    return hours


# --- by hand, in the polar night ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ({}, ALL_H),
        ({"aim": {"look_ahead_nights": 1}}, 24.0),
        ({"aim": {"look_ahead_nights": 3}}, 72.0),
        ({"target": {"dec_deg": 24.5}}, 0.0),  # below the floor
        ({"target": {"dec_deg": 24.5, "floor_deg": 20.0}}, ALL_H),
        ({"site": {"ceiling_deg": 45.0}}, 0.0),
        ({"filters": [{"name": "L", "darkness": -30.0}]}, 0.0),  # the Sun is at -22 to -23.4 degrees
        ({"target": {"sides": "before"}}, ALL_H / 2),
        ({"target": {"sides": "after"}}, ALL_H / 2),
        # half of all azimuths lie behind a wall of 60 degrees
        ({"site": {"skyline": [[0, 0], [180, 0], [180, 60], [360, 60]]}}, ALL_H / 2),
    ],
)
def test_polar_night_by_hand(keys: dict[str, Any], expected: float) -> None:
    forgiven = HALF_A_TURN_ODD if expected == ALL_H / 2 else 0.2
    assert alone(at_the_pole(**keys)) == pytest.approx(expected, abs=forgiven)


@pytest.mark.parametrize(
    ("mount", "target", "lost_min"),
    [
        # contact never measured: west until the transit, east from 5 min past it
        ({}, {}, 5.0),
        # contact an hour before the meridian and 10 min of clearance: west until -70 min
        ({"contact_min": -60.0}, {}, 75.0),
        ({"contact_min": -60.0, "clock_error_s": 60.0}, {}, 75.0 + 2.0 + 2.0),  # and at the lower culmination
        # the sides overlap: nothing is lost, on either of them it may be shot
        ({"contact_min": 60.0}, {}, 0.0),
        ({"contact_min": 60.0}, {"sides": "before"}, 720.0 - 50.0),
        ({"contact_min": 60.0}, {"sides": "after"}, 720.0 + 5.0),
        ({"contact_min": 60.0, "flip_by": "never"}, {}, 0.0),
        ({"contact_min": 60.0, "flip_by": "mount", "clock_error_s": 30.0}, {}, 1.0 + 1.0),
    ],
)
def test_forbidden_zone_is_left_out_and_either_side_counts(
    mount: dict[str, Any], target: dict[str, Any], lost_min: float
) -> None:
    found = alone(at_the_pole(mount={"kind": "german", **mount}, target=target))
    forgiven = HALF_A_TURN_ODD if target else 0.5
    assert ALL_H - found == pytest.approx(TURNS * lost_min / 60 * 0.99727, abs=forgiven)


def test_a_gap_that_no_target_keeps_leaves_the_hours_without_moon() -> None:
    """At the pole the Moon is up for half of each 27.3 days on end, but for its parallax of one degree."""
    hours = alone(at_the_pole(filters=[{"name": "L", "moon_gap_deg": 180.0}], aim={"look_ahead_nights": 27}))
    assert 27 * 24 * 0.49 < hours < 27 * 24 * 0.57
    assert alone(at_the_pole(filters=[{"name": "L", "moon_gap_deg": 0.0}])) == ALL_H


def test_moonlight_counts_by_the_factor_of_the_filter() -> None:
    """Seen through a filter that lets a tenth of it count, the same limit leaves more hours."""
    none, some, all_ = (
        alone(at_the_pole(filters=[{"name": "L", **keys}]))
        for keys in ({"moonlight_mag": 0.05}, {"moonlight_mag": 0.05, "moonlight_factor": 0.05}, {})
    )
    assert 0 < none < some - 10
    assert some < all_ == ALL_H


# --- against the exact windows of each night ---------------------------------------------------------------


def exactly(request: Request) -> dict[tuple[str, str], float]:
    """Hours of the windows that the planner makes for each of the nights."""
    sums: dict[tuple[str, str], float] = {}
    for later in range(request.aim.look_ahead_nights):
        night = Night(evening=request.night.evening + dt.timedelta(days=later))
        own = request.model_copy(update={"night": night})
        windows = sky_windows(own, night_sky(own))
        for target in own.targets:
            sides = [side_windows(own, windows, target, side) for side in permitted_sides(own, target)]
            for name in {goal.filter for goal in target.goals}:
                either: Windows = ()
                for side in sides:
                    either = unite(either, side.shutter[name])
                sums[target.name, name] = sums.get((target.name, name), 0.0) + total_s(either) / 3600
    return sums


@pytest.mark.parametrize("seed", sampled([0, 1, 16, 34, 43, 80, 120, 140, *range(200, 240)], 6))
def test_hours_are_those_of_the_exact_windows(seed: int) -> None:
    """Anywhere from 60 S to 65 N, every key in use; each window is one step more or less at most."""
    data = random_night(seed)
    data["aim"]["look_ahead_nights"] = 5
    data["night"].pop("ut1_utc_s", None)
    request = request_from_data(data, f"night {seed}")
    coarse, exact = counted(request), exactly(request)
    assert coarse.keys() == exact.keys()
    for key, hours in exact.items():
        assert coarse[key] == pytest.approx(hours, abs=0.7), key


def test_steps_that_come_later_from_night_to_night_halve_the_error() -> None:
    """What one night has too much another has too little: 28 nights are hardly worse than five."""
    request = realistic()
    coarse, exact = counted(request), exactly(request)
    worst = max(abs(coarse[key] - hours) for key, hours in exact.items())
    assert worst < 0.5
    assert all(hours > 20 for hours in exact.values())


# --- what plays no part ------------------------------------------------------------------------------------


def test_weather_of_tonight_plays_no_part() -> None:
    evening = {"clear": [["2026-11-14T18:00:00Z", "2026-11-14T19:00:00Z"]]}
    blocked = {"blocked": [["2026-11-14T18:00:00Z", "2026-11-15T06:00:00Z"]]}
    odds = {"clear_odds": [["2026-11-14T18:00:00Z", 10.0]]}
    hours = [counted(a_request(night=night)) for night in ({}, evening, blocked, odds)]
    assert hours[0]["A", "L"] > 100
    assert hours[1:] == [hours[0]] * 3


def test_hours_are_the_same_however_many_targets_are_looked_at_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    request = realistic()
    together = counted(request)
    monkeypatch.setattr(module, "MOST_AT_ONCE", 1)
    assert counted(request) == together


@pytest.mark.parametrize("evening", ["1973-01-02", "2016-12-20", "2040-10-01", "2100-12-31"])
def test_far_years_and_leap_seconds_are_counted_without_a_word(evening: str) -> None:
    """Past the end of all tables too; warnings are errors here. A year on from there is no worse."""
    request = a_request(evening=evening, aim={"look_ahead_nights": 366, "scarcity": 0.5})
    months = a_request(evening=evening, aim={"look_ahead_nights": 28, "scarcity": 0.5})
    year, month = counted(request)["A", "L"], counted(months)["A", "L"]
    assert 28 < month < 28 * 14
    assert month < year


def test_a_night_where_nothing_is_ever_dark_has_no_hours() -> None:
    request = at_the_pole(night={"evening": "2026-06-10"})
    assert counted(request) == {("A", "L"): 0.0}


# --- the samples -------------------------------------------------------------------------------------------


def test_samples_stand_for_all_of_each_night() -> None:
    """As many to each night as it has steps, none twice, and where the same sky finds the same bodies."""
    request = at_the_pole(aim={"look_ahead_nights": 4})
    sky = night_sky(request)
    nights = NightsAhead(sky, 4, -0.5)
    per_night = 86400 // STEP_S
    assert nights.times_s.size == 4 * per_night
    assert np.all(np.diff(nights.times_s) > 0.3 * STEP_S)
    first = nights.times_s[::per_night] % STEP_S / STEP_S
    assert first == pytest.approx([(0.5 + LATER * night) % 1 for night in range(4)])
    tonight = nights.times_s[:per_night]
    assert nights.sun_altitude_deg[:per_night] == pytest.approx(
        sky.sun.geometric_altitude_deg(tonight), abs=1e-6
    )
    moon = nights.moon
    assert 90 - moon.zenith_deg[:per_night] == pytest.approx(
        sky.moon.geometric_altitude_deg(tonight), abs=1e-6
    )
    assert moon.limb_above_deg[:per_night] == pytest.approx(sky.moon.limb_above_deg(tonight), abs=1e-6)
    assert moon.phase_angle_deg[:per_night] == pytest.approx(sky.moon.phase_angle_deg(tonight), abs=1e-6)
    star = nights.stars(np.array([60.0]), np.array([50.0]))[:, 0]
    apart = np.linalg.norm(star[:, :per_night] - sky.star(60.0, 50.0).unit(tonight), axis=0)
    assert math.degrees(apart.max()) * 3600 < 0.5


def test_the_last_of_many_nights_has_the_sky_of_its_own_evening() -> None:
    """28 nights on, within a second of time for the stars and a few arcseconds for Sun and Moon."""
    request = realistic()
    nights = NightsAhead(night_sky(request), 28, -5.0)
    last = nights.night == 27
    later = request.model_copy(update={"night": Night(evening=request.night.evening + dt.timedelta(days=27))})
    sky = night_sky(later)
    times = nights.times_s[last] - 27 * 86400
    assert nights.sun_altitude_deg[last] == pytest.approx(sky.sun.geometric_altitude_deg(times), abs=0.005)
    assert 90 - nights.moon.zenith_deg[last] == pytest.approx(
        sky.moon.geometric_altitude_deg(times), abs=0.005
    )
    star = nights.stars(np.array([23.46]), np.array([30.66]))[:, 0][:, last]
    apart = np.linalg.norm(star - sky.star(23.46, 30.66).unit(times), axis=0)
    assert math.degrees(apart.max()) * 3600 < 15
