"""Hours in the nights to come against skyfield with JPL's DE421: other code, another Moon, another grid.

The reference looks at 28 whole nights every 211 s and counts the instants at which Sun, Moon, floor and hour
angle allow it, by its own altitudes, separations and hour angles, moonlight by the third judge's formula. What
is forgiven, 0.7 h, is what the planner's grid of 10 min costs over 28 nights, and a little for the other's.
"""

from __future__ import annotations

import functools
import warnings
from typing import Any

import numpy as np
import pytest
import skyfield_data
from skyfield.api import Loader, Star, wgs84

from optimizer.ahead.hours import hours_ahead
from optimizer.models.request import Request
from optimizer.sky.bodies import night_sky
from tests.support.outside.sky import within
from tests.support.recheck.moonlight import brightening_mag
from tests.support.speeds import outside

pytestmark = outside

STEP_S, NIGHTS = 211, 28  # a prime: no edge is met at the same distance night after night
SITES = {"mid-north": (47.3, 11.4), "mid-south": (-33.4, -70.7), "equator": (0.2, 36.9), "60 N": (60.2, 24.9)}
EVENINGS = ("2024-01-10", "2025-09-20")
STARS = [(52.3, 31.3), (83.8, -5.4), (210.8, 54.3), (266.4, -29.0), (312.0, 44.5)]
FLOOR_DEG, GAP_DEG, LIGHT_MAG = 25.0, 60.0, 0.4
WEST_UNTIL_MIN, EAST_FROM_MIN = -30.0, 5.0  # contact 20 min before the meridian, 10 min of clearance
SUN_DEG = {"dark": -18.0, "gap": -12.0, "light": -12.0}
MOON_RADIUS_KM = 1737.4
FORGIVEN_H = 0.7


@functools.cache
def _library() -> tuple[Any, Any]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its own Earth orientation file has expired
        load = Loader(skyfield_data.get_skyfield_data_path(), expire=False)
    return load("de421.bsp"), load.timescale(builtin=True)


def _request(site: str, evening: str) -> Request:
    latitude_deg, longitude_deg = SITES[site]
    goals = [{"filter": name, "exposure_s": 60.0, "frames": 9} for name in SUN_DEG]
    return Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": evening},
            "site": {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg, "floor_deg": FLOOR_DEG},
            "mount": {"contact_min": -20.0, "clearance_min": 10.0, "flip_from_min": 5.0},
            "filters": [
                {"name": "dark"},
                {"name": "gap", "darkness": "nautical", "moon_gap_deg": GAP_DEG},
                {"name": "light", "darkness": "nautical", "moonlight_mag": LIGHT_MAG},
            ],
            "targets": [
                {"name": f"star {number}", "ra_deg": ra, "dec_deg": dec, "goals": goals}
                for number, (ra, dec) in enumerate(STARS)
            ],
            "aim": {"look_ahead_nights": NIGHTS},
        }
    )


def _reference(request: Request) -> dict[tuple[str, str], float]:
    planets, scale = _library()
    clock = night_sky(request).clock
    site = request.site
    elapsed = np.arange(STEP_S / 2, NIGHTS * 86400, STEP_S)
    jd, fraction = clock.tt_jd(elapsed)
    observer = (planets["earth"] + wgs84.latlon(site.latitude_deg, site.longitude_deg)).at(
        scale.tt_jd(jd, fraction)
    )
    sun, moon = (observer.observe(planets[name]).apparent() for name in ("sun", "moon"))
    sun_deg, moon_deg = sun.altaz()[0].degrees, moon.altaz()[0].degrees
    moon_km = moon.distance().km
    limb_deg = moon_deg + np.degrees(np.arcsin(MOON_RADIUS_KM / moon_km))
    towards_sun = sun.xyz.km - moon.xyz.km
    cosine = -np.sum(moon.xyz.km * towards_sun, axis=0) / moon_km / np.linalg.norm(towards_sun, axis=0)
    phase_deg = np.degrees(np.arccos(cosine))
    hours: dict[tuple[str, str], float] = {}
    for number, (ra, dec) in enumerate(STARS):
        star = observer.observe(Star(ra_hours=ra / 15, dec_degrees=dec)).apparent()
        altitude_deg = star.altaz()[0].degrees
        turned_min = (star.hadec()[0].hours + 12) % 24 * 60 - 720
        gap_deg = star.separation_from(moon).degrees
        light = brightening_mag(
            altitude_deg, moon_deg, gap_deg, phase_deg, site.zenith_sky_mag, site.extinction_mag, 1.0
        )
        may = (altitude_deg >= FLOOR_DEG) & ((turned_min <= WEST_UNTIL_MIN) | (turned_min >= EAST_FROM_MIN))
        rules = {
            "dark": may,
            "gap": may & ((gap_deg >= GAP_DEG) | (limb_deg < -34 / 60)),
            "light": may & (light <= LIGHT_MAG),
        }
        for name, allowed in rules.items():
            open_ = allowed & (sun_deg <= SUN_DEG[name])
            hours[f"star {number}", name] = int(np.count_nonzero(open_)) * STEP_S / 3600
    return hours


@pytest.mark.parametrize("evening", EVENINGS)
@pytest.mark.parametrize("site", SITES)
def test_hours_ahead_are_those_of_skyfield(site: str, evening: str) -> None:
    request = _request(site, evening)
    ours, theirs = hours_ahead(request, night_sky(request)), _reference(request)
    assert ours.keys() == theirs.keys()
    assert sum(hours > 20 for hours in theirs.values()) >= 3
    for (star, name), hours in theirs.items():
        within(f"{site} {evening}, {star}, {name}: {hours:.1f} h", ours[star, name] - hours, FORGIVEN_H, "h")
