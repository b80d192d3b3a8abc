"""Just enough astronomy to place random targets where they can be seen; a few arcminutes are near enough."""

from __future__ import annotations

import datetime as dt
import math

J2000 = dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)


def local_midnight(evening: dt.date, longitude_deg: float) -> dt.datetime:
    """Mean solar midnight that follows the evening, to the minute."""
    greenwich = dt.datetime.combine(evening + dt.timedelta(days=1), dt.time(), tzinfo=dt.UTC)
    return greenwich - dt.timedelta(minutes=round(longitude_deg * 4))


def sidereal_deg(instant: dt.datetime, longitude_deg: float) -> float:
    """Local mean sidereal time."""
    days = (instant - J2000) / dt.timedelta(days=1)
    return (280.46061837 + 360.98564736629 * days + longitude_deg) % 360


def sun_declination_deg(evening: dt.date) -> float:
    """The Sun's declination, to about half a degree."""
    days = (evening - dt.date(evening.year, 1, 1)).days
    return -23.44 * math.cos(math.radians(360 / 365.24 * (days + 10)))


def sun_midnight_altitude_deg(evening: dt.date, latitude_deg: float) -> float:
    """How low the Sun goes that night."""
    return abs(latitude_deg + sun_declination_deg(evening)) - 90


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
