"""What runs bring where the sky decides, by when they end: as a plan lays them, not the most possible.

The bound takes for each frame the best of the seconds at which any plan may open its shutter; a search that
believed it would see runs where no plan can have them, again and again.
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.compiled import Floats, Ints


def profits_as_laid(graph: RunGraph, step_s: int, ticks: int) -> Floats:
    """Profit of each run by the tick of `step_s` seconds in which it ends, [options, ticks].

    Each run follows a fresh focus run and is cut into segments as plans are; it counts what it brings if it
    begins in the middle of a tick.
    """
    profits: Floats = np.zeros((len(graph.option_node), ticks))
    begins = graph.zero_s + step_s // 2 + step_s * np.arange(ticks)
    for number, node in enumerate(graph.nodes):
        task, start = node.task, int(graph.option_starts[number])
        by_start, total = task.profit_by_start, np.zeros(ticks)
        assert by_start is not None
        lengths_s: Ints = graph.problem.run_lengths.runs_s(task, len(node.lengths_s))[0]
        for frame, length_s in enumerate(lengths_s.tolist()):
            total += by_start[np.minimum(begins + length_s - task.shutter_s, len(by_start) - 1)]
            lasts = (length_s + task.tail_s + step_s // 2) // step_s
            if lasts >= ticks:  # cut by focus runs it is longer than the night, as longer ones are
                break
            profits[start + frame, lasts:] = total[: ticks - lasts]
    return profits
