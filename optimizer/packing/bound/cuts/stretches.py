"""How many focus runs all frames of a target need, as one row of the bound's linear programme for each.

`focus_age` counts seconds, and pays for frames of 1.8 cadences as for 1.8 focus runs. A stretch is what one
of them serves; a target's frames y, in stretches, fit into the number s of its stretches and are at most Y,
those of all its caps. With r = Y - (ceil(Y) - 1) what a plan can do fulfils y - r s <= (ceil(Y) - 1) (1 - r),
by mixed integer rounding as in `segments`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from optimizer.packing.bound.cuts.focus_age import FocusAge
from optimizer.packing.compiled import Floats

if TYPE_CHECKING:
    from optimizer.packing.bound.columns import ColumnRuns
    from optimizer.packing.bound.run_graph import RunGraph


class Stretches:
    """For targets of which `focus_age` knows all slots: what a night, a focus run and a run count."""

    def __init__(self, graph: RunGraph, age: FocusAge) -> None:
        """`given` [rows], a night; `by_focus` [rows, slots], before a run; `taken` [rows, pairs]."""
        problem = graph.problem
        given, by_focus, taken = list[float](), list[Floats](), list[Floats]()
        frame_s = np.array([task.frame_s for task in problem.tasks])
        known = {slot.target.name for slot, each in zip(graph.slots, age.given, strict=True) if each}
        for target in sorted(known):
            here = np.array([slot.target.name == target for slot in graph.slots])
            tasks = [task for task in problem.tasks if task.target.name == target]
            if not age.given[here].all():
                continue
            whole_s = (problem.rules.focus_every_s or 0) + max(task.download_s for task in tasks)
            most = sum(task.frames_left * task.frame_s for task in tasks) / whole_s
            if most * whole_s > graph.end_s + whole_s:
                continue  # more than the night holds: it says nothing
            full = math.ceil(most) - 1
            last = most - full
            frames = graph.pair_frames * frame_s[graph.pair_task] / whole_s - last * (graph.pair_pieces - 1)
            given.append(full * (1.0 - last))
            by_focus.append(np.where(here, last, 0.0))
            taken.append(np.where(here[graph.pair_slot], frames, 0.0))
        self.given: Floats = np.array(given)
        self.by_focus: Floats = np.array(by_focus).reshape(len(given), len(graph.slots))
        self.taken: Floats = np.array(taken).reshape(len(given), len(graph.pair_s))

    def balance(self, walk: ColumnRuns) -> Floats:
        """Stretches taken less those given on a path, [rows]; for what a plan can do none is above 0."""
        focused = walk.slots[walk.arrives | walk.refocused]
        found: Floats = self.taken[:, walk.pairs].sum(axis=1) - self.by_focus[:, focused].sum(axis=1)
        return found - self.given
