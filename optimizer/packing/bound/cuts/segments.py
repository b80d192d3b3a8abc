"""How many segments a goal's frames need, as one row for each such goal.

A segment, here, is what stands in a run between two focus runs, or a whole run; it has at most `most` frames,
by the cadence or the windows. Where a goal's cap needs J of them, the last one of r = cap - (J - 1) x most
frames, what a plan can do fulfils: frames - r x segments <= cap - r x J (mixed integer rounding; see
README.md). Without this a mixture of columns has full segments only, and pays for 59 + 19 frames as for 1.3
segments.
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.bound.cuts.cut import Cut
from optimizer.packing.bound.run_graph import RunGraph


def segments(graph: RunGraph) -> Cut:
    """Frames of a goal less r for each segment <= what whole segments leave of its cap."""
    tasks = graph.problem.tasks
    lasts, rhs, longest = np.zeros(len(tasks)), np.zeros(len(tasks)), np.zeros(len(tasks), dtype=np.int64)
    np.maximum.at(longest, graph.option_task, graph.option_frames)
    for task in tasks:
        most = min(int(longest[task.index]), graph.problem.run_lengths.segment_most(task))
        if most > 0 and graph.binding[task.index]:
            full = (task.frames_left - 1) // most
            lasts[task.index] = task.frames_left - full * most
            rhs[task.index] = full * (most - lasts[task.index])
    taken = graph.option_frames - lasts[graph.option_task] * graph.option_segments
    return Cut(
        graph,
        rhs=rhs,
        scale=rhs,
        option_row=graph.option_task,
        by_option=np.where(rhs[graph.option_task] > 0, taken, 0.0),
    )
