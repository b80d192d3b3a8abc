"""What one stay with a target can give, as one row of the bound's linear programme for each of its goals.

A stay is all visits of a target that follow each other, flips between them included. The cap of a goal holds
for the night, so it holds for each stay: frames of a goal <= its cap x stays. Without this a mixture of paths
stays twice as long with half of the targets, takes each of their goals on both sides of the flip, and saves
every other slew (a set-up cost paid in part; cf. Nemhauser & Wolsey 1988, Integer and Combinatorial
Optimization, on strong formulations with fixed charges, cited from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optimizer.packing.compiled import Floats

if TYPE_CHECKING:
    from optimizer.packing.graph import NightGraph
    from optimizer.packing.paths import Walk


class Stays:
    """Frames that a stay gives to each task, 0 where nothing is to say, and which ways begin a stay."""

    def __init__(self, graph: NightGraph) -> None:
        """`given` [tasks]; `begins` [slots + 1, slots]: 1 where a way (from home: the last) begins a stay."""
        self.graph, problem = graph, graph.problem
        names = [slot.target.name for slot in graph.slots]
        self.mine = np.array([[float(task.target.name == name) for task in problem.tasks] for name in names])
        twice = {name for name in names if names.count(name) > 1}
        self.given: Floats = np.array(
            [float(task.frames_left) if task.target.name in twice else 0.0 for task in problem.tasks]
        )
        self.begins: Floats = np.array([[float(one != other) for other in names] for one in [*names, ""]])

    def gains(self, prices: Floats) -> Floats:
        """What ways earn by the stays that they begin, [slots + 1, slots], at prices of frames [tasks]."""
        found: Floats = self.begins * (self.mine @ (prices * self.given))
        return found

    def balance(self, walk: Walk) -> Floats:
        """Frames taken less those given on a path, [tasks]; for what a plan can do none is above 0."""
        tasks, frames = self.graph.pair_task[walk.pairs], self.graph.pair_frames[walk.pairs]
        taken = np.bincount(tasks, frames, len(self.given))
        stays = (walk.arrives * self.begins[walk.before, walk.slots]) @ self.mine[walk.slots]
        return np.where(self.given > 0, taken - stays * self.given, 0.0)
