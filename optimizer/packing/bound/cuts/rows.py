"""Rows of the bound's linear programme beyond the goals' caps, and what their prices make of a path.

A row's balance sums what runs take less what ways give; for what a plan can do it is at most 0.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from optimizer.packing.bound.cuts.elapsed import Elapsed
from optimizer.packing.bound.cuts.focus_age import FocusAge
from optimizer.packing.bound.cuts.segments import Segments
from optimizer.packing.bound.cuts.stays import Stays
from optimizer.packing.bound.cuts.stretches import Stretches
from optimizer.packing.compiled import Floats

if TYPE_CHECKING:
    from optimizer.packing.bound.columns import ColumnRuns
    from optimizer.packing.bound.run_graph import RunGraph


def lasting_prices(tasks: int) -> int:
    """How many prices, the first ones, another night can use: by frame (night, stay), by second."""
    return 2 * tasks + 1


class Gains(NamedTuple):
    """What prices make of a path: [pairs] taken by a run, earned by a way to a slot and by a focus run."""

    pair_prices: Floats
    of_ways: Floats  # [slots + 1, slots], the last from home
    of_refocus: Floats  # [slots], by a focus run between two runs of a visit


class PathRows:
    """All rows of a night. Prices: of a frame of each task, then of each row."""

    def __init__(self, graph: RunGraph) -> None:
        """`sizes` [rows]: about the size of a balance, for scaling; 0 where a row says nothing."""
        self.graph, self.stays, self.age = graph, Stays(graph), FocusAge(graph)
        self.segments, self.stretches = Segments(graph), Stretches(graph, self.age)
        self.elapsed = Elapsed(graph)
        self.tasks = len(graph.problem.tasks)
        whole = np.ones(len(self.stretches.given))
        sizes = [self.stays.given, self.elapsed.given, self.age.given, self.segments.given, whole]
        self.splits = np.cumsum([self.tasks, *map(len, sizes[:-1])])
        self.sizes: Floats = np.concatenate(sizes)

    def gains(self, prices: Floats) -> Gains:
        """At prices [tasks + rows]."""
        graph = self.graph
        caps, stays, (second,), ages, pieces, stretches = np.split(prices, self.splits)
        frames = (caps + np.where(self.stays.given > 0, stays, 0.0))[graph.pair_task] * graph.pair_frames
        focused = stretches @ self.stretches.by_focus
        of_ways = self.stays.gains(stays) + ages * self.age.given + focused - second * self.elapsed.by_way
        once = pieces @ self.segments.given + stretches @ self.stretches.given
        of_ways[-1] += once + second * self.elapsed.given  # a night has it once
        return Gains(
            frames
            + ages[graph.pair_slot] * self.age.taken
            + pieces[graph.pair_task] * self.segments.taken
            + stretches @ self.stretches.taken
            + second * self.elapsed.taken,
            of_ways,
            ages * self.age.given_again + focused - second * self.elapsed.focus_s,
        )

    def units(self, profits: Floats, second: float) -> Floats:
        """What prices are measured in, [tasks + rows]; 0 where a cap or a row says nothing.

        By `worths` of frames [tasks], and by `second`, what one of the night brings.
        """
        seconds = np.full(1 + len(self.age.given), second)
        stretches = np.full(len(self.stretches.given), second * self.elapsed.focus_s)
        found = np.concatenate([profits, profits, seconds, profits, stretches])
        given = np.concatenate([self.graph.binding, self.sizes])
        return np.where(given > 0, found, 0.0)

    def balance(self, walk: ColumnRuns) -> Floats:
        """Of a path, [rows]."""
        rows = (self.stays, self.elapsed, self.age, self.segments, self.stretches)
        return np.concatenate([row.balance(walk) for row in rows])

    def frame_prices(self, prices: Floats) -> Floats:
        """What a frame of each task costs in all at prices [tasks + rows], by its share of a night's cap."""
        caps, stays, _, _, pieces, _ = np.split(prices, self.splits)
        wanted = np.array([max(1.0, float(task.frames_left)) for task in self.graph.problem.tasks])
        found: Floats = caps + stays + pieces * self.segments.given / wanted
        return found
