"""The mount's lane: its pier side, and what is done while the shutter is closed."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from optimizer.report.picture.facts import PlacedStep
from optimizer.report.picture.frame import EDGE, Frame
from optimizer.report.picture.runs import BOLD
from optimizer.report.picture.shapes import (
    Shape,
    fitted,
    haloed,
    label,
    line,
    lowered,
    rect,
    shape,
    text_width,
)
from optimizer.report.picture.target_lane import LEAST_PX, Lane
from optimizer.report.words import duration

SIDE = 16.0
ACTS = 30.0
# Height says what it is where colour cannot: the longer the motion of the mount, the taller.
HEIGHTS = {
    "dither": 7.0,
    "filter": 11.0,
    "centre": 15.0,
    "settle": 15.0,
    "rotate": 15.0,
    "focus": 20.0,
    "slew": 25.0,
    "flip": 30.0,
    "wait": 30.0,
    "park": 25.0,
}
LONG_S = 900  # a wait that is labelled


def mount_lane(frame: Frame, y: float) -> Lane:
    """Draw the pier side above, and the steps with the shutter closed below."""
    layout = frame.layout
    top = y + (16.0 if layout.names == "above" else 0.0)
    base = top + SIDE + 4 + ACTS
    shapes: list[Shape] = []
    if frame.facts.plan.request.mount.flips:
        stands = list(_stands(frame.facts.placed_steps))
        words = _side_words(frame, stands)
        for side, start, end in stands:
            shapes += _stand(frame, side, start, end, top, words)
    shapes.append(line(layout.left, base, layout.right, base, class_="base"))
    closed = [placed for placed in frame.facts.placed_steps if placed.step.kind != "expose"]
    for kind in HEIGHTS:
        members = [placed for placed in closed if placed.step.kind == kind]
        if members:
            shapes.append(
                lowered((_block(frame, placed) for placed in members), base - HEIGHTS[kind], f"act {kind}")
            )
    for placed in closed:
        if (
            placed.step.kind == "wait"
            and placed.end_s - placed.start_s >= LONG_S
            and frame.shown(placed.start_s, placed.end_s)
        ):
            x, text = (
                frame.x((placed.start_s + placed.end_s) / 2),
                f"wait {duration(placed.end_s - placed.start_s)}",
            )
            if frame.x(placed.end_s) - frame.x(placed.start_s) > text_width(text):
                shapes += haloed(x, base - 10, text, text_anchor="middle")
    if layout.names == "above":
        shapes.append(label(EDGE, y + 11, "Mount: pier side, and with the shutter closed"))
        return Lane(tuple(shapes), 16.0 + SIDE + 6 + ACTS)
    shapes += [
        label(EDGE, top + 12, "Mount", class_="name"),
        label(EDGE, top + 28, fitted("pier side,", layout.names_px), class_="soft"),
        label(EDGE, top + 42, fitted("work, shutter closed", layout.names_px), class_="soft"),
    ]
    return Lane(tuple(shapes), SIDE + 6 + ACTS)


def _stands(placed_steps: tuple[PlacedStep, ...]) -> Iterator[tuple[str, float, float]]:
    """Each pier side in turn, with the time for which the mount keeps it."""
    side, start, end = "", 0.0, 0.0
    for placed in placed_steps:
        now = placed.step.pier_side or ""
        if now != side:
            if side:
                yield side, start, end
            side, start = now, placed.start_s
        end = placed.end_s
    if side:
        yield side, start, end


def _side_words(frame: Frame, stands: list[tuple[str, float, float]]) -> Callable[[str], str]:
    """What a side is called in all of the lane: the longest form that fits wherever a letter would."""
    forms: tuple[Callable[[str], str], ...] = ("pier side {}".format, str, lambda side: side[0].upper())
    letter = forms[-1]
    lettered = [
        (side, _width(frame, start, end))
        for side, start, end in stands
        if _fits(letter(side), _width(frame, start, end))
    ]
    return next(form for form in forms if all(_fits(form(side), width) for side, width in lettered))


def _width(frame: Frame, start: float, end: float) -> float:
    return max(LEAST_PX, frame.x(end) - frame.x(start))


def _fits(text: str, width: float) -> bool:
    return text_width(text, BOLD) < width - 4


def _stand(
    frame: Frame, side: str, start: float, end: float, y: float, words: Callable[[str], str]
) -> Iterator[Shape]:
    x, width, text = frame.x(start), _width(frame, start, end), words(side)
    yield rect(x, y, width, SIDE, class_=f"stand {side}")
    if _fits(text, width):
        yield label(x + width / 2, y + 12, text, class_=f"standtext {side}", text_anchor="middle")


def _block(frame: Frame, placed: PlacedStep) -> Shape:
    x, height = frame.x(placed.start_s), HEIGHTS[placed.step.kind]
    width = max(LEAST_PX, frame.x(placed.end_s) - x)
    return shape("rect", x=x, width=width, height=height, data_i=str(placed.index))
