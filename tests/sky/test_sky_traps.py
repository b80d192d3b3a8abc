"""Traps that positions are known for, where no other test has them.

Trap 1 at the level of a track, 2 in declination and 3 are in test_sky_tracks, 4 is in test_sky_offline and
test_audit_sky, 5 in test_sky_windows (always, never), test_sky_facts (Sun and Moon that do not come) and
test_sky_tracks (two transits, lower culmination).
"""

from __future__ import annotations

import math

import erfa
import numpy as np
import pytest
from numpy.typing import NDArray

from optimizer.mount.sides import side_windows
from optimizer.sky.bodies import night_sky
from optimizer.sky.crossings import Sampled
from optimizer.sky.frames import elevation_deg
from optimizer.sky.windows import sky_windows
from tests.support.sky_cases import a_request, a_site, a_sky

Floats = NDArray[np.float64]
DAY_S = 86400.0


def test_trap_1_refraction_moves_floors_but_no_flip_limit() -> None:
    zones, floors = [], []
    for pressure_hpa in (0.0, 1010.0):
        request = a_request(
            site={"pressure_hpa": pressure_hpa},
            targets=[{"name": f"T{dec}", "ra_deg": 60.0, "dec_deg": dec} for dec in (-25.0, 0.0, 30.0, 80.0)],
        )
        windows = sky_windows(request, night_sky(request))
        for target in request.targets:
            zones += [
                (window.start_s, window.end_s)
                for side in ("west", "east")
                for window in side_windows(request, windows, target, side).zone
            ]
            floors += [
                (window.start_s, window.end_s)
                for window in windows[target.name].acquisition_causes["floor"]
                if target.dec_deg in (0.0, 30.0)
            ]
    assert len(zones) >= 16
    assert zones[: len(zones) // 2] == zones[len(zones) // 2 :]
    dry, wet = floors[: len(floors) // 2], floors[len(floors) // 2 :]
    assert any(start > 0.0 for start, _ in dry)
    for (start, end), (wet_start, wet_end) in zip(dry, wet, strict=True):
        assert start == 0.0 or 10.0 < start - wet_start < 60.0  # seconds: 2.6' at 20 degrees
        assert end == DAY_S or 10.0 < wet_end - end < 60.0


def test_trap_1_the_refracted_hour_angle_is_far_from_the_one_used() -> None:
    # ERFA's observed hour angle at 10 degrees and more, with the same pressure as the site's.
    sky = a_sky("2026-11-14", a_site(pressure_hpa=1010.0))
    star = sky.star(60.0, 10.0)
    longitude, latitude = (math.radians(value) for value in (0.0, 50.0))
    apart = []
    for t in np.arange(0.0, DAY_S, 600.0):
        if float(star.geometric_altitude_deg(t)) < 10.0:
            continue
        utc = tuple(float(part) for part in sky.clock.utc_jd(t))
        seen = erfa.atco13(
            math.radians(60.0),
            math.radians(10.0),
            *(0.0, 0.0, 0.0, 0.0),
            *utc,
            sky.orientation.ut1_utc_s,
            *(longitude, latitude, 0.0, 0.0, 0.0),
            *(1010.0, 10.0, 0.5, 0.55),
        )
        apart.append(math.degrees(seen[2]) * 3600 - float(star.hour_angle_s(t)) * 15)
    assert min(apart) < -150.0  # arcseconds
    assert max(apart) > 150.0


def _as_of_date(sky: object, ra: Floats, dec: Floats, *, precessed: bool) -> tuple[Floats, Floats]:
    """Hour angle and declination (degrees) at midnight of places taken as of date, or precessed."""
    clock, orientation = sky.clock, sky.orientation  # type: ignore[attr-defined]
    tt = tuple(float(part) for part in clock.tt_jd(43200.0))
    ut1 = tuple(float(part) for part in clock.ut1_jd(43200.0, orientation))
    vectors = erfa.s2c(np.radians(ra), np.radians(dec))
    if precessed:
        vectors = vectors @ erfa.pmat06(*tt).T
    ra_of_date, dec_of_date = erfa.c2s(vectors)
    sidereal = erfa.gmst06(*ut1, *tt) if precessed else erfa.gst06a(*ut1, *tt)
    return np.degrees(sidereal - ra_of_date), np.degrees(dec_of_date)  # longitude 0


def test_trap_2_hour_angles_are_of_date_and_precession_alone_is_not_enough() -> None:
    # 26.9 years after J2000: 50.3" a year along the ecliptic, 1351"; nutation and aberration leave about 30".
    rng = np.random.default_rng(2)
    sky = a_sky("2026-11-14", a_site())
    ra, dec = rng.uniform(0, 360, 200), np.degrees(np.arcsin(rng.uniform(-0.9, 0.9, 200)))
    tracks = sky.stars(list(zip(ra.tolist(), dec.tolist(), strict=True)))
    hour = np.array([float(track.hour_angle_s(43200.0)) for track in tracks])
    of_date = np.array([float(track.declination_deg(43200.0)) for track in tracks])
    off, turned_s = {}, {}
    for precessed in (False, True):
        their_hour, their_dec = _as_of_date(sky, ra, dec, precessed=precessed)
        turned = (hour - their_hour * 240 + 43200) % 86400 - 43200
        around = turned * 15 * np.cos(np.radians(of_date))
        off[precessed] = np.hypot(around, (of_date - their_dec) * 3600)
        turned_s[precessed] = np.abs(turned).max()
    assert 1250 < off[False].max() < 1420  # arcseconds
    assert 100 < turned_s[False] < 250  # seconds of hour angle
    assert 15 < off[True].max() < 45


ALTITUDES = np.linspace(-90.0, 90.0, 360001)


@pytest.mark.parametrize("pressure_hpa", [300.0, 700.0, 1013.0, 1100.0])
def test_trap_6_refraction_stays_small_and_in_order_where_its_series_diverges(pressure_hpa: float) -> None:
    frame = a_sky("2026-11-14", a_site(pressure_hpa=pressure_hpa, temperature_c=-20.0)).frame
    altitude = np.radians(ALTITUDES)
    level = np.stack([np.cos(altitude), np.zeros_like(altitude), np.sin(altitude)])
    seen = elevation_deg(frame.refracted(level))
    assert np.all(np.diff(seen) > 0.0)  # the order of altitudes is kept, so that no floor is crossed twice
    lift = (seen - ALTITUDES) * 60
    assert np.abs(lift).max() < 15.0 * pressure_hpa / 1013.0
    assert lift[np.abs(ALTITUDES) < 5.0].min() > 5.0 * pressure_hpa / 1013.0
    # What the bare series would say: nothing of use, which is why it is a trap.
    a, b = frame._refraction
    tangent = np.tan(np.radians(90.0 - 0.5))
    assert abs(math.degrees(a * tangent + b * tangent**3)) > 3.0


def test_trap_6_from_five_degrees_on_it_is_what_almanacs_say() -> None:
    # Saemundsson's formula (Meeus, Astronomical Algorithms, 16.4) at 1010 hPa and 10 degrees C, from memory.
    # Models differ by 26" at 5 degrees and 5" at 30.
    frame = a_sky("2026-11-14", a_site(pressure_hpa=1010.0, humidity=0.0)).frame
    for least, arcsec in ((5.0, 30.0), (10.0, 12.0), (30.0, 6.0), (60.0, 3.0)):
        altitude = np.linspace(least, 89.0, 2000)
        vectors = np.stack(
            [np.cos(np.radians(altitude)), np.zeros_like(altitude), np.sin(np.radians(altitude))]
        )
        lift = (elevation_deg(frame.refracted(vectors)) - altitude) * 3600
        printed = 60 * 1.02 / np.tan(np.radians(altitude + 10.3 / (altitude + 5.11)))
        assert np.abs(lift - printed).max() < arcsec


@pytest.mark.parametrize("floor_deg", [0.0, 0.5, 2.0, 2.9, 4.0])
def test_trap_6_low_floors_are_crossed_as_often_as_without_air_and_earlier(floor_deg: float) -> None:
    dry_sky, wet_sky = (a_sky("2026-11-14", a_site(pressure_hpa=p)) for p in (0.0, 1013.0))
    places = [(60.0, dec) for dec in (-32.0, -25.0, -10.0, 20.0, 38.0, 60.0)]
    counted = 0
    for dry_track, wet_track in zip(dry_sky.stars(places), wet_sky.stars(places), strict=True):
        dry = Sampled(dry_track.altitude_deg).at_least(floor_deg)
        wet = Sampled(wet_track.altitude_deg).at_least(floor_deg)
        assert len(dry) == len(wet)
        counted += len(dry)
        for (start, end), (wet_start, wet_end) in zip(dry, wet, strict=True):
            assert start == 0.0 or 0.0 < start - wet_start < 600.0
            assert end == DAY_S or 0.0 < wet_end - end < 600.0
            for edge in (wet_start, wet_end):
                if 0.0 < edge < DAY_S:
                    assert float(wet_track.altitude_deg(edge)) == pytest.approx(floor_deg, abs=1e-5)
    assert counted >= 6
