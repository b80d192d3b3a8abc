"""Paths through the night: what searches draw plans from, and columns of the bound's linear programme."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from optimizer.packing.compiled import Bools, Floats, Ints

if TYPE_CHECKING:
    from optimizer.packing.graph import NightGraph


class PathRun(NamedTuple):
    """A run on a path: slot, task, frames and the earliest second at which its first shutter may open.

    Whether it begins a visit, or follows a focus run inside one, where the path says so.
    """

    slot: int
    task: int
    span: int
    frames: int
    begins: int
    arrives: bool = False
    refocused: bool = False


@dataclass(frozen=True)
class Path:
    """The runs of a night in order; `value` is its priced worth, `worth` what it is without prices."""

    value: float
    worth: float
    runs: tuple[PathRun, ...]


class Walk(NamedTuple):
    """The runs of a path in order, as arrays [runs]."""

    pairs: Ints
    slots: Ints
    before: Ints  # the slot that was left for each, -1 from home
    arrives: Bools
    refocused: Bools  # a focus run lies before it, inside a visit


@dataclass(frozen=True, eq=False)
class GridPath:
    """A path as a pricing finds it: thousands are columns, and few are asked for their runs.

    `begins_s` [runs]: the earliest second at which each may begin.
    """

    value: float
    worth: float
    graph: NightGraph
    walk: Walk
    begins_s: Ints

    def frames(self) -> Floats:
        """Of each task, [tasks]."""
        graph, pairs = self.graph, self.walk.pairs
        tasks, frames = graph.pair_task[pairs], graph.pair_frames[pairs]
        return np.bincount(tasks, frames, len(graph.problem.tasks)).astype(np.float64)

    @cached_property
    def runs(self) -> tuple[PathRun, ...]:
        """As those of any other path."""
        graph, walk = self.graph, self.walk
        numbers = zip(
            walk.slots.tolist(),
            graph.pair_entry[walk.pairs].tolist(),
            graph.pair_frames[walk.pairs].tolist(),
            self.begins_s.tolist(),
            walk.arrives.tolist(),
            walk.refocused.tolist(),
            strict=True,
        )
        return tuple(
            PathRun(
                graph.slots[slot].index,
                graph.entries[entry].task.index,
                graph.entries[entry].span,
                *rest,
            )
            for slot, entry, *rest in numbers
        )
