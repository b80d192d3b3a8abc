"""What one stay with a target can give, as one row for each of its goals.

A stay is all visits of a target that follow each other, flips between them included. The cap of a goal holds
for the night, so it holds for each stay: frames of a goal <= its cap x stays. Without this a mixture of
columns stays twice as long with half of the targets, takes each of their goals on both sides of the flip, and
saves every other slew (a set-up cost paid in part; see README.md for the literature on fixed charges).
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from optimizer.packing.bound.cuts.cut import Cut
from optimizer.packing.bound.run_graph import RunGraph

NOWHERE = -1


def stays(graph: RunGraph) -> Cut:
    """Frames of a goal less its cap for each stay <= 0, for targets with several slots."""
    problem = graph.problem
    names = [slot.target.name for slot in graph.slots]
    slots_of = Counter(names)
    numbers = {name: number for number, name in enumerate(slots_of)}
    of_slot = np.array([numbers[name] for name in names])
    of_task = np.array([numbers.get(task.target.name, NOWHERE) for task in problem.tasks])
    caps = np.array([float(task.frames_left) for task in problem.tasks])
    several = np.array([slots_of[task.target.name] > 1 for task in problem.tasks])
    cap = np.where(several & graph.binding, caps, 0.0)
    return Cut(
        graph,
        rhs=np.zeros(len(cap)),
        scale=cap,
        option_row=graph.option_task,
        by_option=np.where(cap[graph.option_task] > 0, graph.option_frames, 0.0),
        by_arrival=-cap[:, None] * (of_task[:, None] == of_slot),
        by_arc=(np.append(of_slot, NOWHERE)[:, None] != of_slot).astype(np.float64),
    )
