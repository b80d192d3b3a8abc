"""What one stay with a target can give, as one row of the bound's linear programme for each of its goals.

A stay is all visits of a target that follow each other, flips between them included. The cap of a goal holds
for the night, so it holds for each stay: frames of a goal <= its cap x stays. Without this a mixture of paths
stays twice as long with half of the targets, takes each of their goals on both sides of the flip, and saves
every other slew (a set-up cost paid in part; cf. Nemhauser & Wolsey 1988, Integer and Combinatorial
Optimization, on strong formulations with fixed charges).
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from optimizer.packing.compiled import Floats

if TYPE_CHECKING:
    from optimizer.packing.bound.columns import ColumnRuns
    from optimizer.packing.bound.run_graph import RunGraph

NOWHERE = -1


class Stays:
    """Frames that a stay gives to each task, 0 where nothing is to say, and which ways begin a stay."""

    def __init__(self, graph: RunGraph) -> None:
        """`given` [tasks]; `begins` [slots + 1, slots]: 1 where a way (from home: the last) begins a stay."""
        self.graph, problem = graph, graph.problem
        names = [slot.target.name for slot in graph.slots]
        counted = Counter(names)
        numbers = {name: number for number, name in enumerate(counted)}
        of_slot = np.array([numbers[name] for name in names])
        of_task = np.array([numbers.get(task.target.name, NOWHERE) for task in problem.tasks])
        caps = np.array([float(task.frames_left) for task in problem.tasks])
        twice = np.array([counted[task.target.name] > 1 for task in problem.tasks])
        self.mine = (of_slot[:, None] == of_task).astype(np.float64)
        self.given: Floats = np.where(twice & graph.binding, caps, 0.0)
        self.begins: Floats = (np.append(of_slot, NOWHERE)[:, None] != of_slot).astype(np.float64)

    def gains(self, prices: Floats) -> Floats:
        """What ways earn by the stays that they begin, [slots + 1, slots], at prices of frames [tasks]."""
        found: Floats = self.begins * (self.mine @ (prices * self.given))
        return found

    def balance(self, walk: ColumnRuns) -> Floats:
        """Frames taken less those given on a path, [tasks]; for what a plan can do none is above 0."""
        tasks, frames = self.graph.pair_task[walk.pairs], self.graph.pair_frames[walk.pairs]
        taken = np.bincount(tasks, frames, len(self.given))
        stays = (walk.arrives * self.begins[walk.before, walk.slots]) @ self.mine[walk.slots]
        return np.where(self.given > 0, taken - stays * self.given, 0.0)
