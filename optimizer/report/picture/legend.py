"""What the signs of the picture mean."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from optimizer.report.picture.frame import Frame
from optimizer.report.picture.mount_lane import HEIGHTS
from optimizer.report.picture.shapes import Shape, curve, fitted, label, line, rect, text_width
from optimizer.report.picture.target_lane import Lane
from optimizer.report.words import name

SIGN = 22.0
ROW = 20.0
GAP = 16.0
Sign = Callable[[float, float], list[Shape]]  # drawn from x, with its middle at y
ACT_WORDS = {
    "dither": "dither",
    "filter": "filter change",
    "centre": "plate solve, settle, rotate",
    "focus": "autofocus",
    "slew": "slew",
    "flip": "flip",
    "wait": "wait",
    "park": "park",
}


def legend(frame: Frame, slots: Mapping[str, int], y: float) -> Lane:
    """Signs with their words, in as many rows as the sheet asks for."""
    layout = frame.layout
    entries = [*_filters(slots), *_signs(frame), *_step_signs(frame)]
    x, row_y = 4.0, y + 12
    shapes: list[Shape] = []
    for sign, words in entries:
        text = fitted(words, layout.right - SIGN - 10)
        width = SIGN + 4 + text_width(text)
        if x > 4 and x + width > layout.right:
            x, row_y = 4.0, row_y + ROW
        shapes += sign(x, row_y)
        shapes.append(label(x + SIGN + 4, row_y + 4, text))
        x += width + GAP
    return Lane(tuple(shapes), row_y + ROW - y)


def _filters(slots: Mapping[str, int]) -> list[tuple[Sign, str]]:
    def sign(slot: int) -> Sign:
        return lambda x, y: [rect(x, y - 7, SIGN, 14, class_=f"f f{slot}")]

    return [(sign(slot), name(each, 40)) for each, slot in slots.items()]


def _signs(frame: Frame) -> list[tuple[Sign, str]]:
    flips, site = frame.facts.plan.request.mount.flips, frame.facts.plan.request.site
    entries: list[tuple[Sign, str]] = [
        (lambda x, y: [curve(f"M{x + 7:.1f} {y - 3:.1f}h8l-4 6z", class_="transit")], "transit"),
        (lambda x, y: [line(x, y, x + SIGN, y, class_="course")], "altitude"),
        (lambda x, y: [line(x, y, x + SIGN, y, class_="floor")], "floor"),
    ]
    if site.skyline:
        entries.append((lambda x, y: [rect(x, y - 5, SIGN, 10, class_="skyline")], "local horizon"))
    entries += [
        (_ground("open"), "shutter may be open"),
        *_partly(frame),
        (_ground("closed"), "closed"),
    ]
    if flips:
        entries += [
            (lambda x, y: [rect(x, y - 1.5, SIGN, 3, class_="rail west")], "pier side west may track"),
            (lambda x, y: [rect(x, y - 1.5, SIGN, 3, class_="rail east")], "pier side east may track"),
            (
                lambda x, y: [curve(f"M{x + 8:.1f} {y - 3:.1f}l6 6m0-6l-6 6", class_="contact")],
                "contact on pier side west",
            ),
            (_ground("forbidden"), "forbidden: too near to contact"),
        ]
    return entries


def _partly(frame: Frame) -> list[tuple[Sign, str]]:
    """The sign for hours open through some filters only, where some target has such hours."""
    for target in frame.facts.targets:
        wanted = len({goal.filter for goal in target.target.goals}) if target.target else 0
        if any(len(span.filters) < wanted for span in target.open_spans):
            return [(_ground("some"), "through some filters only")]
    return []


def _ground(kind: str) -> Sign:
    return lambda x, y: [
        rect(x, y - 7, SIGN, 14, class_=kind),
        rect(x, y - 7, SIGN, 14, class_="outline"),
    ]


def _step_signs(frame: Frame) -> list[tuple[Sign, str]]:
    """The signs of those kinds of steps that the night has."""
    kinds = {placed.step.kind for placed in frame.facts.placed_steps}
    kinds |= {"centre"} if kinds & {"settle", "rotate"} else set()

    def sign(kind: str) -> Sign:
        height = HEIGHTS[kind] * 0.6
        return lambda x, y: [
            Shape("g", (("class", f"act {kind}"),), "", (rect(x + 9, y + 8 - height, 4, height),)),
            line(x + 2, y + 8, x + SIGN - 2, y + 8, class_="base"),
        ]

    return [(sign(kind), words) for kind, words in ACT_WORDS.items() if kind in kinds]
