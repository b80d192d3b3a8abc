"""Lanes of the night in text: one line each, every cell some minutes, under a scale of local hours."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from rich.cells import cell_len, set_cell_size
from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from optimizer.models.shots import NightFacts, Step

LEAST_WIDTH, MOST_WIDTH = 60, 160
WIDE_LABEL, LABEL, WIDE_FROM = 22, 17, 100  # cells of a label, and from which width on it is the wide one
HALF_HOUR = dt.timedelta(minutes=30)
Part = tuple[dt.datetime, dt.datetime, str]  # from, to, the sign that fills it


@dataclass(frozen=True)
class Scale:
    """The stretch of the night that the lanes show."""

    start: dt.datetime
    end: dt.datetime
    zone: str
    width: int  # of a whole line

    @property
    def label_cells(self) -> int:
        """Cells before the lanes."""
        return WIDE_LABEL if self.width >= WIDE_FROM else LABEL

    @property
    def cells(self) -> int:
        """Cells of a lane."""
        return self.width - self.label_cells

    @property
    def cell(self) -> dt.timedelta:
        """Time in one cell."""
        return (self.end - self.start) / self.cells

    def at_least(self, step: Step, sign: str) -> Part:
        """A part of a lane as long as the step, yet no shorter than a cell, so that it is seen."""
        return (step.start_utc, max(step.end_utc, step.start_utc + self.cell), sign)

    def legend(self, entries: Sequence[str]) -> list[Text]:
        """What the signs mean, under the lanes, in as many lines as they need."""
        lines = [""]
        for entry in entries:
            if lines[-1] and cell_len(lines[-1]) + 3 + cell_len(entry) > self.cells:
                lines.append("")
            lines[-1] += ("   " if lines[-1] else "") + entry
        return [Text(" " * self.label_cells + line, style="dim") for line in lines]

    def axis(self) -> Text:
        """Local hours above the cells in which they begin."""
        cells = [" "] * self.cells
        zone = zoneinfo.ZoneInfo(self.zone)
        every = next((h for h in (1, 2, 3, 4) if dt.timedelta(hours=h) / self.cell >= 4), 6)
        hour = self.start.astimezone(zone).replace(minute=0, second=0, microsecond=0)
        shown: str | None = None
        for _ in range(30):
            hour = (hour.astimezone(dt.UTC) + dt.timedelta(hours=1)).astimezone(zone)
            if hour > self.end:
                break
            label = f"{hour:%H}"
            if hour.hour % every == 0 and label != shown:
                at = int((hour - self.start) / self.cell)
                if at + 2 > self.cells:
                    break
                cells[at : at + 2] = list(label)
                shown = label
        return Text(" " * self.label_cells + "".join(cells).rstrip(), style="dim")

    def lane(self, label: str, parts: Iterable[Part], style: str = "") -> Text:
        """A lane: a cell takes the sign of the part that lies over its middle; later parts lie on top."""
        cells = [" "] * self.cells
        for start, end, sign in parts:
            for index in range(self.cells):
                if start <= self.start + (index + 0.5) * self.cell < end:
                    cells[index] = sign
        room = self.label_cells - 1
        clipped = label if cell_len(label) <= room else set_cell_size(label, room - 1).rstrip() + "…"
        return Text(set_cell_size(clipped, room + 1) + "".join(cells).rstrip(), style=style)


@dataclass(frozen=True)
class Lanes:
    """Lanes that are as wide as the terminal allows; `lines` draws them for a width."""

    lines: Callable[[int], list[Text]]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the lanes as wide as the terminal allows."""
        width = max(LEAST_WIDTH, min(MOST_WIDTH, options.max_width - 1))
        for line in self.lines(width):
            line.no_wrap = True
            line.overflow = "crop"
            yield line


def night_scale(night: NightFacts, spans: Sequence[tuple[dt.datetime, dt.datetime]], width: int) -> Scale:
    """The scale from sunset to sunrise; where the Sun does not set or rise, around what there is to show."""
    if (
        night.sunset_utc is not None
        and night.sunrise_utc is not None
        and night.sunset_utc < night.sunrise_utc
    ):
        return Scale(night.sunset_utc, night.sunrise_utc, night.time_zone, width)
    if spans:
        start, end = min(span[0] for span in spans), max(span[1] for span in spans)
        return Scale(start - HALF_HOUR, end + HALF_HOUR, night.time_zone, width)
    noon = dt.datetime.combine(dt.date.fromisoformat(night.evening), dt.time(12), tzinfo=dt.UTC)
    return Scale(noon, noon + dt.timedelta(days=1), night.time_zone, width)


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
