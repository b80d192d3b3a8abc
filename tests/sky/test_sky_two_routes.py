"""The planner's sky against the audit's, which shares the Earth's orientation with it and nothing else.

A thousand random cases: a target, the Sun and the Moon at a second of a night from 1973 to 2100 anywhere on
Earth, with a measured UT1 - UTC or the table's, with pressure or without; three of the nights
hold a leap second. They must agree within 0.05".
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from optimizer.audit.clock import night_origin
from optimizer.audit.sky import SkyBook
from optimizer.models.request import Request
from optimizer.sky.bodies import night_sky
from optimizer.sky.tracks import Track
from tests.support.sky_cases import a_request

Floats = NDArray[np.float64]

NIGHTS, TARGETS = 50, 20
ARCSEC = 0.05
LEAP_EVENINGS = [dt.date(1990, 12, 31), dt.date(2015, 6, 30), dt.date(2016, 12, 31)]


def _requests() -> Iterator[tuple[Request, NDArray[np.int64]]]:
    """Each with a second for every target."""
    rng = np.random.default_rng(1000)
    first, days = dt.date(1973, 1, 2), (dt.date(2100, 12, 31) - dt.date(1973, 1, 2)).days
    for number in range(NIGHTS):
        targets = [
            {
                "name": f"T{index}",
                "ra_deg": float(rng.uniform(0, 360)),
                "dec_deg": float(np.degrees(np.arcsin(rng.uniform(-1, 1)))),
            }
            for index in range(TARGETS)
        ]
        site = {
            "latitude_deg": float(np.degrees(np.arcsin(rng.uniform(-1, 1)))),
            "longitude_deg": float(rng.uniform(-180, 180)),
            "elevation_m": float(rng.uniform(0, 5000)),
            "pressure_hpa": 0.0 if number % 2 else float(rng.uniform(500, 1050)),
            "temperature_c": float(rng.uniform(-30, 30)),
            "humidity": float(rng.uniform(0, 1)),
        }
        night = {} if number % 3 else {"ut1_utc_s": float(rng.uniform(-1, 1))}
        evening = first + dt.timedelta(days=int(rng.integers(0, days)))
        if number < len(LEAP_EVENINGS):
            evening = LEAP_EVENINGS[number]
        request = a_request(evening=evening.isoformat(), site=site, night=night, targets=targets)
        yield request, rng.integers(0, 86401, TARGETS)


def _turn(one: Floats, other: Floats) -> Floats:
    """Difference of angles in degrees, the short way round."""
    return np.asarray((one - other + 180) % 360 - 180)


def test_a_thousand_random_cases_agree() -> None:
    # Largest residuals seen: targets 0.0003", refracted too; Moon 0.014"; Sun 0.001".
    worst: dict[str, float] = defaultdict(float)
    cases = pressed = 0
    for request, second in _requests():
        sky, book = night_sky(request), SkyBook(request, night_origin(request))
        assert sky.clock.origin == night_origin(request)
        given = request.night.ut1_utc_s
        assert given is None or sky.orientation.ut1_utc_s == given
        t = second.astype(float)
        places, bodies = book.places(np.arange(TARGETS), second), book.bodies(second)
        tracks = sky.stars([(target.ra_deg, target.dec_deg) for target in request.targets])
        seen = list(zip(tracks, t, strict=True))

        def each(method: str, seen: list[tuple[Track, float]] = seen) -> Floats:
            return np.array([float(getattr(track, method)(at)) for track, at in seen])

        level = np.cos(np.radians(places.true_altitude_deg))
        across = np.cos(np.radians(places.declination_deg))
        gap = np.array([float(track.separation_deg(sky.moon, at)) for track, at in seen])
        off = {
            "target, altitude": places.true_altitude_deg - each("geometric_altitude_deg"),
            "target, azimuth": _turn(places.azimuth_deg, each("azimuth_deg")) * level,
            "target, hour angle": _turn(places.hour_angle_s / 240, each("hour_angle_s") / 240) * across,
            "target, declination": places.declination_deg - each("declination_deg"),
            "Sun, altitude": bodies.sun_altitude_deg - sky.sun.geometric_altitude_deg(t),
            "Moon, altitude": bodies.moon_altitude_deg - sky.moon.geometric_altitude_deg(t),
            "Moon, separation": bodies.moon_separation_deg(places) - gap,
        }
        # As far as the audit asks: below the horizon nothing is refracted that anybody uses.
        up = places.true_altitude_deg > 0.0
        off["target, refracted altitude"] = (places.altitude_deg - each("altitude_deg"))[up]
        pressed += int(up.sum()) * (request.site.pressure_hpa > 0)
        for name, body in (("Sun", bodies.sun), ("Moon", bodies.moon)):
            ours = (sky.sun if name == "Sun" else sky.moon).horizontal(t)
            theirs = body.T / np.linalg.norm(body.T, axis=0)
            off[f"{name}, direction"] = np.degrees(np.linalg.norm(np.cross(ours, theirs, axis=0), axis=0))
        for what, degrees in off.items():
            worst[what] = max(worst[what], float(np.abs(degrees).max(initial=0.0)) * 3600)
        cases += TARGETS
    assert cases == 1000
    assert pressed > 150
    for what, arcsec in worst.items():
        print(f"  {what}: {arcsec:.4g} arcsec (tolerance {ARCSEC:g})")
    assert len(worst) == 10
    assert {what: arcsec for what, arcsec in worst.items() if arcsec > ARCSEC} == {}
