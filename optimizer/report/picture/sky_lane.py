"""The sky's lane: how dark it is, where the Moon stands and how bright it makes the night."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from optimizer.report.picture.facts import Course, SkyFacts
from optimizer.report.picture.frame import EDGE, Frame
from optimizer.report.picture.placing import Box, Place, Taken
from optimizer.report.picture.scale import AltitudeY, scale_shapes
from optimizer.report.picture.shapes import Shape, curve, fitted, group, label, path, rect
from optimizer.report.picture.target_lane import Lane
from optimizer.report.words import clock, percent

HEIGHT = 62.0
LIGHT = 20.0  # height of the strip of moonlight
FULL_MAG = 3.0  # of a strip of full height: a Moon nearly full and high
DISC = 6.0
DARK_WORDS = ("Sun down", "6° down", "12° down", "dark")


def sky_lane(frame: Frame, y: float) -> Lane:
    """Bands of twilight, the Moon's course with its disc, and a strip as high as its light is strong."""
    sky, layout = frame.facts.sky, frame.layout
    top = y + (32.0 if layout.names == "above" else 0.0)
    bottom = top + HEIGHT
    grounds: list[Shape] = [rect(layout.left, top, layout.right - layout.left, HEIGHT, class_="sky0")]
    for depth, spans in enumerate(sky.sun_below, start=1):
        for start, end in spans:
            if frame.shown(start, end):
                x = frame.x(start)
                grounds.append(rect(x, top, frame.x(end) - x, HEIGHT, class_=f"sky{depth}"))
    taken = Taken(layout.left, layout.right)
    shapes: list[Shape] = [*_moon(frame, sky, top, bottom, taken)]
    shapes += _darkest(frame, sky, top, taken)
    if taken.lines:
        shapes += scale_shapes(layout, _alt_y(bottom))
    lines = sky_words(frame)
    if layout.names == "above":
        lines = [lines[0], ", ".join(lines[1:])]
        shapes += [label(EDGE, y + 11 + 15 * row, text) for row, text in enumerate(lines)]
        return Lane(tuple(shapes), 32.0 + HEIGHT, tuple(grounds))
    shapes.append(label(EDGE, top + 14, "Sky", class_="name"))
    for row, text in enumerate(lines):
        shapes.append(label(EDGE, top + 30 + 14 * row, fitted(text, layout.names_px), class_="soft"))
    return Lane(tuple(shapes), HEIGHT, tuple(grounds))


def sky_words(frame: Frame) -> list[str]:
    """The darkest part of the night, the Moon, and its light, each in a line."""
    night = frame.facts.night
    zone = frame.facts.plan.request.site.time_zone
    pairs = (
        ("Dark", night.astronomical_dusk_utc, night.astronomical_dawn_utc),
        ("Sun 12° down", night.nautical_dusk_utc, night.nautical_dawn_utc),
        ("Sun 6° down", night.civil_dusk_utc, night.civil_dawn_utc),
        ("Sun down", night.sunset_utc, night.sunrise_utc),
    )
    deepest = next((pair for pair in pairs if pair[1] and pair[2]), None)
    dark = (
        f"{deepest[0]} {clock(deepest[1], zone)} to {clock(deepest[2], zone)}"
        if deepest
        else "No twilight edge tonight"
    )
    sky = frame.facts.sky
    up = any(altitude > 0 for _, altitude in sky.moon)
    if not up:
        return [dark, f"Moon {percent(sky.lit)} lit, not up"]
    most = max(mag for _, mag in sky.moonlight)
    return [dark, f"Moon {percent(sky.lit)} lit", _light(most)]


def _light(most_mag: float) -> str:
    return "no light to speak of" if most_mag < 0.05 else f"sky {most_mag:.1f} mag brighter"


def _up(course: Course) -> list[list[tuple[float, float]]]:
    """Pieces of a course above 0, ended where they cross it."""
    pieces: list[list[tuple[float, float]]] = []
    for one, two in pairwise(course):
        if max(one[1], two[1]) <= 0:
            continue
        share = one[1] / (one[1] - two[1]) if one[1] * two[1] < 0 else None
        crossing = None if share is None else (one[0] + share * (two[0] - one[0]), 0.0)
        start = crossing if one[1] < 0 and crossing else one
        end = crossing if two[1] < 0 and crossing else two
        if pieces and pieces[-1][-1] == start:
            pieces[-1].append(end)
        else:
            pieces.append([start, end])
    return pieces


def _alt_y(bottom: float) -> AltitudeY:
    """The Moon's scale: over the strip of moonlight at the lane's foot."""
    return lambda altitude_deg: bottom - LIGHT - 2 - (HEIGHT - LIGHT - 8) * max(0.0, altitude_deg) / 90.0


def _moon(frame: Frame, sky: SkyFacts, top: float, bottom: float, taken: Taken) -> Iterator[Shape]:
    alt_y = _alt_y(bottom)
    light = [(frame.x(t), bottom - LIGHT * min(1.0, mag / FULL_MAG)) for t, mag in sky.moonlight]
    if any(mag > 0.05 for _, mag in sky.moonlight):
        yield path([(light[0][0], bottom), *light, (light[-1][0], bottom)], closed=True, class_="moonlight")
    for piece in _up(sky.moon):
        points = [(frame.x(t), alt_y(altitude)) for t, altitude in piece]
        taken.lines.append(points)
        yield path(points, class_="moonedge")
        yield path(points, class_="moon")
        at_s, altitude = max(piece, key=lambda point: point[1])
        x = min(max(frame.x(at_s), frame.layout.left + DISC + 2), frame.layout.right - DISC - 2)
        # from the south of the Earth the Moon stands on its head
        right = sky.waxing == (frame.facts.plan.request.site.latitude_deg >= 0)
        y = max(top + DISC + 2, alt_y(altitude))
        taken.boxes.append(Box(x - DISC - 1, y - DISC - 1, x + DISC + 1, y + DISC + 1))
        yield _disc(x, y, sky.lit, right)


def _disc(x: float, y: float, lit: float, right: bool) -> Shape:
    """The disc with its lit part, on the right or on the left."""
    r = DISC
    bulge = r * abs(1 - 2 * lit)
    outer, inner = (1, 0 if lit < 0.5 else 1) if right else (0, 1 if lit < 0.5 else 0)
    lit_part = curve(
        f"M{x:.1f} {y - r:.1f}A{r} {r} 0 0 {outer} {x:.1f} {y + r:.1f}"
        f"A{max(0.1, bulge):.1f} {r} 0 0 {inner} {x:.1f} {y - r:.1f}z",
        class_="moonlit",
    )
    return group([rect(x - r, y - r, 2 * r, 2 * r, rx=r, class_="moondisc"), lit_part])


def _darkest(frame: Frame, sky: SkyFacts, top: float, taken: Taken) -> Iterator[Shape]:
    """Words where the darkest band that there is begins, clear of the Moon."""
    for depth in range(len(sky.sun_below) - 1, -1, -1):
        spans = [span for span in sky.sun_below[depth] if frame.shown(*span)]
        if spans:
            start = max(spans, key=lambda span: span[1] - span[0])[0]
            x = max(frame.layout.left, frame.x(start)) + 6
            places = [Place(x, top + down, DARK_WORDS[depth]) for down in (14.0, 28.0, 42.0)]
            yield from taken.label(places, "skyword")
            return
