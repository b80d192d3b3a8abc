"""Windows of the sky, judged second by second by the rules as written."""

from __future__ import annotations

import datetime as dt
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.models.request import Request
from optimizer.sky.bodies import NightSky, night_sky
from optimizer.sky.moonlight import moonlight_mag
from optimizer.sky.skyline import Skyline
from optimizer.sky.windows import SkyWindows, Windows, intersect, sky_windows, total_s
from tests.support.sky_cases import a_request

SECONDS = np.arange(0.0, 86401.0, 7.0)
SKYLINE = [[0, 12], [90, 25], [90, 40], [130, 40], [130, 15], [180, 18], [270, 30]]


def _plan(request: Request) -> tuple[SkyWindows, NightSky]:
    sky = night_sky(request)
    return sky_windows(request, sky), sky


def _holds(windows: Windows, expected: np.ndarray) -> bool:
    """Whether the windows are open just where expected, seconds within 2 ms of an edge aside."""
    inside = np.zeros(SECONDS.size, dtype=bool)
    judged = np.ones(SECONDS.size, dtype=bool)
    for window in windows:
        inside |= (window.start_s <= SECONDS) & (window.end_s >= SECONDS)
        for edge in (window.start_s, window.end_s):
            judged &= (np.abs(SECONDS - edge) > 0.002) | (edge in (0.0, 86400.0))
    assert judged.sum() > SECONDS.size - 20
    return bool(np.all((inside == expected) | ~judged))


@given(
    st.sampled_from([-33.0, 0.0, 38.9, 60.0, 78.0]),
    st.dates(dt.date(2020, 1, 1), dt.date(2032, 12, 31)),
    st.floats(0, 359),
    st.floats(-60, 89),
    st.sampled_from([0.0, 800.0]),
    st.booleans(),
    st.sampled_from(["sunset", "civil", "astronomical", -10.5, 0.0]),
)
@settings(deadline=None, max_examples=40)
def test_every_second_obeys_the_rules(
    lat: float,
    date: dt.date,
    ra: float,
    dec: float,
    pressure: float,
    hidden: bool,
    darkness: str | float,
) -> None:
    noon = dt.datetime.combine(date, dt.time(12), tzinfo=dt.UTC)
    spans = [[(noon + dt.timedelta(hours=h)).isoformat() for h in pair] for pair in ((3, 13), (12, 18))]
    blocked = [[(noon + dt.timedelta(hours=h)).isoformat() for h in (9, 9.5)]]
    request = a_request(
        evening=date.isoformat(),
        night={"clear": spans, "blocked": blocked},
        site={"latitude_deg": lat, "pressure_hpa": pressure, **({"skyline": SKYLINE} if hidden else {})},
        filters=[
            {"name": "L", "darkness": darkness, "moonlight_mag": 0.5, "moon_gap_deg": 40.0},
            {"name": "H"},
        ],
        targets=[{"name": "A", "ra_deg": ra, "dec_deg": dec, "floor_deg": 30.0}],
    )
    found, sky = _plan(request)
    star, t = sky.star(ra, dec), SECONDS
    sun, altitude = sky.sun.geometric_altitude_deg(t), star.altitude_deg(t)
    weather = ((t >= 3 * 3600) & (t <= 18 * 3600)) & ~((t > 9 * 3600) & (t < 9.5 * 3600))
    above = altitude >= Skyline(request.site.skyline).altitude_deg(star.azimuth_deg(t)) if hidden else True
    far = (star.separation_deg(sky.moon, t) >= 40.0) | ~sky.moon.is_up(t)
    faint = moonlight_mag(star, sky.moon, t) <= 0.5
    sun_down = sun <= -50 / 60
    named = {"sunset": -50 / 60, "civil": -6.0, "astronomical": -18.0}
    limit = named[darkness] if isinstance(darkness, str) else darkness
    works = sun_down & weather & above & (altitude >= (0.0 if hidden else 20.0))
    exposes = (sun <= limit) & sun_down & weather & above & (altitude >= 30.0)
    assert _holds(found["A"].shutter["L"], exposes & far & faint)
    assert _holds(found["A"].shutter["H"], (sun <= -18.0) & weather & above & (altitude >= 30.0))
    assert _holds(found["A"].acquisition, works)
    assert _holds(found.sun_down, sun_down & weather)
    assert _holds(found.dark, (sun <= max(limit, -18.0)) & sun_down & weather)
    causes = found["A"].shutter_causes["L"]
    assert _holds(causes["moon_gap"], far)
    assert _holds(causes["moonlight"], faint)
    assert _holds(intersect(causes["clear"], causes["blocked"]), weather)
    assert _holds(causes["darkness"], sun <= limit)
    assert _holds(causes["floor"], altitude >= 30.0)
    assert ("skyline" in causes) == hidden
    assert set(found["A"].shutter_causes["H"]) == {
        "darkness",
        "clear",
        "blocked",
        "floor",
        *(["skyline"] * hidden),
    }
    for windows in (*found["A"].shutter.values(), found["A"].acquisition):
        for window in windows:
            assert window.opened_by.cause in {*causes, "night", "sun"}
            assert window.opened_by.words != window.closed_by.words


def test_each_end_names_the_rule_that_binds() -> None:
    request = a_request(
        site={"latitude_deg": 38.92, "longitude_deg": -3.11, "time_zone": "Europe/Madrid"},
        filters=[{"name": "L"}],
        targets=[
            {"name": "East", "ra_deg": 120.0, "dec_deg": 20.0},
            {"name": "West", "ra_deg": 320.0, "dec_deg": 10.0},
        ],
    )
    found, sky = _plan(request)
    (east,), (west,) = found["East"].shutter["L"], found["West"].shutter["L"]
    assert (east.opened_by.words, east.closed_by.words) == ("rises above 20°", "Sun above −18°")
    assert (west.opened_by.words, west.closed_by.words) == ("Sun below −18°", "sinks below 20°")
    assert float(found["East"].track.altitude_deg(east.start_s)) == pytest.approx(20.0, abs=1e-5)
    assert float(sky.sun.geometric_altitude_deg(east.end_s)) == pytest.approx(-18.0, abs=1e-5)


def test_the_moon_closes_and_its_setting_opens() -> None:
    # 2026-11-20: the Moon, 0.85 lit, sets after midnight; a target near it becomes free then.
    request = a_request(
        evening="2026-11-20", filters=[{"name": "L", "moon_gap_deg": 60.0, "moonlight_mag": 0.3}]
    )
    found, sky = _plan(request)
    causes = found["A"].shutter_causes["L"]
    opening = [w.opened_by for w in causes["moon_gap"] if w.opened_by.words == "Moon sets"]
    assert opening
    assert opening[0].cause == "moon_gap"
    (window,) = found["A"].shutter["L"]
    assert window.opened_by.words == "Moon sets"
    assert not sky.moon.is_up(window.start_s + 1)


@pytest.mark.parametrize(
    ("latitude_deg", "evening", "darkness", "hours"),
    [
        (60.0, "2026-06-21", "astronomical", 0.0),  # no astronomical night
        (78.0, "2026-06-21", "sunset", 0.0),  # no sunset for months
        (85.0, "2026-12-21", "astronomical", 24.0),  # dark all day
        (78.0, "2026-12-21", "astronomical", None),
    ],
)
def test_always_and_never_are_told_apart(
    latitude_deg: float, evening: str, darkness: str | float, hours: float | None
) -> None:
    request = a_request(
        evening=evening,
        site={"latitude_deg": latitude_deg},
        filters=[{"name": "L", "darkness": darkness}],
        targets=[{"name": "A", "ra_deg": 0.0, "dec_deg": 89.0}],
    )
    found, _ = _plan(request)
    if hours is None:
        assert 0 < total_s(found.dark) < 86400
    else:
        assert total_s(found.dark) == hours * 3600
    assert found["A"].shutter["L"] == found.dark  # a star at the pole sets for nobody here
    if hours == 24.0:
        assert {found.dark[0].opened_by.cause, found.dark[0].closed_by.cause} == {"night"}


def test_a_target_that_never_rises_leaves_nothing_and_says_which_rule() -> None:
    found, _ = _plan(a_request(targets=[{"name": "A", "ra_deg": 0.0, "dec_deg": -80.0}]))
    assert found["A"].shutter["L"] == ()
    assert found["A"].acquisition == ()
    assert found["A"].shutter_causes["L"]["floor"] == ()
    assert found["A"].shutter_causes["L"]["darkness"] != ()


def test_a_target_that_only_grazes_its_floor_is_seen() -> None:
    request = a_request(targets=[{"name": "A", "ra_deg": 60.0, "dec_deg": 30.0}])
    found, _ = _plan(request)
    track = found["A"].track
    highest = float(track.altitude_deg(np.arange(0.0, 86400.0, 1.0)).max())
    floor = highest - 1e-6  # above the floor for a dozen seconds at most
    grazing, _ = _plan(
        a_request(targets=[{"name": "A", "ra_deg": 60.0, "dec_deg": 30.0, "floor_deg": floor}])
    )
    (window,) = grazing["A"].shutter_causes["L"]["floor"]
    assert 0 < window.seconds < 15


def test_spans_given_by_hand_may_overlap_and_leave_the_night() -> None:
    night = {
        "clear": [
            ["2026-11-14T22:00:00Z", "2026-11-15T02:00:00Z"],
            ["2026-11-13T22:00:00Z", "2026-11-14T23:00:00Z"],
        ],
        "blocked": [["2026-11-15T01:00:00Z", "2026-11-16T01:00:00Z"]],
    }
    found, _ = _plan(a_request(night=night))
    causes = found["A"].shutter_causes["L"]
    assert [(w.start_s, w.end_s) for w in causes["clear"]] == [(0.0, 14 * 3600.0)]
    assert causes["clear"][0].opened_by.cause == "night"
    assert [(w.start_s, w.end_s) for w in causes["blocked"]] == [(0.0, 13 * 3600.0)]
    assert causes["blocked"][0].closed_by.words == "blocked span begins"
    assert found.sun_down[-1].closed_by.cause == "blocked"


def test_a_clear_span_on_another_night_leaves_nothing() -> None:
    found, _ = _plan(a_request(night={"clear": [["2026-10-01T22:00:00Z", "2026-10-02T02:00:00Z"]]}))
    assert found.dark == found.sun_down == found["A"].shutter["L"] == ()


def test_only_the_filters_of_a_targets_goals_have_windows() -> None:
    goals = [{"filter": "H", "exposure_s": 60.0, "frames": 1}]
    request = a_request(
        filters=[{"name": "L", "darkness": "civil"}, {"name": "H"}],
        targets=[{"name": "A", "ra_deg": 60.0, "dec_deg": 30.0, "goals": goals}],
    )
    found, _ = _plan(request)
    assert list(found["A"].shutter) == ["H"]
    assert found.dark[0].opened_by.words == "Sun below −18°"  # the civil filter is used by nobody


def test_it_is_quick() -> None:
    rng = np.random.default_rng(1)
    filters = [
        {
            "name": f"F{i}",
            "darkness": -18.0 + i,
            "moon_gap_deg": 10.0 + 10 * i,
            "moonlight_mag": 0.2 + 0.2 * i,
        }
        for i in range(7)
    ]
    targets = [
        {"name": f"T{i}", "ra_deg": float(rng.uniform(0, 360)), "dec_deg": float(rng.uniform(-20, 80))}
        for i in range(50)
    ]
    request = a_request(site={"skyline": SKYLINE}, filters=filters, targets=targets)
    _plan(request)
    start = time.process_time()
    _plan(request)
    assert time.process_time() - start < 1.5  # of the processor; 0.2 s measured
