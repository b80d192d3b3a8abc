"""Just enough astronomy to place invented targets where they are up; half a degree is near enough."""

from __future__ import annotations

import datetime as dt
import math

J2000 = dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)
NEW_MOON = dt.datetime(2000, 1, 6, 18, 14, tzinfo=dt.UTC)
MONTH_DAYS = 29.530588853  # from new Moon to new Moon, in the mean
SAMPLE_MIN = 5


def local_midnight(evening: dt.date, longitude_deg: float) -> dt.datetime:
    """Mean solar midnight that follows the evening, to the minute."""
    greenwich = dt.datetime.combine(evening + dt.timedelta(days=1), dt.time(), tzinfo=dt.UTC)
    return greenwich - dt.timedelta(minutes=round(longitude_deg * 4))


def sidereal_deg(instant: dt.datetime, longitude_deg: float) -> float:
    """Local mean sidereal time."""
    days = (instant - J2000) / dt.timedelta(days=1)
    return (280.46061837 + 360.98564736629 * days + longitude_deg) % 360


def sun_declination_deg(evening: dt.date) -> float:
    """The Sun's declination."""
    days = (evening - dt.date(evening.year, 1, 1)).days
    return -23.44 * math.cos(math.radians(360 / 365.24 * (days + 10)))


def sun_midnight_altitude_deg(evening: dt.date, latitude_deg: float) -> float:
    """How low the Sun goes that night."""
    return abs(latitude_deg + sun_declination_deg(evening)) - 90


def hours_below(evening: dt.date, latitude_deg: float, limit_deg: float) -> float:
    """For how long the Sun stays below an altitude; 0 where it never does."""
    latitude, declination = math.radians(latitude_deg), math.radians(sun_declination_deg(evening))
    cosine = math.sin(math.radians(limit_deg)) - math.sin(latitude) * math.sin(declination)
    cosine /= math.cos(latitude) * math.cos(declination)
    return 24 - 2 * math.degrees(math.acos(max(-1.0, min(1.0, cosine)))) / 15


def moon_age(evening: dt.date) -> float:
    """Share of the month gone since new Moon: 0 new, 0.5 full; to about half a day."""
    midnight = dt.datetime.combine(evening + dt.timedelta(days=1), dt.time(), tzinfo=dt.UTC)
    return ((midnight - NEW_MOON) / dt.timedelta(days=MONTH_DAYS)) % 1
