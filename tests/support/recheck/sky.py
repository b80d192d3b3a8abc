"""A third sky for the judge: skyfield with JPL's DE421, told second by second for one night.

Nothing here comes from the package under test. The Earth is turned by the list's own `night.ut1_utc_s` (TT - UT1
= 69.184 s - UT1 + UTC: evenings from 2017 on), the pole is left where it is (up to 0.5"). Directions are
computed every two minutes and drawn through cubic splines (0.001"), then told for every whole second.
"""

from __future__ import annotations

import datetime as dt
import functools
import math
import warnings
import zoneinfo
from dataclasses import dataclass
from typing import Any

import numpy as np
import skyfield_data
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from skyfield.api import Loader, Star, wgs84

Floats = NDArray[np.float64]

NIGHT_S = 86400
NODE_S = 120
# Beyond the night, so that what ends with it has a sky as well.
BEYOND_S = 1200
TAI_UTC_S = 37.0
MOON_RADIUS_KM = 1737.4


@functools.cache
def _load() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the Earth orientation file beside it has expired; it is not used
        return Loader(skyfield_data.get_skyfield_data_path(), expire=False)


@functools.cache
def _planets() -> Any:
    return _load()("de421.bsp")


def night_origin(evening: str, longitude_deg: float, time_zone: str) -> dt.datetime:
    """The mean solar noon nearest to the site's noon on the evening's date."""
    noon = dt.datetime.fromisoformat(f"{evening}T12:00:00").replace(tzinfo=zoneinfo.ZoneInfo(time_zone))
    mean = dt.datetime.fromisoformat(f"{evening}T12:00:00+00:00")
    mean -= dt.timedelta(seconds=round(longitude_deg * 240))
    days = (-1, 0, 1)
    return min((mean + dt.timedelta(days=day) for day in days), key=lambda at: abs(at - noon))


def separation_deg(one: Floats, other: Floats) -> Floats:
    """Angles between directions, column by column."""
    cross = np.linalg.norm(np.cross(one, other, axis=0), axis=0)
    return np.asarray(np.degrees(np.arctan2(cross, np.sum(one * other, axis=0))))


@dataclass(frozen=True)
class Body:
    """One body at every whole second of the night, degrees; topocentric and unrefracted.

    `local` are unit vectors (north, east, up); hour angles lie within 12 h of the meridian, in seconds
    (240 to a degree); declinations are of the true equator of date.
    """

    local: Floats
    altitude_deg: Floats
    azimuth_deg: Floats
    hour_angle_s: Floats
    dec_deg: Floats


class NightSky:
    """Sun, Moon and stars over one site, at the whole seconds after the night's origin."""

    def __init__(self, request: dict[str, Any], ut1_utc_s: float) -> None:
        site, night = request["site"], request["night"]
        self.origin = night_origin(night["evening"], site["longitude_deg"], site["time_zone"])
        self._stars: dict[tuple[float, float], Body] = {}
        self._gaps: dict[tuple[float, float], Floats] = {}
        self._nodes = np.arange(-NODE_S, NIGHT_S + BEYOND_S + 2 * NODE_S, NODE_S)
        self._seconds = np.arange(0, NIGHT_S + BEYOND_S + 1)
        scale = _load().timescale(TAI_UTC_S + 32.184 - ut1_utc_s, builtin=True)
        o = self.origin
        times = scale.utc(o.year, o.month, o.day, o.hour, o.minute, o.second + self._nodes)
        place = wgs84.latlon(site["latitude_deg"], site["longitude_deg"], site["elevation_m"])
        self._observer = (_planets()["earth"] + place).at(times)
        sun = self._observer.observe(_planets()["sun"]).apparent()
        moon = self._observer.observe(_planets()["moon"]).apparent()
        self.sun, self.moon = self._body(sun), self._body(moon)
        limb = np.degrees(np.arcsin(MOON_RADIUS_KM / moon.distance().km))
        self.moon_limb_deg = self.moon.altitude_deg + CubicSpline(self._nodes, limb)(self._seconds)
        # at the Moon, between the observer and the Sun
        to_sun, to_us = sun.position.km - moon.position.km, -moon.position.km
        phase = separation_deg(to_sun / np.linalg.norm(to_sun, axis=0), to_us / np.linalg.norm(to_us, axis=0))
        self.moon_phase_deg = CubicSpline(self._nodes, phase)(self._seconds)

    def star(self, ra_deg: float, dec_deg: float) -> Body:
        """A star of the ICRS; computed once."""
        if (ra_deg, dec_deg) not in self._stars:
            seen = self._observer.observe(Star(ra_hours=ra_deg / 15, dec_degrees=dec_deg)).apparent()
            self._stars[ra_deg, dec_deg] = self._body(seen)
        return self._stars[ra_deg, dec_deg]

    def moon_gap_deg(self, ra_deg: float, dec_deg: float) -> Floats:
        """The star's distance to the Moon; computed once."""
        if (ra_deg, dec_deg) not in self._gaps:
            self._gaps[ra_deg, dec_deg] = separation_deg(self.star(ra_deg, dec_deg).local, self.moon.local)
        return self._gaps[ra_deg, dec_deg]

    def second(self, instant: str) -> int:
        """Whole seconds after the origin."""
        return round((dt.datetime.fromisoformat(instant) - self.origin).total_seconds())

    def _body(self, seen: Any) -> Body:
        altitude, azimuth, _ = seen.altaz()
        hour_angle, dec, _ = seen.hadec()
        local = self._drawn(altitude.radians, azimuth.radians)
        of_date = self._drawn(dec.radians, hour_angle.radians)
        return Body(
            local,
            np.degrees(np.arctan2(local[2], np.hypot(local[0], local[1]))),
            np.degrees(np.arctan2(local[1], local[0])) % 360,
            np.arctan2(of_date[1], of_date[0]) * (12 * 3600 / math.pi),
            np.degrees(np.arctan2(of_date[2], np.hypot(of_date[0], of_date[1]))),
        )

    def _drawn(self, up: Floats, round_: Floats) -> Floats:
        nodes = np.array([np.cos(up) * np.cos(round_), np.cos(up) * np.sin(round_), np.sin(up)])
        drawn = np.asarray(CubicSpline(self._nodes, nodes, axis=1)(self._seconds))
        return np.asarray(drawn / np.linalg.norm(drawn, axis=0))
