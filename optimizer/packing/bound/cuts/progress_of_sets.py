"""What each goal of a filter set lacks of the set's progress, one row for each: relaxed as the caps are.

Of a goal that wants W and has h in hand, W y - P - d <= h holds for the profit P of its frames, the set's y
and what the goal lacks, d. In the restricted master y and d are variables beside the columns; in the pricing
problem the row's dual, the price of progress, is what a unit of the goal's profit counts beyond its plain
part (`progress`). Runs count in these rows by what their frames bring, which may depend on the time.
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.bound.columns import ColumnRuns
from optimizer.packing.bound.cuts.cut import Cut
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.tables import Reduction
from optimizer.packing.compiled import Floats


class ProgressOfSets(Cut):
    """Profit of a goal's frames, below 0, <= what is in hand, but for y and d; a row for each task."""

    def __init__(self, graph: RunGraph) -> None:
        """Make the rows of a graph, none where it has no filter sets; rows of goals outside say nothing."""
        progress = graph.progress
        rows = len(progress.in_set) if progress.in_set.any() else 0
        super().__init__(
            graph,
            rhs=progress.in_hand[:rows],
            scale=progress.wanted[:rows],
            option_row=graph.option_task,
            by_option=np.zeros(len(graph.option_s)),
        )
        self.start, self.most = progress.even[:rows], progress.most[:rows]
        self._option_task, self._progress = graph.option_task, progress

    def gathered(self, runs: ColumnRuns) -> Floats:
        """Profit of a column's runs by task, [rows]."""
        gathered: Floats = np.zeros(len(self.rhs))
        np.add.at(gathered, self._option_task[runs.options], runs.profits)
        return gathered

    def coefficients(self, runs: ColumnRuns) -> Floats:
        """What the runs of a column take of each row, [rows]."""
        return np.where(self.scale > 0, -self.gathered(runs), 0.0)

    def slope(self, duals: Floats, runs: ColumnRuns) -> Floats:
        """How a bound changes with each dual, where this is its best column, [rows]."""
        return self._progress.slope(duals, self.gathered(runs))

    def reduction(self, duals: Floats) -> Reduction:
        """By how much duals [rows] change the profits of a column's parts; the constant is as in a cut."""
        prices = np.clip(duals, 0.0, self.most)
        nothing = super().reduction(np.zeros(len(duals)))
        nothing.arc_gains[-1] += self._progress.given(prices)
        return nothing._replace(option_shares=(self._progress.plain + prices)[self._option_task])

    def units(self, second: float) -> Floats:
        """What a unit of each row is about worth, [rows]: of profit, as much as counts for progress."""
        return self.start
