"""Where in a stay on one target a typed plan has room for the flip that it must make."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.typed.night import Block, Lengths
from optimizer.typed.sky import TypedSky


@dataclass(frozen=True)
class FlipAt:
    """The flip before a block: its place among the blocks, and the seconds between which it may begin."""

    place: int
    opens: int
    closes: int


def flip_edges(sky: TypedSky, block: Block) -> tuple[int, int]:
    """When, near a block's start, the mount takes its flip, and when pier side west must be left."""
    opens = math.ceil(sky.when(block.target, sky.east_from_s, block.start))
    closes = math.floor(sky.when(block.target, sky.west_until_s, block.start))
    return opens, closes


def flip_in(stay: Sequence[tuple[int, Block]], sky: TypedSky, lengths: Lengths) -> FlipAt | None:
    """The flip of a stay that begins on pier side west: in the first gap that has room for it.

    It is there only if the mount flips at all, no row says its pier side, and what follows would track past
    the limit of pier side west. A gap with room for autofocus and filter change too is taken before others,
    and one before the limit before a later one. None: the tube stays where it is.
    """
    if not asks_for_flip(stay, sky, lengths):
        return None
    opens, closes = flip_edges(sky, stay[0][1])
    tail_s = lengths.sub_s(stay[0][1].row) - lengths.shutter_s(stay[0][1].row)
    ends = [lengths.ends(block, sky) for _, block in stay]
    found: list[tuple[tuple[bool, bool, int], FlipAt]] = []
    for before, (place, block) in enumerate(stay[1:]):
        begins = max(ends[before], opens)
        if max(ends[before + 1 :]) - tail_s <= closes:
            break  # nothing after it asks for a flip any more
        least_s, whole_s = _room_s(sky, lengths, stay[before][1], block, begins)
        if begins + least_s <= block.start:
            tracked_too_far = max(ends[: before + 1]) - tail_s > closes
            cramped = begins + whole_s > block.start
            found.append(((tracked_too_far, cramped, place), FlipAt(place, opens, closes)))
    return min(found, default=(None, None), key=lambda each: each[0])[1] if found else None


def asks_for_flip(stay: Sequence[tuple[int, Block]], sky: TypedSky, lengths: Lengths) -> bool:
    """Whether a stay that begins on pier side west, of which no row says its side, tracks past the limit."""
    typed = any(block.row.pier_side is not None or block.pin("flip") is not None for _, block in stay)
    if sky.request.mount.flip_by == "never" or typed:
        return False
    tail_s = lengths.sub_s(stay[0][1].row) - lengths.shutter_s(stay[0][1].row)
    return max(lengths.ends(block, sky) for _, block in stay) - tail_s > flip_edges(sky, stay[0][1])[1]


def _room_s(sky: TypedSky, lengths: Lengths, before: Block, block: Block, begins: int) -> tuple[int, int]:
    """Seconds that a flip takes until the target is centred, and until the next sub may open."""
    request = sky.request
    west, east = (sky.axes(block.target, side, begins) for side in ("west", "east"))
    least_s = sky.slew_s(west, east) + lengths.of("centre") + lengths.of("settle")
    if request.mount.turn_rotator_after_flip:
        least_s += lengths.of("rotate")
    changes = before.filter.name != block.filter.name
    whole_s = least_s + (lengths.of("filter", block.filter) if changes else 0)
    if request.mount.refocus_after_flip or (changes and request.focus.on_filter_change):
        whole_s += lengths.of("focus")
    return least_s, whole_s
