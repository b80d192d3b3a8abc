"""Copies of a list that one deed has spoilt: moved in time, thinned out, put in another order, without flips."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from optimizer.models.shots import Step

AFTER_A_FLIP = ("centre", "settle", "rotate", "filter", "focus")
OF_THE_SKY = (
    "latest_start_utc",
    "hour_angle_h",
    "altitude_deg",
    "azimuth_deg",
    "airmass",
    "moon_separation_deg",
)


def moved(steps: Sequence[Step], minutes: float, first: int = 0) -> list[Step]:
    """All steps from a place on later by so many minutes, all else as it was."""
    by = dt.timedelta(minutes=minutes)
    later = [
        step.model_copy(update={"start_utc": step.start_utc + by, "end_utc": step.end_utc + by})
        for step in steps[first:]
    ]
    return [*steps[:first], *later]


def numbered(steps: Sequence[Step]) -> list[Step]:
    """The steps with numbers from 1 on."""
    return [step.model_copy(update={"step": number}) for number, step in enumerate(steps, start=1)]


def bare(steps: Sequence[Step]) -> list[Step]:
    """The steps without what tells where the sky is."""
    return [step.model_copy(update=dict.fromkeys(OF_THE_SKY)) for step in steps]


def thinned(steps: Sequence[Step], every: int) -> list[Step]:
    """The steps without one in so many."""
    return [step for place, step in enumerate(steps) if place % every != every // 2]


def swapped(steps: Sequence[Step]) -> list[Step]:
    """Two steps, far from each other, in each other's place."""
    changed, one, other = list(steps), len(steps) // 4, len(steps) // 2
    changed[one], changed[other] = changed[other], changed[one]
    return changed


def without_flips(steps: Sequence[Step], *, block: bool = False) -> list[Step]:
    """The steps without the flips, with `block` without what belongs to them too."""
    kept, in_block = [], False
    for step in steps:
        in_block = step.kind == "flip" or (in_block and step.kind in AFTER_A_FLIP)
        if step.kind != "flip" and not (block and in_block):
            kept.append(step)
    return kept


def spoilt(steps: Sequence[Step]) -> dict[str, list[Step]]:
    """Every copy, by what was done to it."""
    half = len(steps) // 2
    copies = {
        "40 min late": moved(steps, 40),
        "40 min early": moved(steps, -40),
        "200 min late": moved(steps, 200),
        "25 min late from its half on": moved(steps, 25, half),
        "two hours late, without positions": moved(bare(steps), 120),
        "a seventh of it gone": thinned(steps, 7),
        "a third of it gone, numbered anew": numbered(thinned(steps, 3)),
        "one row gone": [*steps[:3], *steps[4:]],
        "two rows swapped": swapped(steps),
        "two rows swapped, numbered anew": numbered(swapped(steps)),
        "from its end to its beginning": list(reversed(steps)),
    }
    if any(step.kind == "flip" for step in steps):
        copies["without flips"] = without_flips(steps)
        copies["without flips, numbered anew"] = numbered(without_flips(steps))
        copies["without flips and what belongs to them"] = without_flips(steps, block=True)
    return copies
