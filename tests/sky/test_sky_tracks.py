"""Tracks: their geometry, and the traps that positions are known for."""

from __future__ import annotations

import datetime as dt
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.sky.frames import angle_deg
from optimizer.sky.transits import lower_transits, upper_transits
from tests.support.sky_cases import a_site, a_sky

T = np.linspace(0.0, 86400.0, 97)
SIDEREAL_DAY_S = 86164.0905  # IERS Conventions 2010


@given(
    st.floats(-90, 90),
    st.floats(-180, 180),
    st.floats(0, 359.99),
    st.floats(-90, 90),
    st.dates(min_value=dt.date(1973, 1, 1), max_value=dt.date(2100, 12, 31)),
)
@settings(deadline=None, max_examples=60)
def test_every_way_to_say_a_direction_agrees(
    lat: float, lon: float, ra: float, dec: float, date: dt.date
) -> None:
    sky = a_sky(date.isoformat(), a_site(lat, lon))
    for track in (sky.star(ra, dec), sky.sun, sky.moon):
        unit, (north, east, up) = track.unit(T), track.horizontal(T)
        assert np.allclose(np.linalg.norm(unit, axis=0), 1.0, atol=1e-11)
        altitude, azimuth = np.radians(track.geometric_altitude_deg(T)), np.radians(track.azimuth_deg(T))
        assert np.allclose(np.cos(altitude) * np.cos(azimuth), north, atol=1e-11)
        assert np.allclose(np.cos(altitude) * np.sin(azimuth), east, atol=1e-11)
        assert np.allclose(np.sin(altitude), up, atol=1e-11)
        hour, declination = np.radians(track.hour_angle_s(T) / 240), np.radians(track.declination_deg(T))
        assert np.allclose(np.cos(declination) * np.cos(hour), unit[0], atol=1e-11)
        assert np.allclose(-np.cos(declination) * np.sin(hour), unit[1], atol=1e-11)
        assert np.all((track.azimuth_deg(T) >= 0) & (track.azimuth_deg(T) < 360))
        assert np.all((track.hour_angle_s(T) > -43200) & (track.hour_angle_s(T) <= 43200))


def test_a_number_gives_what_an_array_gives() -> None:
    sky = a_sky("2026-11-14", a_site(pressure_hpa=900.0))
    star = sky.star(60.0, 30.0)
    for method in (
        star.altitude_deg,
        star.azimuth_deg,
        star.hour_angle_s,
        star.declination_deg,
        sky.moon.illuminated,
        sky.moon.semidiameter_deg,
        sky.moon.distance_km,
        sky.moon.is_up,
        sky.sun.altitude_deg,
    ):
        assert float(method(5000.0)) == pytest.approx(float(method(np.array([0.0, 5000.0]))[1]), abs=1e-11)
    assert star.unit(5000.0).shape == (3,)


def test_stars_in_a_batch_are_the_stars_one_by_one() -> None:
    sky = a_sky("2026-11-14", a_site())
    places = [(10.0, 20.0), (200.0, -75.0), (359.9, 89.0)]
    for (ra, dec), track in zip(places, sky.stars(places), strict=True):
        assert np.array_equal(track.unit(T), sky.star(ra, dec).unit(T))
    assert sky.stars([]) == ()


def test_refraction_lifts_altitudes_and_leaves_hour_angles_alone() -> None:
    # Trap: ERFA's own hour angle is refracted, by up to 205 arcsec (13.7 s) above 10 degrees.
    dry, wet = (a_sky("2026-03-01", a_site(pressure_hpa=p)).star(150.0, 10.0) for p in (0.0, 1010.0))
    up = T[dry.altitude_deg(T) > 10.0]
    lift = (wet.altitude_deg(up) - dry.altitude_deg(up)) * 60
    assert lift.max() == pytest.approx(5.3, abs=0.8)  # minutes of arc near 10 degrees: 5.3 in any almanac
    assert np.all(lift > 0)
    assert np.array_equal(wet.hour_angle_s(T), dry.hour_angle_s(T))
    assert np.array_equal(wet.geometric_altitude_deg(T), dry.altitude_deg(T))


def test_without_pressure_the_altitude_is_the_geometric_one() -> None:
    star = a_sky("2026-03-01", a_site()).star(150.0, 10.0)
    assert np.array_equal(star.altitude_deg(T), star.geometric_altitude_deg(T))


def test_coordinates_are_brought_to_date() -> None:
    # Trap: J2000 coordinates taken as of date are up to 1382 arcsec off by now.
    now, then = (a_sky(date, a_site()).star(0.0, 30.0) for date in ("2026-11-14", "2000-01-01"))
    assert abs(float(then.declination_deg(43200.0)) - 30.0) * 3600 < 40  # nutation and aberration only
    # Precession carries declinations at 0 h by 20.04 arcsec a year (IAU 2006), 538 in 26.87 years.
    assert (float(now.declination_deg(43200.0)) - 30.0) * 3600 == pytest.approx(538.0, abs=40.0)


@pytest.mark.parametrize("latitude_deg", [-60.0, 0.0, 30.0, 78.0])
def test_transits_are_where_the_hour_angle_is_zero_or_wraps(latitude_deg: float) -> None:
    sky = a_sky("2026-04-20", a_site(latitude_deg, 20.0))
    for track in (sky.star(0.0, 40.0), sky.star(200.0, -60.0), sky.sun, sky.moon):
        for t in upper_transits(track):
            assert float(track.hour_angle_s(t)) == pytest.approx(0.0, abs=1e-4)
        for t in lower_transits(track):
            assert abs(float(track.hour_angle_s(t))) == pytest.approx(43200.0, abs=1e-4)
            assert track.hour_angle_s(t - 1) > 0 > track.hour_angle_s(t + 1)


def test_the_lower_culmination_is_plus_twelve_hours(monkeypatch: pytest.MonkeyPatch) -> None:
    track = a_sky("2026-04-20", a_site()).star(0.0, 40.0)
    for y in (0.0, -0.0):
        monkeypatch.setattr(track, "unit", lambda t, y=y: np.array([-1.0, y, 0.0]))
        assert float(track.hour_angle_s(0.0)) == 43200.0


def test_a_star_can_transit_twice_in_a_night() -> None:
    sky = a_sky("2026-04-20", a_site())
    first = upper_transits(sky.star(0.0, 10.0))[0]
    # A star that transits 100 s after the origin does so again 86164 s later.
    ra = (0.0 - (first - 100.0) * 360 / SIDEREAL_DAY_S) % 360
    times = upper_transits(sky.star(ra, 10.0))
    assert len(times) == 2
    assert times[1] - times[0] == pytest.approx(SIDEREAL_DAY_S, abs=0.05)
    assert times[0] == pytest.approx(100.0, abs=5.0)


def test_the_moon_may_not_transit_at_all() -> None:
    counts = {len(upper_transits(a_sky(f"2026-11-{day:02d}", a_site()).moon)) for day in range(1, 30)}
    assert counts == {0, 1}  # the lunar day has 24 h 50 min


def test_transits_at_the_edge_of_the_search_are_kept() -> None:
    star = a_sky("2026-04-20", a_site()).star(150.0, 10.0)
    (transit,) = upper_transits(star, 1000.0, 80000.0)
    assert upper_transits(star, transit - 1e-4, 80000.0) == pytest.approx((transit,), abs=1e-4)
    assert upper_transits(star, 1000.0, transit + 1e-4) == pytest.approx((transit,), abs=1e-4)
    assert upper_transits(star, transit + 1e-3, 80000.0) == ()


def test_the_moon_has_parallax() -> None:
    # Trap: the parallax reaches a degree; two sites see the Moon at different places among the stars.
    north, south = (a_sky("2026-11-24", a_site(lat)) for lat in (60.0, -60.0))
    places = [sky.moon.declination_deg(T) for sky in (north, south)]
    assert 1.2 < float(np.mean(places[1] - places[0])) < 1.9
    assert 356000 - 6400 < north.moon.distance_km(T).min() < north.moon.distance_km(T).max() < 407000 + 6400


def test_separations_are_topocentric_angles_on_one_sky() -> None:
    # Trap: frames of different origins gave 1.7 degrees too much. Altitude and azimuth must give the same.
    sky = a_sky("2026-11-24", a_site())
    star = sky.star(60.0, 20.0)
    altitudes = [np.radians(track.geometric_altitude_deg(T)) for track in (star, sky.moon)]
    turned = np.radians(star.azimuth_deg(T) - sky.moon.azimuth_deg(T))
    cosine = np.sin(altitudes[0]) * np.sin(altitudes[1]) + np.cos(altitudes[0]) * np.cos(
        altitudes[1]
    ) * np.cos(turned)
    assert np.allclose(star.separation_deg(sky.moon, T), np.degrees(np.arccos(cosine)), atol=1e-6)
    assert np.array_equal(star.separation_deg(sky.moon, T), sky.moon.separation_deg(star, T))


@pytest.mark.parametrize("angle", [0.0, 1e-9, 1e-4, 45.0, 90.0, 179.9999, 180.0])
def test_small_and_large_angles_keep_their_digits(angle: float) -> None:
    radians = np.radians(angle)
    found = angle_deg(np.array([2.0, 0.0, 0.0]), np.array([np.cos(radians), np.sin(radians), 0.0]))
    assert float(found) == pytest.approx(angle, rel=1e-7, abs=1e-13)


def test_sun_and_moon_have_their_sizes() -> None:
    sky = a_sky("2026-11-24", a_site())
    assert sky.sun.place(T)[1] == pytest.approx(1.477e8, rel=0.001)  # late November: 0.987 au
    semidiameter = sky.moon.semidiameter_deg(T) * 60
    assert np.all((semidiameter > 14.5) & (semidiameter < 17.0))
    assert float(sky.moon.illuminated(43200.0)) > 0.98  # full on 2026-11-24


def test_the_moon_is_up_while_its_limb_is() -> None:
    moon = a_sky("2026-11-24", a_site()).moon
    t = np.arange(0.0, 86400.0, 300.0)
    limb = moon.geometric_altitude_deg(t) + moon.semidiameter_deg(t)
    assert np.array_equal(moon.is_up(t), limb >= -34 / 60)
    assert 0 < moon.is_up(t).sum() < t.size


@pytest.mark.parametrize("date", ["1973-01-01", "2016-12-31", "2050-06-01", "2100-12-31"])
@pytest.mark.parametrize("latitude_deg", [-90.0, 0.0, 90.0])
def test_no_year_and_no_pole_raises_a_warning(date: str, latitude_deg: float) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        sky = a_sky(date, a_site(latitude_deg, 179.0, pressure_hpa=700.0))
        for track in (sky.sun, sky.moon, sky.star(0.0, 90.0), sky.star(10.0, -90.0)):
            for values in (track.altitude_deg(T), track.azimuth_deg(T), track.hour_angle_s(T)):
                assert np.all(np.isfinite(values))


def test_across_a_leap_second_the_sky_jumps_by_one_second() -> None:
    star = a_sky("2016-12-31", a_site()).star(100.0, 0.0)  # the leap second falls 43200 s after the origin
    hour = star.hour_angle_s(np.array([43198.0, 43199.0, 43200.0, 43201.0]))
    assert np.diff(hour) == pytest.approx([1.0027, 2.0055, 1.0027], abs=1e-3)
