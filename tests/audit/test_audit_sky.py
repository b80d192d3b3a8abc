"""The audit's sky against the planner's other route, without interpolation, and left to itself."""

from __future__ import annotations

import socket
import subprocess
import sys
import threading
import warnings
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import AltAz, EarthLocation, get_body, get_sun
from astropy.coordinates.erfa_astrom import ErfaAstrom
from astropy.time import Time
from astropy.utils import iers

from optimizer.audit import sky as audit_sky
from optimizer.audit.clock import REACH_S, night_origin
from optimizer.audit.sky import SkyBook, oriented
from optimizer.models.request import Request
from optimizer.sky.bodies import night_sky
from tests.support.audit_requests import a_request

# A leap second falls into the first three nights, before and after their middle.
NIGHTS = [
    ("2016-12-31", 51.0, 30.0, 0.0),
    ("2015-06-30", -33.0, -101.0, 0.0),
    ("1990-12-31", 20.0, -170.0, 0.0),
    ("2026-11-14", 38.92, -3.11, 940.0),
    ("1973-01-05", 66.0, 120.0, 0.0),
    ("2100-06-20", -75.0, -60.0, 700.0),
    ("2050-03-01", 0.0, 179.9, 0.0),
]
PLACES = [(10.0, 85.0), (52.3, 31.3), (200.0, -5.0), (300.0, -70.0)]


def a_night(evening: str, latitude_deg: float, longitude_deg: float, pressure_hpa: float) -> Request:
    site = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg, "pressure_hpa": pressure_hpa}
    return a_request(PLACES, evening, site)


@pytest.mark.parametrize("night", NIGHTS, ids=lambda night: night[0])
def test_both_routes_agree(night: tuple[str, float, float, float]) -> None:
    """Targets within 0.001 arcsec, Sun 0.06, Moon 0.03, its limb 0.15: less than the audit forgives (0.2)."""
    request = a_night(*night)
    planned, book = night_sky(request), SkyBook(request, night_origin(request))
    assert planned.clock.origin == night_origin(request)
    second = np.arange(0, 86400, 1111)
    bodies, t_s = book.bodies(second), second.astype(float)
    limb = bodies.moon_limb_deg + 34 / 60
    for one, other, arcsec in (
        (bodies.sun_altitude_deg, planned.sun.geometric_altitude_deg(t_s), 0.06),
        (bodies.moon_altitude_deg, planned.moon.geometric_altitude_deg(t_s), 0.03),
        (limb, planned.moon.limb_above_deg(t_s), 0.15),
    ):
        assert np.abs(one - other).max() * 3600 < arcsec
    for number, track in enumerate(planned.stars(PLACES)):
        places = book.places(np.full(second.shape, number), second)
        turn = (places.hour_angle_s - track.hour_angle_s(t_s) + 43200) % 86400 - 43200
        around = (places.azimuth_deg - track.azimuth_deg(t_s) + 180) % 360 - 180
        apart = bodies.moon_separation_deg(places) - track.separation_deg(planned.moon, t_s)
        assert np.abs(turn).max() * 15 * np.cos(np.radians(PLACES[number][1])) < 0.001
        assert np.abs(places.altitude_deg - track.altitude_deg(t_s)).max() * 3600 < 0.001
        assert (np.abs(around) * np.cos(np.radians(places.true_altitude_deg))).max() * 3600 < 0.001
        assert np.abs(apart).max() * 3600 < 0.03


@pytest.mark.parametrize("night", [NIGHTS[0], NIGHTS[3]], ids=lambda night: night[0])
def test_interpolation_costs_nothing(night: tuple[str, float, float, float]) -> None:
    """Sun and Moon between the nodes against their own transform: below 1e-4 arcsec, leap second or not."""
    request = a_night(*night)
    origin = night_origin(request)
    book = SkyBook(request, origin)
    second = np.arange(137, 86400, 3001)
    bodies = book.bodies(second)
    place = EarthLocation.from_geodetic(night[2] * u.deg, night[1] * u.deg, 0 * u.m)
    with oriented(book.orientation):
        labels = np.datetime64(origin.replace(tzinfo=None), "s") + second.astype("timedelta64[s]")
        times = Time(labels, scale="utc")
        for body, found in (("sun", bodies.sun_altitude_deg), ("moon", bodies.moon_altitude_deg)):
            # get_body would let the Sun bend its own light
            there = get_sun(times) if body == "sun" else get_body(body, times, place)
            direct = there.transform_to(AltAz(obstime=times, location=place)).alt.deg
            assert np.abs(found - direct).max() * 3600 < 1e-4


@pytest.mark.parametrize("night", NIGHTS, ids=lambda night: night[0])
def test_slow_motions_interpolated_cost_nothing(
    night: tuple[str, float, float, float], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Targets against astropy's transform in full at every instant: below 1e-5 arcsec."""
    request = a_night(*night)
    second = np.arange(77, 86400, 331)
    target = np.arange(len(second)) % len(PLACES)
    quick = SkyBook(request, night_origin(request)).places(target, second)
    monkeypatch.setattr(audit_sky, "ErfaAstromInterpolator", lambda _: ErfaAstrom())
    full = SkyBook(request, night_origin(request)).places(target, second)
    for name, unit_arcsec in (("hour_angle_s", 15), ("declination_deg", 3600), ("altitude_deg", 3600)):
        apart = getattr(quick, name) - getattr(full, name)
        assert 0 < np.abs(apart).max() * unit_arcsec < 1e-5, name


def test_questions_without_an_answer_are_nan() -> None:
    """No target, or an instant beyond the reach of the night; the others beside them are answered."""
    request = a_night(*NIGHTS[3])
    book = SkyBook(request, night_origin(request))
    places = book.places(np.array([-1, 0, 0]), np.array([0, REACH_S + 1, 0]))
    assert np.isnan(places.altitude_deg).tolist() == [True, True, False]
    assert np.isnan(book.bodies(np.array([REACH_S + 1, 0])).sun_altitude_deg).tolist() == [True, False]


def test_same_question_twice_is_the_same_answer() -> None:
    request = a_night(*NIGHTS[3])
    book = SkyBook(request, night_origin(request))
    second = np.array([500, 100, 500, 7])
    first = book.places(np.array([1, 0, 1, 2]), second)
    book.places(np.array([2, 3]), np.array([9, 80000]))
    again = book.places(np.array([1, 0, 1, 2]), second)
    assert np.array_equal(first.hour_angle_s, again.hour_angle_s)
    assert first.hour_angle_s[0] == first.hour_angle_s[2]


def test_measured_ut1_turns_the_sky() -> None:
    """A second of UT1 is 1.0027 s of hour angle."""
    request = a_night(*NIGHTS[3])
    asked = np.array([1]), np.array([30000])
    turns = [
        SkyBook(
            request.model_copy(update={"night": request.night.model_copy(update={"ut1_utc_s": value})}),
            night_origin(request),
        )
        .places(*asked)
        .hour_angle_s[0]
        for value in (-0.5, 0.5)
    ]
    assert turns[1] - turns[0] == pytest.approx(1.00273790935, abs=1e-6)


@pytest.mark.parametrize("evening", ["1973-01-01", "2031-07-01", "2100-12-31"])
def test_no_warning_and_no_network_in_any_year(evening: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("the audit opened a socket")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        request = a_night(evening, 40.0, 0.0, 0.0)
        book = SkyBook(request, night_origin(request))
        assert np.isfinite(book.places(np.array([0]), np.array([0])).altitude_deg).all()
        assert np.isfinite(book.bodies(np.array([0, 86400])).phase_angle_deg).all()


def test_astropy_is_left_as_it_was() -> None:
    before = iers.conf.auto_download, iers.conf.auto_max_age, iers.earth_orientation_table.get()
    request = a_night(*NIGHTS[3])
    SkyBook(request, night_origin(request)).bodies(np.array([0]))
    assert (iers.conf.auto_download, iers.conf.auto_max_age) == before[:2]
    assert iers.earth_orientation_table.get() is before[2]


def test_audit_imports_nothing_that_plans() -> None:
    """In a fresh interpreter, of all rooms only models and the Earth's orientation come with it."""
    code = "import sys, optimizer.audit; print(*sorted(m for m in sys.modules if m.startswith('optimizer')))"
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    # which models and the package itself import
    leaves = ("optimizer.words", "optimizer.errors", "optimizer.version")
    exact = ("optimizer", "optimizer.sky", "optimizer.sky.orientation", *leaves)
    rooms = ("optimizer.models", "optimizer.catalogue", "optimizer.audit")
    assert [name for name in found if name not in exact and not name.startswith(rooms)] == []
    assert "optimizer.audit.registry" in found


def test_audits_in_threads_do_not_turn_each_others_sky() -> None:
    """Nights of two leap seconds, asked in turn again and again by threads at once, as each is asked alone."""
    second, target = np.arange(0, 86400, 700), np.arange(124) % len(PLACES)

    def altitudes(night: tuple[str, float, float, float]) -> list[float]:
        request = a_night(*night)
        book = SkyBook(request, night_origin(request))
        return [*book.places(target, second).altitude_deg, *book.bodies(second).moon_altitude_deg]

    nights = [NIGHTS[0], NIGHTS[4], NIGHTS[6]] * 4
    alone = [altitudes(night) for night in nights[:3]] * 4
    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(altitudes, nights)) == alone


def test_sky_of_one_night_is_set_for_one_thread_at_a_time() -> None:
    """astropy has one table of the Earth's orientation for all threads."""
    books = [SkyBook(each, night_origin(each)) for each in (a_night(*NIGHTS[0]), a_night(*NIGHTS[6]))]
    begun, ended = threading.Event(), threading.Event()

    def other() -> None:
        begun.set()
        with oriented(books[1].orientation):
            ended.set()

    thread = threading.Thread(target=other)
    with oriented(books[0].orientation):
        own = iers.earth_orientation_table.get()
        thread.start()
        assert begun.wait(10)
        assert not ended.wait(0.2)
        assert iers.earth_orientation_table.get() is own
    thread.join(10)
    assert ended.is_set()
