"""How long all runs and arcs of a night take, as one row.

On a grid each run and each arc is rounded down, and a path of some dozen of them wins as many half steps. By
the second they all fit between the first shutter that may open after an arrival and the night's last close.
What lies before a run within a visit is counted with the run, and taken off the arc into the visit. So the
bound of a coarse grid is hardly higher than that of a fine one, but on nights with a time in which nothing
can be done: its seconds are those that rounding wins.
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.bound.cuts.cut import Cut
from optimizer.packing.bound.run_graph import RunGraph


def elapsed(graph: RunGraph) -> Cut:
    """Seconds of all runs, arcs and focus runs <= those of the night."""
    within_s = np.where(graph.within_s < graph.no_arc_s, graph.within_s, 0)
    first_s = graph.arrive_s - within_s
    arcs_s = np.vstack([graph.arcs_s - within_s, first_s - first_s.min()])
    night_s = np.array([float(graph.end_s - first_s.min())])
    return Cut(
        graph,
        rhs=night_s,
        scale=night_s,
        option_row=np.zeros(len(graph.option_s), dtype=np.int64),
        by_option=(graph.option_s + within_s[graph.option_node]).astype(np.float64),
        by_arrival=np.ones((1, len(graph.slots))),
        by_arc=np.minimum.reduceat(arcs_s, graph.slot_starts[:-1], axis=1).astype(np.float64),
        by_refocus=np.full((1, len(graph.slots)), float(graph.problem.rules.focus_s)),
        unit_s=1.0,
    )
