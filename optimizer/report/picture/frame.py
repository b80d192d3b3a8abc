"""The sheet: how wide it is, where time runs on it, where names stand."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from optimizer.report.picture.facts import PictureFacts

HOUR_S = 3600.0
EDGE = 4.0  # where words at the left edge begin
SCALE_PX = 26.0  # of the altitude scale, left of where time begins


@dataclass(frozen=True)
class Layout:
    """Sizes in pixels. Time runs from `left` to `right`; `names` stand beside the lanes or above them."""

    key: Literal["w", "n"]
    width: float
    left: float
    right: float
    names: Literal["beside", "above"]
    hour_label_px: float  # room that a label of the time axis needs

    @property
    def names_px(self) -> float:
        """Room for words beside the lanes, left of the altitude scale."""
        return self.left - SCALE_PX - EDGE - 4


WIDE = Layout("w", 1240.0, 224.0, 1226.0, "beside", 38.0)
NARROW = Layout("n", 374.0, 26.0, 368.0, "above", 37.0)


@dataclass(frozen=True)
class Frame:
    """A layout with the stretch of time that it shows."""

    layout: Layout
    facts: PictureFacts

    def x(self, t_s: float) -> float:
        """The x of a time in pixels, held within the sheet."""
        facts, layout = self.facts, self.layout
        share = (t_s - facts.start_s) / (facts.end_s - facts.start_s)
        return layout.left + min(1.0, max(0.0, share)) * (layout.right - layout.left)

    def shown(self, start_s: float, end_s: float) -> bool:
        """Whether any of the stretch is on the sheet."""
        return end_s > self.facts.start_s and start_s < self.facts.end_s

    def inside(self, t_s: float) -> bool:
        """Whether the time is on the sheet."""
        return self.facts.start_s <= t_s <= self.facts.end_s

    @property
    def every_h(self) -> int:
        """Hours between labels of the axis."""
        hours = (self.facts.end_s - self.facts.start_s) / HOUR_S
        room = (self.layout.right - self.layout.left) / hours
        return next((step for step in (1, 2, 3, 4, 6) if step * room >= self.layout.hour_label_px), 12)

    def hours(self, zone: str) -> Iterator[tuple[float, str]]:
        """Whole hours of a zone's clock within the sheet, with their labels (empty between labels)."""
        clock = self.facts.clock
        local = zoneinfo.ZoneInfo(zone)
        first = clock.utc(int(self.facts.start_s)).astimezone(local)
        at = first.replace(minute=0, second=0, microsecond=0).astimezone(dt.UTC)
        shown: str | None = None
        while (t_s := clock.seconds(at)) <= self.facts.end_s:
            hour = at.astimezone(local)
            if hour.minute:  # the clocks changed by part of an hour
                at += dt.timedelta(minutes=60 - hour.minute)
                continue
            if self.inside(t_s):
                text = f"{hour:%H:%M}" if hour.hour % self.every_h == 0 else ""
                yield t_s, "" if text == shown else text
                shown = text or shown
            at += dt.timedelta(hours=1)
