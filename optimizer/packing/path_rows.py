"""Rows of the bound's linear programme beyond the goals' caps, and what their prices make of a path.

A row's balance sums what runs take less what ways give; for what a plan can do it is at most 0.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from optimizer.packing.compiled import Floats
from optimizer.packing.focus_age import FocusAge
from optimizer.packing.stays import Stays

if TYPE_CHECKING:
    from optimizer.packing.graph import NightGraph
    from optimizer.packing.relaxation import PathRun


class Gains(NamedTuple):
    """What prices make of a path: [pairs] taken by a run, earned by a way to a slot and by a focus run."""

    pair_prices: Floats
    of_ways: Floats  # [slots + 1, slots], the last from home
    of_refocus: Floats  # [slots], by a focus run between two runs of a visit


class PathRows:
    """All rows of a night. Prices: of a frame of each task, then of each row."""

    def __init__(self, graph: NightGraph) -> None:
        """`sizes` [rows]: about the size of a balance, for scaling; 0 where a row says nothing."""
        self.graph, self.stays, self.age = graph, Stays(graph), FocusAge(graph)
        self.tasks = len(graph.problem.tasks)
        self.sizes: Floats = np.concatenate([self.stays.given, self.age.given])

    def gains(self, prices: Floats) -> Gains:
        """At prices [tasks + rows]."""
        graph = self.graph
        caps, stays, ages = np.split(prices, [self.tasks, 2 * self.tasks])
        frames = (caps + np.where(self.stays.given > 0, stays, 0.0))[graph.pair_task] * graph.pair_frames
        return Gains(
            frames + ages[graph.pair_slot] * self.age.taken,
            self.stays.gains(stays) + ages * self.age.given,
            ages * self.age.given_again,
        )

    def balance(self, runs: tuple[PathRun, ...]) -> Floats:
        """Of a path, [rows]."""
        return np.concatenate([self.stays.balance(runs), self.age.balance(runs)])
