"""The altitude scale at the left edge of a lane."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from optimizer.report.picture.frame import Layout
from optimizer.report.picture.shapes import Shape, label, line

AltitudeY = Callable[[float], float]
MARKS_DEG = (90, 60, 30)
TICK = 4.0
LEAST_PX = 10.0  # from one number to the next


def scale_shapes(layout: Layout, alt_y: AltitudeY) -> Iterator[Shape]:
    """Ticks at 30, 60 and 90 degrees; a number stands at each that is clear of the number above it."""
    shown_y: float | None = None
    for mark in MARKS_DEG:
        y = alt_y(mark)
        yield line(layout.left - TICK, y, layout.left, y, class_="tick")
        if shown_y is None or y - shown_y >= LEAST_PX:
            yield label(layout.left - TICK - 2, y + 3.5, f"{mark}°", class_="scale", text_anchor="end")
            shown_y = y
