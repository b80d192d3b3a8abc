"""The night in which an exposure began, by the date on which that night began."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from functools import lru_cache

from optimizer.models.site import Night, Site, night_span


def evening_of(taken_utc: dt.datetime, site: Site) -> dt.date:
    """The civil date at the site on which the night of this instant began, from noon to noon.

    The noons are those of `night_span`, which a plan of that evening lies between.
    """
    local = taken_utc.astimezone(zoneinfo.ZoneInfo(site.time_zone)).date()
    for days in (0, -1, 1, -2):
        evening = local + dt.timedelta(days=days)
        begin, end = _span(evening, site.longitude_deg, site.time_zone)
        if begin <= taken_utc < end:
            return evening
    return local  # a change of the clocks by half a day lies between


@lru_cache(maxsize=4096)
def _span(evening: dt.date, longitude_deg: float, time_zone: str) -> tuple[dt.datetime, dt.datetime]:
    return night_span(Night.model_construct(evening=evening), longitude_deg, time_zone)
