"""How long all runs and ways of a night take, as one row of the bound's linear programme.

On a grid each run and each way is rounded down, and a path of some dozen of them wins as many half steps. By
the second they all fit between the first shutter that may open after an arrival and the night's last close.
What lies before a run within a visit is counted with the run, and from a way into the visit it is taken off.
So the bound of a coarse grid is hardly higher than that of a fine one, but on nights with a time in which
nothing can be done: its seconds are those that rounding wins.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optimizer.packing.compiled import Floats

if TYPE_CHECKING:
    from optimizer.packing.bound.columns import ColumnRuns
    from optimizer.packing.bound.run_graph import RunGraph


class Elapsed:
    """Seconds that runs, ways and focus runs take at least, and those of the night."""

    def __init__(self, graph: RunGraph) -> None:
        """`taken` [pairs], with what lies before a run within a visit; `by_way` [slots + 1, slots]: the rest.

        `given` [1], a night; `focus_s`, a focus run between two runs of a visit.
        """
        starts = graph.slot_starts[:-1]
        within_s = np.where(graph.within_s < graph.no_way_s, graph.within_s, 0)
        first_s = graph.arrive_s - within_s
        ways_s = np.vstack([graph.ways_s - within_s, first_s - first_s.min()])
        self.given: Floats = np.array([float(graph.end_s - first_s.min())])
        self.taken: Floats = (graph.pair_s + within_s[graph.pair_entry]).astype(np.float64)
        self.by_way: Floats = np.minimum.reduceat(ways_s, starts, axis=1).astype(np.float64)
        self.focus_s = float(graph.problem.rules.focus_s)

    def balance(self, walk: ColumnRuns) -> Floats:
        """Seconds taken less those given on a path, [1]; for what a plan can do not above 0."""
        ways = self.by_way[walk.before[walk.arrives], walk.slots[walk.arrives]]
        taken = self.taken[walk.pairs].sum() + ways.sum() + self.focus_s * walk.refocused.sum()
        found: Floats = taken - self.given
        return found
