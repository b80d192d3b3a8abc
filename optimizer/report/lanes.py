"""Lanes of the night in text: one line each, every cell some minutes, under a scale of local hours."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rich.text import Text

from optimizer.models.shots import NightFacts

LABEL_CELLS, CELLS = 22, 78
HALF_HOUR = dt.timedelta(minutes=30)
Part = tuple[dt.datetime, dt.datetime, str]  # from, to, the sign that fills it


@dataclass(frozen=True)
class Scale:
    """The stretch of the night that the lanes show."""

    start: dt.datetime
    end: dt.datetime
    zone: str

    @property
    def cell(self) -> dt.timedelta:
        """Time in one cell."""
        return (self.end - self.start) / CELLS

    def axis(self) -> Text:
        """Local hours above the cells in which they begin."""
        cells = [" "] * (CELLS + 2)
        zone = zoneinfo.ZoneInfo(self.zone)
        every = 1 if self.end - self.start < dt.timedelta(hours=15) else 2
        hour = self.start.astimezone(zone).replace(minute=0, second=0, microsecond=0)
        shown: str | None = None
        for _ in range(30):
            hour = (hour.astimezone(dt.UTC) + dt.timedelta(hours=1)).astimezone(zone)
            if hour > self.end:
                break
            label = f"{hour:%H}"
            if hour.hour % every == 0 and label != shown:
                at = int((hour - self.start) / self.cell)
                cells[at : at + 2] = list(label)
                shown = label
        return Text(" " * LABEL_CELLS + "".join(cells).rstrip(), style="dim")

    def lane(self, label: str, parts: Iterable[Part], style: str = "") -> Text:
        """A lane: a cell takes the sign of the part that lies over its middle; later parts lie on top."""
        cells = [" "] * CELLS
        for start, end, sign in parts:
            for index in range(CELLS):
                if start <= self.start + (index + 0.5) * self.cell < end:
                    cells[index] = sign
        clipped = label if len(label) < LABEL_CELLS else label[: LABEL_CELLS - 2] + "…"
        return Text(f"{clipped:<{LABEL_CELLS}}{''.join(cells).rstrip()}", style=style)


def night_scale(night: NightFacts, spans: Sequence[tuple[dt.datetime, dt.datetime]]) -> Scale:
    """From sunset to sunrise; where the Sun does not set or rise, around what there is to show."""
    if (
        night.sunset_utc is not None
        and night.sunrise_utc is not None
        and night.sunset_utc < night.sunrise_utc
    ):
        return Scale(night.sunset_utc, night.sunrise_utc, night.time_zone)
    if spans:
        start, end = min(span[0] for span in spans), max(span[1] for span in spans)
        return Scale(start - HALF_HOUR, end + HALF_HOUR, night.time_zone)
    noon = dt.datetime.combine(dt.date.fromisoformat(night.evening), dt.time(12), tzinfo=dt.UTC)
    return Scale(noon, noon + dt.timedelta(days=1), night.time_zone)


def sky_lane(scale: Scale, night: NightFacts) -> Text:
    """Darkness by twilight: darker signs for a lower Sun."""
    parts: list[Part] = []
    for dusk, dawn, sign in (
        (night.sunset_utc, night.sunrise_utc, "."),
        (night.nautical_dusk_utc, night.nautical_dawn_utc, "░"),
        (night.astronomical_dusk_utc, night.astronomical_dawn_utc, "▒"),
    ):
        if dusk is not None and dawn is not None and dusk < dawn:
            parts.append((dusk, dawn, sign))
    return scale.lane("sky", parts, style="dim")
