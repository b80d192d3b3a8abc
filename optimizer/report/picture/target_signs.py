"""What is written into a target's lane: transit, contact, floor and flips, none across another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimizer.report.picture.facts import LaneFacts, PlacedStep
from optimizer.report.picture.frame import Frame
from optimizer.report.picture.placing import Box, Place, Taken, broken_line
from optimizer.report.picture.runs import BOLD
from optimizer.report.picture.scale import AltitudeY
from optimizer.report.picture.shapes import Shape, curve, label, line, rect, text_width
from optimizer.report.words import clock

FLAG = 15.0  # height of a flip's label, which stands above all other words of its lane
OVER_COURSE = 4.0  # from a bold course up to the foot of a word above it
NEAR_S = 14400.0  # a contact has its time where a flip lies as near as this


@dataclass(frozen=True)
class Flag:
    """A flip: where its bar stands, and its label beside the top of the bar."""

    x: float
    box: Box
    text: str


def flags_of(frame: Frame, facts: LaneFacts, top: float) -> list[Flag]:
    """The flips on the sheet; a label stands right of its bar, since the transit lies mostly to the left.

    Where other flips leave no room for any form of its label, a bar stands alone.
    """
    placed_steps = [
        placed
        for placed in facts.placed_steps
        if placed.step.kind == "flip" and frame.shown(placed.start_s, placed.end_s)
    ]
    bars = [_bar_x(frame, placed) for placed in placed_steps]
    flags: list[Flag] = []
    for placed, x in zip(placed_steps, bars, strict=True):
        alone = Flag(x, Box(x, top - 2, x, top - 2 + FLAG), "")
        clear = (
            flag
            for flag in _flags(frame, placed, top)
            if not any(flag.box.left < bar < flag.box.right for bar in bars)
            and not any(flag.box.meets(other.box) for other in flags)
        )
        flags.append(next(clear, alone))
    return flags


def _bar_x(frame: Frame, placed: PlacedStep) -> float:
    return frame.x((placed.start_s + placed.end_s) / 2)


def _flags(frame: Frame, placed: PlacedStep, top: float) -> Iterator[Flag]:
    """A flip's label right of its bar, left of it, or without its time, as far as the sheet reaches."""
    time = clock(placed.step.start_utc, frame.facts.plan.request.site.time_zone)
    x = _bar_x(frame, placed)
    for text in (f"FLIP {time}", "FLIP"):
        width = text_width(text, BOLD) + 8
        for left in (x, x - width):
            if frame.layout.left <= left and left + width <= frame.layout.right:
                yield Flag(x, Box(left, top - 2, left + width, top - 2 + FLAG), text)


def flip_shapes(flags: Sequence[Flag], bottom: float, words: Sequence[Box]) -> Iterator[Shape]:
    """Each flip as a labelled bar through the lane down to `bottom`, left out where it would strike words."""
    for flag in flags:
        for start, end in broken_line(flag.x, flag.box.top, bottom, words):
            yield line(flag.x, start, flag.x, end, class_="flip")
        if not flag.text:
            continue
        box = flag.box
        yield rect(box.left, box.top, box.right - box.left, FLAG, class_="flipbox")
        middle = (box.left + box.right) / 2
        yield label(middle, box.top + 11.5, flag.text, class_="fliptext", text_anchor="middle")


def transit_shapes(frame: Frame, facts: LaneFacts, alt_y: AltitudeY, taken: Taken) -> Iterator[Shape]:
    """A mark on the highest point of the course, its time and altitude above the course beside it."""
    zone = frame.facts.plan.request.site.time_zone
    for t_s, altitude_deg in facts.transits:
        if not frame.inside(t_s) or altitude_deg <= 0:
            continue
        x, y = frame.x(t_s), alt_y(altitude_deg)
        yield curve(f"M{x - 4:.1f} {y - 7:.1f}h8l-4 6z", class_="transit")
        text = f"{clock(frame.facts.clock.utc(round(t_s)), zone)} {altitude_deg:.0f}°"
        yield from taken.label(
            [
                Place(x + away, y - up, text, ends=away < 0)
                for up in (OVER_COURSE, OVER_COURSE + 9, -14.0)  # below the course at last
                for away in (7.0, -7.0, 14.0)  # at last behind the bar of a flip that follows at once
            ]
        )


def contact_shapes(frame: Frame, facts: LaneFacts, rail_y: float, taken: Taken) -> Iterator[Shape]:
    """A cross on the rail of pier side west where equipment would touch; its time where a flip is near."""
    zone = frame.facts.plan.request.site.time_zone
    for contact_s in facts.contacts_s:
        if not frame.inside(contact_s):
            continue
        x = frame.x(contact_s)
        yield curve(f"M{x - 3:.1f} {rail_y - 3:.1f}l6 6m0-6l-6 6", class_="contact")
        if any(
            placed.step.kind == "flip" and abs(placed.start_s - contact_s) < NEAR_S
            for placed in facts.placed_steps
        ):
            text = f"contact {clock(frame.facts.clock.utc(int(contact_s)), zone)}"
            yield from taken.label(
                [
                    Place(x + (-4 if ends else 0), rail_y - up, text, ends=ends)
                    for up in (5.0, 13.0, 21.0, 29.0)
                    for ends in (False, True)
                ]
            )


def floor_words(frame: Frame, floor_deg: float, floor_y: float, taken: Taken) -> Iterator[Shape]:
    """The floor's number at an end of its line."""
    layout, text = frame.layout, f"{floor_deg:g}°"
    yield from taken.label(
        [
            Place(layout.right - 2 if ends else layout.left + 2, floor_y + down, text, ends=ends)
            for ends in (True, False)
            for down in (-3.0, 12.0)
        ]
    )
