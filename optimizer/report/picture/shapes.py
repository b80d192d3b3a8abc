"""The few shapes of which a drawing is made; a template turns them into SVG and escapes every text."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimizer.words import safe

Attribute = str | float | int
Point = tuple[float, float]
BOLDER = 1.1  # how much wider a bold text is
FLAT_PX = 0.15  # what a point of a course lies beside its neighbours' line before anybody could see it


@dataclass(frozen=True)
class Shape:
    """One SVG element. Tag and attribute names come from our code alone, values and texts may be data."""

    tag: str
    attributes: tuple[tuple[str, str], ...] = ()
    text: str = ""
    children: tuple[Shape, ...] = ()


def _number(value: Attribute) -> str:
    """Tenths of a pixel are enough, and short."""
    if isinstance(value, str):
        return value
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def shape(
    tag: str, text: str = "", children: Iterable[Shape] = (), /, **attributes: Attribute | None
) -> Shape:
    """An element; `class_` is written `class`, other underscores become hyphens, None is left out."""
    named = tuple(
        ("class" if key == "class_" else key.replace("_", "-"), _number(value))
        for key, value in attributes.items()
        if value is not None
    )
    return Shape(tag, named, text, tuple(children))


def rect(x: float, y: float, width: float, height: float, **more: Attribute | None) -> Shape:
    """A rectangle."""
    return shape("rect", x=x, y=y, width=width, height=height, **more)


def line(x1: float, y1: float, x2: float, y2: float, **more: Attribute | None) -> Shape:
    """A straight line."""
    return shape("line", x1=x1, y1=y1, x2=x2, y2=y2, **more)


def path(points: Iterable[Point], *, closed: bool = False, **more: Attribute | None) -> Shape:
    """Straight pieces from point to point, without the points that make no visible difference."""
    tenths = [(round(10 * x), round(10 * y)) for x, y in thinned(list(points))]
    # each piece from the end of the one before: shorter to write, and no error adds up between whole tenths
    moves = [
        _spaced(_tenths(two[0] - one[0]), _tenths(two[1] - one[1]))
        for one, two in pairwise(tenths)
        if two != one
    ]
    start = _spaced(_tenths(tenths[0][0]), _tenths(tenths[0][1]))
    pieces = f"l{_spaced(*moves)}" if moves else ""
    return shape("path", d=f"M{start}{pieces}{'z' if closed else ''}", **more)


def thinned(points: Sequence[Point]) -> list[Point]:
    """The fewest of these points that a recursive split finds whose polyline stays within `FLAT_PX` of all.

    Source: Douglas & Peucker (1973), Cartographica 10, 112.
    """
    if len(points) < 3:
        return list(points)
    kept = {0, len(points) - 1}
    spans = [(0, len(points) - 1)]
    while spans:
        first, last = spans.pop()
        away = [_distance(points[index], points[first], points[last]) for index in range(first + 1, last)]
        if away and max(away) > FLAT_PX:
            split = first + 1 + away.index(max(away))
            kept.add(split)
            spans += [(first, split), (split, last)]
    return [points[index] for index in sorted(kept)]


def _distance(point: Point, start: Point, end: Point) -> float:
    """Distance from a point to the straight piece between two others."""
    along = (end[0] - start[0], end[1] - start[1])
    from_start = (point[0] - start[0], point[1] - start[1])
    length = math.hypot(*along)
    if length == 0:
        return math.hypot(*from_start)
    share = (from_start[0] * along[0] + from_start[1] * along[1]) / length**2
    share = min(1.0, max(0.0, share))
    return math.hypot(from_start[0] - share * along[0], from_start[1] - share * along[1])


def _tenths(value: int) -> str:
    """Tenths as a decimal number, as short as SVG has it."""
    whole, part = divmod(abs(value), 10)
    digits = f"{whole or ''}.{part}" if part else str(whole)
    return f"-{digits}" if value < 0 else digits


def _spaced(*words: str) -> str:
    """The numbers in a row, parted by spaces or by their minus signs alone."""
    return " ".join(words).replace(" -", "-")


def curve(data: str, **more: Attribute | None) -> Shape:
    """A path from SVG's own path data."""
    return shape("path", d=data, **more)


def label(x: float, y: float, text: str, **more: Attribute | None) -> Shape:
    """A text; whatever could turn its line around or hide in it is written out."""
    return shape("text", safe(text), x=x, y=y, **more)


def haloed(x: float, y: float, text: str, class_: str = "", **more: Attribute | None) -> tuple[Shape, Shape]:
    """A text over its own halo: drawn twice, since not every renderer knows `paint-order`.

    Nobody hears it twice: the picture is an image with words of its own, whatever is in it.
    """
    return (
        label(x, y, text, class_=f"{class_} halo".strip(), **more),
        label(x, y, text, class_=class_ or None, **more),
    )


def group(children: Iterable[Shape], **more: Attribute | None) -> Shape:
    """Shapes that share attributes."""
    return shape("g", "", children, **more)


def lowered(children: Iterable[Shape], y: float, class_: str) -> Shape:
    """Shapes that share a class and stand at one height, which is written once for all of them."""
    return group(children, class_=class_, transform=f"translate(0 {_number(y)})")


def text_width(text: str, size: float = 12.0) -> float:
    """About how wide a sans-serif sets the text, in pixels; rather too wide than too narrow."""
    total = 0.0
    for char in text:
        if unicodedata.combining(char):
            continue
        if unicodedata.east_asian_width(char) in "WF":
            total += 1.05
        elif char in "iljtfI.,:;'|! ":
            total += 0.38
        elif char in "mwMW%@—…":
            total += 1.01
        elif char in "×+=<>~≤≥":
            total += 0.84
        else:
            total += 0.79 if char.isupper() else 0.64
    return total * size


def fitted(text: str, width: float, size: float = 12.0) -> str:
    """The text as it is safe to show, cut with an ellipsis where it is wider than `width` pixels."""
    clean = safe(text)
    if text_width(clean, size) <= width:
        return clean
    while clean and text_width(clean + "…", size) > width:
        clean = clean[: max(0, min(len(clean) - 1, round(len(clean) * 0.9)))]
    return clean.rstrip() + "…"
