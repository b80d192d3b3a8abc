"""Columns: paths through the time-expanded graph, of which the bound mixes and searches draw plans."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.compiled import Bools, Floats, Ints
from optimizer.packing.plan import Plan, draft


class ColumnRuns(NamedTuple):
    """The runs of a column in the order of time, as arrays [runs]."""

    options: Ints
    slots: Ints
    before: Ints  # the slot that was left for each run, -1 from home
    arrives: Bools  # the run is the first of its visit
    refocused: Bools  # a focus run lies before it, inside a visit
    profits: Floats  # what its frames bring, whatever counts of that


@dataclass(frozen=True, eq=False)
class Column:
    """A path as labelling finds it: there are thousands of them, and few become plans.

    `value` is its reduced profit with what the night gives at the same duals, `profit` is its own, in which
    frames of filter sets count with their part of plain sums; `begins_s` [runs] holds the earliest second at
    which each run may begin.
    """

    value: float
    profit: float
    graph: RunGraph
    runs: ColumnRuns
    begins_s: Ints

    def draft(self) -> Plan:
        """The column's runs as a plan that need not keep every rule yet."""
        graph, options = self.graph, self.runs.options
        nodes = [graph.nodes[number] for number in graph.option_node[options].tolist()]
        frames, begins_s = graph.option_frames[options].tolist(), self.begins_s.tolist()
        return draft(
            (
                (graph.slots[node.slot].index, node.task.index, node.window, count, begin_s)
                for node, count, begin_s in zip(nodes, frames, begins_s, strict=True)
            ),
            graph.problem,
        )
