"""The ruler of minutes around the meridian, drawn: the marks of `darkfill flip` on one scale."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.report.flip_facts import FlipReport
from optimizer.report.flip_view import LEFT, WORST, ruler_exposure
from optimizer.report.picture.shapes import Shape, curve, haloed, label, line, rect, text_width

WIDTH, NAMES, EDGE = 400.0, 104.0, 8.0
ROW = 24.0
BAR = 10.0
STEPS_MIN = (1, 2, 5, 10, 15, 20, 30, 60, 120)


class _Minutes:
    """A scale from minutes past the meridian to pixels."""

    def __init__(self, report: FlipReport) -> None:
        marks = [0.0, report.latest_track_min, report.flipped_from_min]
        if report.contact_min is not None:
            marks += [report.contact_min, report.contact_min - report.clearance_min]
        marks += ruler_exposure(report) or ()
        room = max(2.0, 0.15 * (max(marks) - min(marks)))
        self.low, self.high = min(marks) - room, max(marks) + 2 * room  # for the words behind

    def x(self, minutes: float) -> float:
        """The x of a minute past the meridian, in pixels."""
        share = (minutes - self.low) / (self.high - self.low)
        return NAMES + share * (WIDTH - EDGE - NAMES)

    def marks(self) -> Iterator[int]:
        """Minutes that the axis names."""
        step = next((s for s in STEPS_MIN if (self.high - self.low) / s <= 6), STEPS_MIN[-1])
        at = -int(-self.low // step) * step
        while at <= self.high:
            yield at
            at += step


def ruler_shapes(report: FlipReport) -> tuple[list[Shape], float]:
    """Shapes of the ruler, and how high it is."""
    scale = _Minutes(report)
    exposure = ruler_exposure(report)
    rows = 2 + (exposure is not None) + (report.contact_min is not None)
    bottom = 20.0 + rows * ROW
    shapes: list[Shape] = [label(0, 12, "min past merid.", class_="soft")]
    for minutes in scale.marks():
        x = scale.x(minutes)
        shapes.append(line(x, 18, x, bottom, class_="hour"))
        shapes.append(label(x, 12, f"{minutes}", class_="axis local"))
    shapes.append(line(scale.x(0), 16, scale.x(0), bottom, class_="meridian"))
    y = 20.0 + ROW / 2
    left, right = NAMES, WIDTH - EDGE
    until = scale.x(report.latest_track_min)
    shapes += _named("pier side west", y)
    shapes.append(rect(left, y - BAR / 2, until - left, BAR, class_="rail west"))
    shapes += _words(until, y, LEFT[report.flip_by].strip())
    y += ROW
    begin = scale.x(report.flipped_from_min)
    shapes += _named("pier side east", y)
    shapes.append(rect(begin, y - BAR / 2, right - begin, BAR, class_="rail east"))
    if exposure is not None:
        y += ROW
        x, end = (scale.x(minutes) for minutes in exposure)
        shapes += _named(WORST[report.flip_by], y)
        shapes.append(rect(x, y - BAR / 2, max(2.0, end - x), BAR, class_="worst"))
        shapes += _words(max(x + 2, end), y, "shutter closes")
    if report.contact_min is None:
        return shapes, bottom + 4
    y += ROW
    x, end = scale.x(report.contact_min - report.clearance_min), scale.x(report.contact_min)
    shapes += _named("clearance", y)
    shapes.append(rect(x, y - BAR / 2, max(1.0, end - x), BAR, class_="forbidden"))
    shapes.append(curve(f"M{end - 5:.1f} {y - 5:.1f}l10 10m0-10l-10 10", class_="contact"))
    shapes += _words(end + 5, y, "contact")
    return shapes, bottom + 4


def _named(words: str, y: float) -> Iterator[Shape]:
    yield label(0, y + 4, words)


def _words(x: float, y: float, words: str) -> Iterator[Shape]:
    """Words behind a bar's end where there is room for them, else before it."""
    room = x + 5 + text_width(words) < WIDTH
    yield from haloed(x + 5 if room else x - 8, y + 4, words, text_anchor=None if room else "end")
