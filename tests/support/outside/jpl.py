"""Skyfield with JPL's DE421, turned as one of our nights is: what its checks from 1990 to 2050 share.

Equal Earth orientation. UT1 is skyfield's own wherever |UT1 - UTC| <= 1 s there, and goes into the request as
`night.ut1_utc_s`. Its long-term forecast leaves that range in the 2040s, since no leap second is known after
2017: from there skyfield is given a constant TT - UT1 = 69.184 s - x, and the request x, drawn for the night.
The pole is that of the table which is installed, read by skyfield's own parser. Instants go to skyfield as
UTC datetimes, so that its leap seconds are checked as well.
"""

from __future__ import annotations

import datetime as dt
import functools
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import skyfield_data
from astropy_iers_data import IERS_A_FILE
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from skyfield.api import Loader, Star, wgs84
from skyfield.data import iers

from benchmarks.plain_aim import PLAIN_AIM
from optimizer.models.request import Request
from optimizer.sky.bodies import NightSky, night_sky

Floats = NDArray[np.float64]

SITES = {
    "mid-north": (51.4, -0.3, 25.0),
    "60 N": (60.2, 24.9, 50.0),
    "78 N": (78.2, 15.6, 450.0),
    "equator": (0.2, 36.9, 1800.0),
    "island": (19.8, -155.5, 4205.0),
    "date line": (-17.7, 179.9, 10.0),
    "desert": (-24.6, -70.4, 2635.0),
    "78 S": (-77.8, 166.7, 30.0),
}
LEAP_EVENINGS = [dt.date(1990, 12, 31), dt.date(2016, 12, 31)]
DATES = sorted([dt.date(1990, 1, 17) + dt.timedelta(days=1051 * i) for i in range(22)] + LEAP_EVENINGS)
STARS = 200
TARGETS = 6
SITE_FLOOR_DEG = 8.0
FLOORS = (15.0, 20.0, 30.0, 40.0, 50.0, 65.0)
LIMITS = {"sunset": -50 / 60, "civil": -6.0, "nautical": -12.0, "astronomical": -18.0}
NODE_S = 480
NODES = np.arange(-NODE_S, 86400 + 2 * NODE_S, NODE_S)
MOON_RADIUS_KM = 1737.4


def star_places() -> list[tuple[float, float]]:
    """Directions spread evenly over the ICRS sphere, degrees."""
    rng = np.random.default_rng(19900117)
    ra, dec = rng.uniform(0, 360, STARS), np.degrees(np.arcsin(rng.uniform(-1, 1, STARS)))
    return list(zip(ra.tolist(), dec.tolist(), strict=True))


@functools.cache
def _load() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the Earth orientation file beside it has expired; it is not used
        return Loader(skyfield_data.get_skyfield_data_path(), expire=False)


@functools.cache
def planets() -> Any:
    return _load()("de421.bsp")


@functools.cache
def _pole() -> Any:
    with Path(IERS_A_FILE).open("rb") as table:
        return iers.parse_x_y_dut1_from_finals_all(table)


def _scale(ut1_utc_s: float | None = None) -> Any:
    delta_t = None if ut1_utc_s is None else 37 + 32.184 - ut1_utc_s
    scale = _load().timescale(delta_t, builtin=True)
    iers.install_polar_motion_table(scale, _pole())
    return scale


@functools.cache
def own_scale() -> Any:
    return _scale()


@dataclass(frozen=True)
class JplNight:
    """One night: our request and sky, skyfield's scale and observer."""

    request: Request
    sky: NightSky
    scale: Any
    observer: Any

    def times(self, second: NDArray[np.int64]) -> Any:
        """Skyfield's times at whole seconds after our origin, by their UTC labels."""
        return self.scale.from_datetimes([self.sky.clock.utc(int(each)) for each in second])


def jpl_nights() -> list[tuple[str, JplNight]]:
    return [(f"{name} {date}", jpl_night(name, date)) for date in DATES for name in SITES]


@functools.cache
def jpl_night(name: str, date: dt.date) -> JplNight:
    number = DATES.index(date) * len(SITES) + list(SITES).index(name)
    plain = _request(name, date, number, 0.0)
    middle = night_sky(plain).clock.middle
    ut1_utc_s, scale = float(own_scale().from_datetime(middle).dut1), own_scale()
    if abs(ut1_utc_s) > 1.0:
        ut1_utc_s = float(np.random.default_rng(number).uniform(-0.9, 0.9))
        scale = _scale(ut1_utc_s)
    request = _request(name, date, number, ut1_utc_s)
    latitude, longitude, elevation = SITES[name]
    observer = planets()["earth"] + wgs84.latlon(latitude, longitude, elevation)
    return JplNight(request, night_sky(request), scale, observer)


def _request(name: str, date: dt.date, number: int, ut1_utc_s: float) -> Request:
    """Six of the stars in turn, each with another floor; a filter for each twilight."""
    latitude, longitude, elevation = SITES[name]
    places = star_places()
    chosen = [(TARGETS * number + i) % STARS for i in range(TARGETS)]
    goals = [{"filter": limit, "exposure_s": 60, "frames": 1} for limit in LIMITS]
    targets = [
        {
            "name": f"star {index}",
            "ra_deg": places[index][0],
            "dec_deg": places[index][1],
            "floor_deg": floor,
            "goals": goals,
        }
        for index, floor in zip(chosen, FLOORS, strict=True)
    ]
    return Request.model_validate(
        {
            "schema": "darkfill-request/1",
            "night": {"evening": date.isoformat(), "ut1_utc_s": ut1_utc_s},
            "site": {
                "latitude_deg": latitude,
                "longitude_deg": longitude,
                "elevation_m": elevation,
                "floor_deg": SITE_FLOOR_DEG,
            },
            "filters": [{"name": limit, "darkness": limit} for limit in LIMITS],
            "targets": targets,
            "aim": PLAIN_AIM,
        }
    )


def star(ra_deg: Any, dec_deg: Any) -> Any:
    return Star(ra_hours=np.asarray(ra_deg) / 15, dec_degrees=np.asarray(dec_deg))


class JplEvents:
    """Crossings by skyfield: sines of altitudes every eight minutes, a cubic spline (0.04"), all its roots.

    The splines run in SI seconds since the origin, which a leap second does not break.
    """

    def __init__(self, night: JplNight) -> None:
        times = night.times(NODES)
        days = (times.whole - times.whole[1]) + (times.tt_fraction - times.tt_fraction[1])
        elapsed_s = days * 86400  # node 1 is the origin
        self.last_s = float(elapsed_s[-2])
        at = night.observer.at(times)
        self._splines: dict[str, CubicSpline] = {}
        for body in ("sun", "moon"):
            seen = at.observe(planets()[body]).apparent()
            altitude, _, distance = seen.altaz()
            self._splines[body] = CubicSpline(elapsed_s, np.sin(altitude.radians))
            if body == "moon":
                limb = altitude.radians + np.arcsin(MOON_RADIUS_KM / distance.km)
                self._splines["limb"] = CubicSpline(elapsed_s, np.sin(limb))
        for target in night.request.targets:
            altitude = at.observe(star(target.ra_deg, target.dec_deg)).apparent().altaz()[0]
            self._splines[target.name] = CubicSpline(elapsed_s, np.sin(altitude.radians))

    def crossings(self, body: str, level_deg: float) -> list[float]:
        """SI seconds after the origin at which the body stands at that altitude, ascending."""
        roots = self._splines[body].solve(np.sin(np.radians(level_deg)), extrapolate=False)
        return sorted(float(root) for root in roots if 0.0 < root < self.last_s)

    def rising(self, body: str, elapsed_s: float) -> bool:
        return bool(self._splines[body].derivative()(elapsed_s) > 0)

    def rate_arcsec_s(self, body: str, level_deg: float, elapsed_s: float) -> float:
        """How fast its altitude changes there."""
        slope = abs(float(self._splines[body].derivative()(elapsed_s)))
        return float(np.degrees(slope / np.cos(np.radians(level_deg))) * 3600)
