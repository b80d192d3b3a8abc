"""A grid for nights where the sky decides, which holds what runs are worth by blocks of some minutes.

By the tick of half a minute such a table takes 60 MB for thirty targets of five filters and a second to fill.
By blocks of five minutes it takes 6 MB, from which the other is spread out for each pricing and let go again.
The sky hardly changes within a block. As in `packing/bound/sky_profits.py`, no plan's run of as many frames
that ends within a block has more.
"""

from __future__ import annotations

import contextlib
import copy
from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from optimizer.packing.bound.columns import Column
from optimizer.packing.bound.sky_profits import rounded_up
from optimizer.packing.bound.tables import Reduction
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.problem.run_lengths import RunLengths
from optimizer.problem.tasks import Task
from optimizer.season.projects import Floats, Ints
from optimizer.sky.clock import SPAN_S

BLOCK_S = 300
_ROOM: list[NDArray[np.float32]] = []  # for the tables by ticks: one for each thread that prices
SKY_STEP_S = 30  # of a tick: 0.4 %, and tables of 60 MB for thirty targets of five filters
Places = tuple[Ints, Ints]  # of each frame of a run: seconds from its first opening, at least and at most
NOWHERE: Places = np.zeros(0, np.int64), np.zeros(0, np.int64)


class SkyBlockGrid(TimeExpandedGraph):
    """Solves the pricing problem as its like does, a little more generously; it keeps little between two."""

    def best_columns(self, most: int = 1, reduction: Reduction | None = None) -> list[Column]:
        """Find the best columns in a table by ticks, whose room the next grid takes over."""
        need, room = self.blocks.size * self._block, np.empty(0, dtype=np.float32)
        _ = self._moves  # made once, for all copies
        own = copy.copy(self)  # another thread may be pricing the same night
        with contextlib.suppress(IndexError):
            room = _ROOM.pop()
        if len(room) < need:
            room = np.empty(need, dtype=np.float32)
        own.profits_by_end = own._spread(room[:need])
        columns = super(SkyBlockGrid, own).best_columns(most, reduction)
        _ROOM.append(room)
        return columns

    @cached_property
    def profits_by_end(self) -> Floats:
        """Most profit of each run by the tick at which it ends, [options, ticks or some more]."""
        return self._spread(np.empty(self.blocks.size * self._block, dtype=np.float32))

    def _spread(self, room: NDArray[np.float32]) -> Floats:
        options, blocks = self.blocks.shape
        spread = room.reshape(options, blocks, self._block)
        spread[...] = self.blocks[:, :, None]
        return spread.reshape(options, -1)  # type: ignore[return-value]

    @cached_property
    def _tops(self) -> Floats:
        """Most profit of each run that ends in a block of the labelling, which is not one of these blocks."""
        ticks, own = self.blocks.shape[1] * self._block, self.grid.block
        starts = np.arange(0, ticks, own)
        firsts, lasts = starts // self._block, (np.minimum(starts + own, ticks) - 1) // self._block
        tops = self.blocks[:, firsts]
        for more in range(1, int((lasts - firsts).max()) + 1):
            np.maximum(tops, self.blocks[:, np.minimum(firsts + more, lasts)], out=tops)
        return np.ascontiguousarray(tops.T, dtype=np.float64)

    @property
    def _block(self) -> int:
        """Ticks of a block."""
        return max(1, BLOCK_S // self.step_s)

    @cached_property
    def blocks(self) -> NDArray[np.float32]:
        """What `blocks_of` has for the tasks of the grid's own problem."""
        return self.blocks_of(self.problem.tasks)

    def blocks_of(self, tasks: Sequence[Task]) -> NDArray[np.float32]:
        """Most profit of each run that ends within each block of ticks, [options, blocks].

        It is never rounded down, and 0 where the window lets no such run end. `tasks` are those of the
        problem, with what their subs count by the second.
        """
        graph, block = self.graph, self._block
        blocks = -(-self.ticks // block)
        profits = np.zeros((len(graph.option_s), blocks), dtype=np.float32)
        skies, places = dict[int, _Sky](), dict[int, Places]()
        for number, node in enumerate(graph.nodes):
            task, start = tasks[node.task.index], int(graph.option_starts[number])
            lengths = self.grid.option_ticks[start : start + len(node.lengths_s)]
            if task.index not in skies:
                skies[task.index] = _Sky(task, self.step_s)
            if len(places.get(task.index, NOWHERE)[0]) < len(lengths):
                places[task.index] = _places(self.problem.run_lengths, task, len(lengths))
            first, last = int(self.grid.opens[number]), int(self.grid.closes[number] - lengths[0])
            origin_s, sky = graph.zero_s + first * self.step_s, skies[task.index]
            early, late = (each[: len(lengths)].tolist() for each in places[task.index])
            by_begin = np.cumsum(
                [
                    sky.most(origin_s + soonest, latest - soonest, last - first + 1)
                    for soonest, latest in zip(early, late, strict=True)
                ],
                axis=0,
            )
            by_tick = np.zeros(blocks * block)
            for frame, ends in enumerate((first + lengths).tolist()):
                count = min(by_begin.shape[1], len(by_tick) - ends)
                by_tick[:] = 0.0
                by_tick[ends : ends + count] = by_begin[frame, :count]
                profits[start + frame] = rounded_up(by_tick.reshape(blocks, block).max(axis=1))
        return profits


class _Sky:
    """What a frame of one task is worth at most by the tick, and within some ticks from each one on."""

    def __init__(self, task: Task, step_s: int) -> None:
        assert task.profit_by_start is not None
        starts = np.arange(0, len(task.profit_by_start), step_s)
        by_tick = np.maximum.reduceat(task.profit_by_start, starts)
        self.step_s = step_s
        self._ahead = {1: np.append(by_tick, np.zeros(2 * SPAN_S // step_s))}  # by how many ticks

    def most(self, opens_s: int, later_s: int, ticks: int) -> Floats:
        """Of a frame that opens in a tick or so much later, for that tick and the next ones, [ticks]."""
        first = opens_s // self.step_s
        reach = (opens_s + later_s + self.step_s - 1) // self.step_s - first + 1
        for more in range(len(self._ahead) + 1, reach + 1):
            before = self._ahead[more - 1]
            self._ahead[more] = np.maximum(before, np.append(self._ahead[1][more - 1 :], np.zeros(more - 1)))
        return self._ahead[reach][first : first + ticks]


def _places(lengths: RunLengths, task: Task, most: int) -> Places:
    """Where the frames of runs of up to so many lie."""
    unbroken = 0 if lengths.rules.focus_every_s is None else lengths.first_segment_most(task)
    places = np.array([lengths.places_s(task, frame) for frame in range(most)])
    for frame in range(min(unbroken, most)):
        places[frame, 0] = lengths.unbroken_place_s(task, frame)
    return places[:, 0], places.max(axis=1)
