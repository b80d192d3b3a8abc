"""The frames wanted of each goal, one row for each: the Lagrangian relaxation's own constraint."""

from __future__ import annotations

import numpy as np

from optimizer.packing.bound.cuts.cut import Cut
from optimizer.packing.bound.run_graph import RunGraph


def caps(graph: RunGraph) -> Cut:
    """All frames of a goal <= those that are left to take."""
    wanted = np.array([float(task.frames_left) for task in graph.problem.tasks])
    return Cut(
        graph,
        rhs=wanted,
        scale=np.where(graph.binding, wanted, 0.0),
        option_row=graph.option_task,
        by_option=graph.option_frames.astype(np.float64),
    )
