"""How many pieces a goal's frames need, as one row of the bound's linear programme for each such goal.

A piece is what stands in a run between two focus runs, or a whole run; it has at most `most` frames, by the
cadence or the windows. Where a goal's cap needs J of them, the last one of r = cap - (J - 1) x most frames,
what a plan can do fulfils: frames - r x pieces <= cap - r x J (mixed integer rounding: Nemhauser & Wolsey
1990, Mathematical Programming 46). Without this a mixture of paths has full pieces only,
and pays for 59 + 19 frames as for 1.3 pieces.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optimizer.packing.compiled import Floats

if TYPE_CHECKING:
    from optimizer.packing.bound.columns import ColumnRuns
    from optimizer.packing.bound.run_graph import RunGraph


class Segments:
    """Frames that a night gives by a task's row, 0 where it says nothing, and what runs take of them."""

    def __init__(self, graph: RunGraph) -> None:
        """`given` [tasks], `taken` [pairs]."""
        self.graph, tasks = graph, graph.problem.tasks
        lasts, self.given = np.zeros(len(tasks)), np.zeros(len(tasks))
        longest = np.zeros(len(tasks), dtype=np.int64)
        np.maximum.at(longest, graph.pair_task, graph.pair_frames)
        for task in tasks:
            by_focus = max(
                graph.problem.run_lengths.first_segment_most(task),
                graph.problem.run_lengths.later_segment_most(task),
            )
            most = min(int(longest[task.index]), by_focus)
            if most > 0 and graph.binding[task.index]:
                full = (task.frames_left - 1) // most
                lasts[task.index] = task.frames_left - full * most
                self.given[task.index] = full * (most - lasts[task.index])
        taken = graph.pair_frames - lasts[graph.pair_task] * graph.pair_pieces
        self.taken: Floats = np.where(self.given[graph.pair_task] > 0, taken, 0.0)

    def balance(self, walk: ColumnRuns) -> Floats:
        """Frames taken less those given on a path, [tasks]; for what a plan can do none is above 0."""
        tasks = self.graph.pair_task[walk.pairs]
        return np.bincount(tasks, self.taken[walk.pairs], len(self.given)) - self.given
