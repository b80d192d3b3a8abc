"""Places of labels: clear of lines and of other labels, or else where the fewest of them are hit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from optimizer.report.picture.shapes import Point, Shape, haloed, text_width

SIZE = 12.0
ASCENT, DESCENT = 9.5, 1.5  # of digits and of letters that do not reach below the line, with a hair of air


@dataclass(frozen=True)
class Box:
    """A rectangle on the sheet, in pixels."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Whether the two share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def crossed(self, points: Sequence[Point]) -> bool:
        """Whether a polyline runs through the rectangle."""
        return any(self._cut(one, two) for one, two in pairwise(points))

    def _cut(self, one: Point, two: Point) -> bool:
        low, high = 0.0, 1.0  # the part of the piece that may lie inside
        sides = ((one[0], two[0], self.left, self.right), (one[1], two[1], self.top, self.bottom))
        for start, end, least, most in sides:
            if start == end:
                if not least < start < most:
                    return False
                continue
            first, second = sorted(((least - start) / (end - start), (most - start) / (end - start)))
            low, high = max(low, first), min(high, second)
        return low < high


@dataclass(frozen=True)
class Place:
    """A text with its baseline at `y`; it begins at `x`, or ends there (`ends`)."""

    x: float
    y: float
    text: str
    ends: bool = False

    @property
    def box(self) -> Box:
        """The box that the text about covers."""
        width = text_width(self.text, SIZE)
        left = self.x - width if self.ends else self.x
        return Box(left, self.y - ASCENT, left + width, self.y + DESCENT)


@dataclass
class Taken:
    """What a label keeps clear of: lines, boxes of other things, and the words placed before it."""

    left: float  # of the sheet, which no label leaves
    right: float
    lines: list[Sequence[Point]] = field(default_factory=list)
    faint: list[Sequence[Point]] = field(default_factory=list)  # lines that may be interrupted where need be
    boxes: list[Box] = field(default_factory=list)
    words: list[Box] = field(default_factory=list)

    def hits(self, box: Box) -> tuple[int, int]:
        """How many of them a box would hit, and how many of the lines that may be interrupted."""
        met = sum(box.meets(other) for other in (*self.boxes, *self.words))
        crossed = sum(box.crossed(line) for line in self.lines)
        return met + crossed, sum(box.crossed(line) for line in self.faint)

    def label(self, places: Sequence[Place], class_: str = "") -> Iterator[Shape]:
        """The text at the first of its places with the fewest hits; that place is taken afterwards."""
        on_sheet = [each for each in places if self.left <= each.box.left and each.box.right <= self.right]
        best = min(on_sheet or places, key=lambda place: self.hits(place.box))
        self.words.append(best.box)
        yield from haloed(best.x, best.y, best.text, class_, text_anchor="end" if best.ends else None)


def broken_line(x: float, top: float, bottom: float, boxes: Sequence[Box]) -> Iterator[tuple[float, float]]:
    """An upright line from `top` to `bottom` in pieces, left out where it would strike a box."""
    y = top
    for box in sorted(boxes, key=lambda each: each.top):
        if box.left < x < box.right and box.bottom > y:
            if box.top > y:
                yield y, min(box.top, bottom)
            y = box.bottom
    if y < bottom:
        yield y, bottom
