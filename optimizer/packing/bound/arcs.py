"""All ways of a night at once: from leaving each slot to the first shutter of each run that may come next.

Numbers of whole slots by array calls: pair by pair a night of a thousand targets takes half a minute. They
are those of `entries.way_s` and `may_follow`, to the last bit of a sum.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from optimizer.models.rig import SIDES
from optimizer.mount.axes import SAFETY_S
from optimizer.packing.bound.nodes import Entry, way_s
from optimizer.packing.compiled import Ints
from optimizer.problem import Problem, Slot
from optimizer.problem.transitions import may_follow

Floats = NDArray[np.float64]


def ways_between(
    problem: Problem, slots: Sequence[Slot], entries: Sequence[Entry], no_way_s: int
) -> tuple[Ints, Ints]:
    """Seconds of each way, and 1 where a focus run must lie on it, [slots, entries] each.

    `slots` are first copies, `entries` in their order; `no_way_s`, more than any way, where none leads.
    """
    focus_s, turns_s = problem.rules.focus_s, problem.rules.rotate_s
    acquire_s = problem.rules.centre_s + problem.rules.settle_s
    focuses = problem.focuses_on_arrival(False, True)
    into = np.array([entry.slot for entry in entries])
    change_s = np.array([entry.task.change_s for entry in entries])
    windows = np.array([max(map(len, slot.shutter.values())) for slot in slots])
    sides = np.array([SIDES.index(slot.side) if slot.side in SIDES else -1 for slot in slots])
    turns = problem.rules.rotates_after_flip
    shortest_s = np.array([min(problem.tasks[task].frame_s for task in slot.shutter) for slot in slots])
    soonest = np.array([slot.work[0] for slot in slots]) + shortest_s
    latest = np.array([slot.work[1] for slot in slots])
    moving = Motions(problem, slots)
    seconds: Ints = np.empty((len(slots), len(entries)), dtype=np.int64)
    focused: Ints = np.full((len(slots), len(entries)), int(focuses), dtype=np.int64)
    for start in range(len(slots)):
        floor_s, at_once_s = moving.from_slot(start)
        turn_s = np.where(sides != sides[start], turns_s if turns else 0, 0)
        reached = soonest[start] + floor_s <= latest
        reached[start] = reached[start] and windows[start] > 1  # straight back to the same window: no
        of_slot = np.where(reached, at_once_s + (acquire_s + turn_s), no_way_s)
        seconds[start] = of_slot[into] + change_s + (focus_s if focuses else 0)
    np.minimum(seconds, no_way_s, out=seconds)
    _put_in_flips(problem, slots, entries, no_way_s, seconds, focused)
    return seconds, focused


def _put_in_flips(
    problem: Problem,
    slots: Sequence[Slot],
    entries: Sequence[Entry],
    no_way_s: int,
    seconds: Ints,
    focused: Ints,
) -> None:
    """Flips are few, each is told by itself: the filter may stay, the mount may turn of its own accord."""
    of_target: dict[str, list[int]] = {}
    for number, entry in enumerate(entries):
        of_target.setdefault(slots[entry.slot].target.name, []).append(number)
    focuses = problem.focuses_on_arrival(True, False)
    for start, before in enumerate(slots):
        for number in of_target[before.target.name]:
            after = slots[entries[number].slot]
            if problem.flips_between(before, after):
                way = way_s(problem, before, after, entries[number].task)
                follows = may_follow(problem, before, after)
                seconds[start, number] = min(way, no_way_s) if follows else no_way_s
                focused[start, number] = focuses


class Motions:
    """What `transition` says of slews between slots without a wait, for all slots at once."""

    def __init__(self, problem: Problem, slots: Sequence[Slot]) -> None:
        """Find where the axes stand on each slot."""
        self.mount = problem.rules
        stand = [slot.axes(0, problem.rules.latitude_deg) for slot in slots]
        self.hour_deg: Floats = np.array([axes.hour_deg for axes in stand])
        self.declination_deg: Floats = np.array([axes.declination_deg for axes in stand])
        self.uneven_deg: Floats = np.array([slot.uneven_deg for slot in slots])

    def from_slot(self, start: int) -> tuple[Ints, Ints]:
        """Least length of a slew whatever the wait, and that of one at once, [slots] each."""
        hour_deg = self.hour_deg - self.hour_deg[start]
        if not self.mount.flips:
            hour_deg = (hour_deg + 180) % 360 - 180
        rate = self.mount.slew_deg_s
        extra_s = self.mount.slew_extra_s + SAFETY_S + (self.uneven_deg + self.uneven_deg[start]) / rate
        floor_s = np.ceil(extra_s + np.abs(self.declination_deg - self.declination_deg[start]) / rate)
        at_once_s = np.maximum(floor_s, np.ceil(extra_s + np.abs(hour_deg) / rate))
        return floor_s.astype(np.int64), at_once_s.astype(np.int64)
