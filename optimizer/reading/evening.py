"""The evening asked for in place of a request's own: a date, or tonight by the clock at the site."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from dataclasses import dataclass

from optimizer.models.request import Request
from optimizer.models.site import Site, evening_at
from optimizer.words import safe

TONIGHT = "tonight"
EVENING_LIKE = f"write it like 2026-11-14, or {TONIGHT}"


@dataclass(frozen=True)
class Tonight:
    """The night that runs at an instant or comes next, wherever the site turns out to be."""

    now: dt.datetime  # with its time zone

    def evening(self, site: Site | None) -> dt.date:
        """The civil date at the site on which that night begins; by UTC where the site cannot be told."""
        if site is None:
            return evening_at(self.now, 0.0, "UTC")
        return evening_at(self.now, site.longitude_deg, site.time_zone)

    def sentence(self, request: Request) -> str:
        """Which evening was taken and why; in the morning, when the next one is."""
        site, evening = request.site, request.night.evening
        clock = self.now.astimezone(zoneinfo.ZoneInfo(site.time_zone))
        later = f", from 12:00 on that of {clock.date()}" if evening < clock.date() else ""
        return f"tonight: the night of {evening}, as it is {clock:%H:%M} at {safe(site.name)}{later}"


def utc_now() -> dt.datetime:
    """The instant at which it is called, by the computer's clock."""
    return dt.datetime.now(dt.UTC)


def evening_from_text(text: str) -> dt.date | Tonight:
    """Read a date like 2026-11-14, or `tonight`. Raises ValueError where the text is neither."""
    return Tonight(utc_now()) if text == TONIGHT else dt.date.fromisoformat(text)
