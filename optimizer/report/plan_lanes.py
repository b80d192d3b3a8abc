"""The planned night in lanes of text: the terminal's form of the picture."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import pairwise

from rich.text import Text

from optimizer.models.shots import ShotList
from optimizer.report.lanes import Lanes, Part, Scale, night_scale, sky_lane
from optimizer.report.picture.facts import LaneFacts, PictureFacts, picture_facts
from optimizer.report.picture.shown import shown_list
from optimizer.report.words import name
from optimizer.words import safe

FLIP = "╫"
# What the mount does while the shutter is closed, the longer motion of the mount on top.
ACT_SIGNS = {"focus": "f", "slew": "s", "park": "p", "flip": FLIP}


def plan_lanes(shots: ShotList) -> Lanes:
    """Sky, Moon, targets in the order of the plan, and the mount; as wide as the terminal."""
    facts = picture_facts(shown_list(shots))
    letters = filter_letters([step.filter for step in shots.steps if step.kind == "expose" and step.filter])
    spans = [(step.start_utc, step.end_utc) for step in shots.steps]

    def lines(width: int) -> list[Text]:
        scale = night_scale(shots.night, spans, width)
        drawn = [scale.axis(), sky_lane(scale, shots.night)]
        if any(altitude > 0 for _, altitude in facts.sky.moon):
            drawn.append(scale.lane("Moon", _moon(facts), style="dim"))
        drawn += [_target(scale, facts, target, letters) for target in facts.targets]
        if shots.request.mount.flips:
            drawn.append(scale.lane("pier side", _sides(facts)))
        drawn.append(scale.lane("shutter closed", _step_signs(scale, facts)))
        return [*drawn, *scale.legend(_legend(letters, flips=shots.request.mount.flips))]

    return Lanes(lines)


def filter_letters(names: Sequence[str]) -> dict[str, str]:
    """A sign for each filter: the first free letter of its name, else a digit or another letter."""
    letters: dict[str, str] = {}
    taken = set(ACT_SIGNS.values())
    for each in dict.fromkeys(names):
        own = [char.upper() for char in safe(each) if char.isascii() and char.isalnum()]
        free = [char for char in [*own, *"123456789", *"abcdeghijklmnoqrtuvwxyz"] if char not in taken]
        letters[each] = free[0] if free else "?"
        taken.add(letters[each])
    return letters


def _legend(letters: dict[str, str], *, flips: bool) -> list[str]:
    words = [f"{letter} {name(filter_, 12)}" for filter_, letter in letters.items()]
    words += ["· may be open", "| transit", "s slew", "f autofocus", "p park"]
    return [*words, f"{FLIP} flip", "pier side W/E"] if flips else words


def _utc(facts: PictureFacts, t_s: float) -> dt.datetime:
    return facts.clock.utc(round(t_s))


def _moon(facts: PictureFacts) -> list[Part]:
    course = facts.sky.moon
    return [
        (_utc(facts, start[0]), _utc(facts, end[0]), "▒")
        for start, end in pairwise(course)
        if start[1] > 0 or end[1] > 0
    ]


def _target(scale: Scale, facts: PictureFacts, target: LaneFacts, letters: dict[str, str]) -> Text:
    parts: list[Part] = [
        (_utc(facts, span.start_s), _utc(facts, span.end_s), "·") for span in target.open_spans
    ]
    half = scale.cell / 2
    parts += [(_utc(facts, t) - half, _utc(facts, t) + half, "|") for t, _ in target.transits]
    parts += [
        (placed.step.start_utc, placed.step.end_utc, letters.get(placed.step.filter or "", "?"))
        for placed in target.exposures
    ]
    parts += [
        scale.at_least(placed.step, FLIP) for placed in target.placed_steps if placed.step.kind == "flip"
    ]
    style = "" if target.exposures else "dim"
    return scale.lane(name(target.name), parts, style=style)


def _sides(facts: PictureFacts) -> list[Part]:
    return [
        (placed.step.start_utc, placed.step.end_utc, placed.step.pier_side[0].upper())
        for placed in facts.placed_steps
        if placed.step.pier_side
    ]


def _step_signs(scale: Scale, facts: PictureFacts) -> list[Part]:
    return [
        scale.at_least(placed.step, sign)
        for kind, sign in ACT_SIGNS.items()
        for placed in facts.placed_steps
        if placed.step.kind == kind
    ]
