"""What the outside checks of the sky share."""

from __future__ import annotations

import datetime as dt
import math

import erfa
import numpy as np
from numpy.typing import NDArray

from optimizer.models.site import Night, Site
from optimizer.sky.bodies import NightSky
from optimizer.sky.clock import NightClock, night_clock
from optimizer.sky.frames import LocalFrame
from optimizer.sky.orientation import EarthOrientation, earth_orientation
from optimizer.sky.tracks import Track

Floats = NDArray[np.float64]


def a_site(latitude_deg: float, longitude_deg: float, elevation_m: float = 0.0) -> Site:
    return Site(
        latitude_deg=latitude_deg, longitude_deg=longitude_deg, elevation_m=elevation_m, floor_deg=0.0
    )


def a_sky(date: dt.date, site: Site, ut1_utc_s: float | None = None) -> NightSky:
    clock = night_clock(Night(evening=date), site)
    return NightSky(site, clock, earth_orientation(clock.middle, ut1_utc_s))


def sky_from(origin: dt.datetime, site: Site, ut1_utc_s: float | None = None) -> NightSky:
    """A sky with its origin where a printed value stands, instead of at noon."""
    clock = NightClock(origin)
    return NightSky(site, clock, earth_orientation(clock.middle, ut1_utc_s))


def frame_in_ut1(origin_ut1: dt.datetime, site: Site) -> LocalFrame:
    """A frame for values printed in UT without polar motion: UTC stands for UT1."""
    return LocalFrame(site, NightClock(origin_ut1), EarthOrientation(0.0, 0.0, 0.0))


def of_equinox(frame: LocalFrame, ra_deg: float, dec_deg: float, t_s: float = 0.0) -> Track:
    """A fixed track from a place printed on the true equator and equinox of date."""
    origins = erfa.eo06a(*(float(part) for part in frame.clock.tt_jd(t_s)))
    vector = erfa.s2c(math.radians(ra_deg) + origins, math.radians(dec_deg))
    return Track(frame, np.asarray(vector)[:, None], finite=False)


def equinox_place(track: Track, t_s: float) -> tuple[float, float]:
    """Geocentric apparent right ascension and declination of date, degrees."""
    ra, dec = erfa.c2s(track.geocentric(t_s))
    origins = erfa.eo06a(*(float(part) for part in track.frame.clock.tt_jd(t_s)))
    return math.degrees(ra - origins) % 360, math.degrees(dec)


def ecliptic_of_date(track: Track, t_s: float) -> tuple[float, float]:
    """Geocentric longitude and latitude on the mean ecliptic and equinox of date, degrees."""
    tt = tuple(float(part) for part in track.frame.clock.tt_jd(t_s))
    celestial = erfa.c2i06a(*tt).T @ track.geocentric(t_s)
    longitude, latitude = erfa.c2s(erfa.ecm06(*tt) @ celestial)
    return math.degrees(longitude) % 360, math.degrees(latitude)


def arcsec(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Angle between two places in degrees."""
    return math.degrees(erfa.seps(*map(math.radians, (*one, *other)))) * 3600


def hms(text: str) -> float:
    """`h m s` -> degrees."""
    h, m, s = map(float, text.split())
    return 15 * (h + m / 60 + s / 3600)


def dms(text: str) -> float:
    """`[sign] d m s` -> degrees."""
    sign = -1.0 if text.strip().startswith("-") else 1.0
    d, m, s = map(float, text.replace("+", " ").replace("-", " ").split())
    return sign * (d + m / 60 + s / 3600)


def within(what: str, residual: float, tolerance: float, unit: str) -> None:
    """Assert a residual, and print it: `pytest -s` shows what was measured."""
    print(f"  {what}: {residual:.4g} {unit} (tolerance {tolerance:g})")
    assert abs(residual) <= tolerance, f"{what}: {residual:.6g} {unit} exceeds {tolerance:g}"
