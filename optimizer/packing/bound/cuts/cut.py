"""What a cut is: rows of the restricted master that every plan keeps, and a mixture of columns may not."""

from __future__ import annotations

import numpy as np

from optimizer.packing.bound.columns import ColumnRuns
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.tables import Reduction
from optimizer.packing.compiled import Floats, Ints


class Cut:
    """Rows of one kind: for whatever a plan does, `coefficients(runs) <= rhs`, [rows].

    All of it is linear in what a column does, so that duals of the rows turn into profits of its parts: runs
    count by their option, arrivals by slot (times a factor of their arc), focus runs inside visits by slot.
    """

    def __init__(
        self,
        graph: RunGraph,
        rhs: Floats,
        scale: Floats,
        *,
        option_row: Ints,
        by_option: Floats,
        by_arrival: Floats | None = None,
        by_arc: Floats | None = None,
        by_refocus: Floats | None = None,
        unit_s: float | None = None,
    ) -> None:
        """Hold the coefficients of a graph's rows.

        `scale` [rows] is about the size of a row's numbers, and 0 where a row says nothing. `option_row` and
        `by_option` [options] are the row in which a run counts and how much; `by_arrival` and `by_refocus`
        [rows, slots] are 0 where they are not given, `by_arc` [slots + 1, slots] (the last from home) is 1.
        A unit of a row is one frame of the row's task, or so many seconds (`unit_s`) of the night. Duals are
        at least 0 and at most `most` [rows]; those that say nothing are `start` [rows].
        """
        slots = len(graph.slots)
        self.rhs, self.scale, self.option_row, self.by_option = rhs, scale, option_row, by_option
        self.by_arrival = np.zeros((len(rhs), slots)) if by_arrival is None else by_arrival
        self.by_refocus = np.zeros((len(rhs), slots)) if by_refocus is None else by_refocus
        self.by_arc = np.ones((slots + 1, slots)) if by_arc is None else by_arc
        self.start, self.most = np.zeros(len(rhs)), np.full(len(rhs), np.inf)
        self._tasks, self._unit_s = graph.problem.tasks, unit_s

    def coefficients(self, runs: ColumnRuns) -> Floats:
        """What the runs of a column take of each row, [rows]."""
        arrivals = runs.arrives * self.by_arc[runs.before, runs.slots]
        by_runs = np.bincount(self.option_row[runs.options], self.by_option[runs.options], len(self.rhs))
        by_focus = self.by_refocus[:, runs.slots] @ runs.refocused
        return np.asarray(by_runs + self.by_arrival[:, runs.slots] @ arrivals + by_focus)

    def reduction(self, duals: Floats) -> Reduction:
        """By how much duals [rows] change the profits of a column's parts.

        Each run, arrival and focus run pays its coefficients times their duals, and earns where that is below
        0. The constant, duals times `rhs`, is added to the arcs from home, of which every column takes one.
        """
        gains = -(duals @ self.by_arrival) * self.by_arc
        gains[-1] += duals @ self.rhs
        return Reduction(
            option_shares=np.ones(len(self.by_option)),
            option_costs=duals[self.option_row] * self.by_option,
            arc_gains=gains,
            refocus_gains=-(duals @ self.by_refocus),
        )

    def units(self, second: float) -> Floats:
        """What a unit of each row is about worth, [rows], where a second of the night brings `second`."""
        if self._unit_s is not None:
            return np.where(self.scale > 0, self._unit_s * second, 0.0)
        return np.where(self.scale > 0, np.array([float(task.profit) for task in self._tasks]), 0.0)
