"""Just enough astronomy to place random targets where they can be seen; a few arcminutes are near enough."""

from __future__ import annotations

import datetime as dt
import math

from benchmarks.rough_sky import local_midnight, sidereal_deg, sun_declination_deg, sun_midnight_altitude_deg

__all__ = [
    "altitude_deg",
    "local_midnight",
    "meridian_wall",
    "sidereal_deg",
    "sun_altitude_deg",
    "sun_declination_deg",
    "sun_midnight_altitude_deg",
]


def sun_altitude_deg(instant: dt.datetime, evening: dt.date, place: tuple[float, float]) -> float:
    """The Sun's altitude at (latitude, longitude), to about a degree."""
    latitude_deg, longitude_deg = place
    from_midnight = (instant - local_midnight(evening, longitude_deg)) / dt.timedelta(hours=1)
    return altitude_deg(latitude_deg, sun_declination_deg(evening), from_midnight * 15 + 180)


def altitude_deg(latitude_deg: float, declination_deg: float, hour_angle_deg: float) -> float:
    """Altitude of a direction."""
    latitude, declination = math.radians(latitude_deg), math.radians(declination_deg)
    sine = math.sin(latitude) * math.sin(declination)
    sine += math.cos(latitude) * math.cos(declination) * math.cos(math.radians(hour_angle_deg))
    return math.degrees(math.asin(max(-1.0, min(1.0, sine))))


def meridian_wall(latitude_deg: float, half_width_deg: float, top_deg: float) -> list[list[float]]:
    """A skyline with nothing but a wall across the meridian, on the side on which most targets culminate."""
    if latitude_deg >= 0:
        low, high = 180 - half_width_deg, 180 + half_width_deg
        return [[low, 0], [low, top_deg], [high, top_deg], [high, 0]]
    low, high = half_width_deg, 360 - half_width_deg
    return [[0, top_deg], [low, top_deg], [low, 0], [high, 0], [high, top_deg], [360, top_deg]]
