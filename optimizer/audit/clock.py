"""Instants as seconds after the night's origin, and back."""

from __future__ import annotations

import datetime as dt
import zoneinfo

from optimizer.models.request import Request
from optimizer.models.site import iso_utc

NIGHT_S = 86400
REACH_S = 2 * NIGHT_S  # steps farther than this from the origin are refused without a look at their sky


def night_origin(request: Request) -> dt.datetime:
    """The mean solar noon nearest to 12:00 in the site's time zone on the evening's date, to the second."""
    evening = request.night.evening
    zone = zoneinfo.ZoneInfo(request.site.time_zone)
    civil_noon = dt.datetime(evening.year, evening.month, evening.day, 12, tzinfo=zone).astimezone(dt.UTC)
    same_day = dt.datetime(evening.year, evening.month, evening.day, 12, tzinfo=dt.UTC)
    solar_noon = same_day - dt.timedelta(seconds=round(240 * request.site.longitude_deg))
    return min(
        (solar_noon + dt.timedelta(days=days) for days in (-1, 0, 1)),
        key=lambda noon: abs((noon - civil_noon).total_seconds()),
    )


class Clock:
    """A clock that turns instants into whole seconds after an origin and back."""

    def __init__(self, origin: dt.datetime) -> None:
        """Count from `origin` (aware, whole seconds)."""
        self.origin = origin

    def seconds(self, instant: dt.datetime) -> int:
        """Whole seconds of clock time from the origin to `instant`; negative before it."""
        return round((instant - self.origin).total_seconds())

    def instant(self, seconds: int) -> dt.datetime:
        """The instant so many seconds after the origin."""
        return self.origin + dt.timedelta(seconds=seconds)

    def text(self, seconds: float) -> str:
        """ISO 8601 of the whole second that holds `seconds`."""
        try:
            return iso_utc(self.origin + dt.timedelta(seconds=int(seconds)))
        except OverflowError:
            return f"{seconds:+.0f} s from the night's origin"
