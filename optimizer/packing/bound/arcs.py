"""All arcs of a night at once: from leaving each slot to the first shutter of each run that may come next.

The numbers of a whole slot come from array calls; one by one, those of a thousand targets take half a minute.
They are those of `nodes.arc_s` and `may_follow`, to the last bit of a sum.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.models.rig import SIDES
from optimizer.mount.axes import SAFETY_S
from optimizer.packing.bound.nodes import Node, arc_s
from optimizer.packing.compiled import Floats, Ints
from optimizer.problem import Problem, Slot
from optimizer.problem.transitions import may_follow


def arcs_between(
    problem: Problem, slots: Sequence[Slot], nodes: Sequence[Node], no_arc_s: int
) -> tuple[Ints, Ints]:
    """Least seconds of each arc, and 1 where a focus run must lie on it, [slots, nodes] each.

    `slots` holds first copies alone, `nodes` all their windows in order; where nothing leads, an arc takes
    `no_arc_s`, which is more than any other.
    """
    focuses = problem.focuses_on_arrival(False, True)
    setup_s = problem.rules.centre_s + problem.rules.settle_s + (problem.rules.focus_s if focuses else 0)
    turn_s = problem.rules.rotate_s if problem.rules.rotates_after_flip else 0
    node_slot = np.array([node.slot for node in nodes])
    change_s = np.array([node.task.change_s for node in nodes])
    windows = np.array([max(map(len, slot.shutter.values())) for slot in slots])
    sides = np.array([SIDES.index(slot.side) if slot.side in SIDES else -1 for slot in slots])
    shortest_s = np.array([min(problem.tasks[task].frame_s for task in slot.shutter) for slot in slots])
    soonest = np.array([slot.work[0] for slot in slots]) + shortest_s
    latest = np.array([slot.work[1] for slot in slots])
    motions = Motions(problem, slots)
    seconds: Ints = np.empty((len(slots), len(nodes)), dtype=np.int64)
    focused: Ints = np.full((len(slots), len(nodes)), int(focuses), dtype=np.int64)
    for start in range(len(slots)):
        floor_s, at_once_s = motions.from_slot(start)
        leads = soonest[start] + floor_s <= latest
        leads[start] = leads[start] and windows[start] > 1  # never straight back to the same window
        to_slot_s = at_once_s + setup_s + np.where(sides != sides[start], turn_s, 0)
        seconds[start] = np.where(leads, to_slot_s, no_arc_s)[node_slot] + change_s
    np.minimum(seconds, no_arc_s, out=seconds)
    _set_flips(problem, slots, nodes, no_arc_s, seconds, focused)
    return seconds, focused


def _set_flips(
    problem: Problem,
    slots: Sequence[Slot],
    nodes: Sequence[Node],
    no_arc_s: int,
    seconds: Ints,
    focused: Ints,
) -> None:
    """Flips are few and set one by one: the filter may stay, and the mount may flip of its own accord."""
    of_target: dict[str, list[int]] = {}
    for number, node in enumerate(nodes):
        of_target.setdefault(slots[node.slot].target.name, []).append(number)
    focuses = problem.focuses_on_arrival(True, False)
    for start, before in enumerate(slots):
        for number in of_target[before.target.name]:
            after = slots[nodes[number].slot]
            if problem.flips_between(before, after):
                flip_s = arc_s(problem, before, after, nodes[number].task)
                seconds[start, number] = min(flip_s, no_arc_s)
                if not may_follow(problem, before, after):
                    seconds[start, number] = no_arc_s
                focused[start, number] = focuses


class Motions:
    """Lengths of slews between slots, as `transition` gives them one by one, without a wait."""

    def __init__(self, problem: Problem, slots: Sequence[Slot]) -> None:
        """Find where the axes stand on each slot."""
        self.mount = problem.rules
        stand = [slot.axes(0, problem.rules.latitude_deg) for slot in slots]
        self.hour_deg: Floats = np.array([axes.hour_deg for axes in stand])
        self.declination_deg: Floats = np.array([axes.declination_deg for axes in stand])
        self.uneven_deg: Floats = np.array([slot.uneven_deg for slot in slots])

    def from_slot(self, start: int) -> tuple[Ints, Ints]:
        """Seconds of a slew to each slot, [slots] each: at least, whatever the wait is, and at once."""
        hour_deg = self.hour_deg - self.hour_deg[start]
        if not self.mount.flips:
            hour_deg = (hour_deg + 180) % 360 - 180
        rate = self.mount.slew_deg_s
        extra_s = self.mount.slew_extra_s + SAFETY_S + (self.uneven_deg + self.uneven_deg[start]) / rate
        floor_s = np.ceil(extra_s + np.abs(self.declination_deg - self.declination_deg[start]) / rate)
        at_once_s = np.maximum(floor_s, np.ceil(extra_s + np.abs(hour_deg) / rate))
        return floor_s.astype(np.int64), at_once_s.astype(np.int64)
