"""The few shapes that a drawing is made of; a template turns them into SVG and escapes every text."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from optimizer.models.words import safe

Attribute = str | float | int


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


def path(points: Iterable[tuple[float, float]], *, closed: bool = False, **more: Attribute | None) -> Shape:
    """Straight pieces from point to point."""
    words = " ".join(f"{_number(x)} {_number(y)}" for x, y in points)
    return shape("path", d=f"M{words}{'Z' if closed else ''}", **more)


def curve(data: str, **more: Attribute | None) -> Shape:
    """A path as SVG has it."""
    return shape("path", d=data, **more)


def label(x: float, y: float, text: str, **more: Attribute | None) -> Shape:
    """A text; whatever could turn its line around or hide in it is written out."""
    return shape("text", safe(text), x=x, y=y, **more)


def haloed(x: float, y: float, text: str, class_: str = "", **more: Attribute | None) -> tuple[Shape, Shape]:
    """A text over its own halo: drawn twice, since not every renderer knows `paint-order`."""
    return (
        label(x, y, text, class_=f"{class_} halo".strip(), aria_hidden="true", **more),
        label(x, y, text, class_=class_ or None, **more),
    )


def group(children: Iterable[Shape], **more: Attribute | None) -> Shape:
    """Shapes that share attributes."""
    return shape("g", "", children, **more)


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
            total += 1.0
        else:
            total += 0.72 if char.isupper() else 0.64
    return total * size


def fitted(text: str, width: float, size: float = 12.0) -> str:
    """The text as it is safe to show, cut with an ellipsis where it is wider than `width` pixels."""
    clean = safe(text)
    if text_width(clean, size) <= width:
        return clean
    while clean and text_width(clean + "…", size) > width:
        clean = clean[: max(0, min(len(clean) - 1, round(len(clean) * 0.9)))]
    return clean.rstrip() + "…"
