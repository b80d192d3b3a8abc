"""Paths through the night: what searches draw plans from, and columns of the bound's linear programme."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from optimizer.packing.compiled import Bools, Floats, Ints
from optimizer.packing.plan import Plan, draft

if TYPE_CHECKING:
    from optimizer.packing.bound.run_graph import RunGraph


class ColumnRuns(NamedTuple):
    """The runs of a path in order, as arrays [runs]."""

    pairs: Ints
    slots: Ints
    before: Ints  # the slot that was left for each, -1 from home
    arrives: Bools
    refocused: Bools  # a focus run lies before it, inside a visit


@dataclass(frozen=True, eq=False)
class Column:
    """A path as a pricing finds it: thousands are columns, and few are asked for their runs.

    `begins_s` [runs]: the earliest second at which each may begin.
    """

    value: float
    profit: float
    graph: RunGraph
    runs: ColumnRuns
    begins_s: Ints

    def frames(self) -> Floats:
        """Of each task, [tasks]."""
        graph, pairs = self.graph, self.runs.pairs
        tasks, frames = graph.pair_task[pairs], graph.pair_frames[pairs]
        return np.bincount(tasks, frames, len(graph.problem.tasks)).astype(np.float64)

    def draft(self) -> Plan:
        """The column's runs as a plan that need not keep every rule yet."""
        graph, runs = self.graph, self.runs
        numbers = zip(
            runs.slots.tolist(),
            graph.pair_entry[runs.pairs].tolist(),
            graph.pair_frames[runs.pairs].tolist(),
            self.begins_s.tolist(),
            strict=True,
        )
        return draft(
            (
                (graph.slots[slot].index, graph.entries[entry].task.index, graph.entries[entry].span, *rest)
                for slot, entry, *rest in numbers
            ),
            graph.problem,
        )
