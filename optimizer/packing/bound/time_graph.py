"""A relaxation that bounds: the night as a longest path through time, goal caps priced instead of kept.

A path alternates between runs and the ways between them. Kept exactly: windows, work spans, run lengths with
dithers and focus runs inside (and what the sky makes of each frame), motions, acquisition, changes of filter,
forced focus runs. Left out (each only loosens the bound): how often a target may be visited, one run a visit
of goals beyond those remembered, the least visit, quiet time and the age of a carried focus run, but for what
the rows say of it (`path_rows`). Goal caps enter as prices per frame (Lagrangian relaxation; Geoffrion 1974,
Math. Programming Study 2), so that any prices give a valid bound.

Within a visit a path remembers which goals have had their run, up to `MOST_REMEMBERED` (graph). Without that
columns stay on one target all night, and the slews between targets cost them nothing: bounds of nights on
which about as much is wanted as fits were up to 12 % higher.

Time is a grid of `step_s` seconds: instants and durations are rounded down, each run and each way once, so
that every plan has a path on the grid. For the bound a run lasts until its slot can next be used or left: a
run and the change after it are then rounded down together, which loses half as much.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from optimizer.packing.bound.columns import Column, ColumnRuns
from optimizer.packing.bound.cuts.rows import Gains
from optimizer.packing.bound.labelling import Grid, Tables, fill_tables, trace_path
from optimizer.packing.bound.moves import Moves, alike, least_runs, moves_between
from optimizer.packing.bound.regridded import Pairs, move_path
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.sky_profits import profits_by_sky
from optimizer.packing.compiled import NEVER, Floats, Ints, widen_to_subsets

# What a pricing takes, fitted to 150 of them, in units of 1.4 ns: for each block of ticks those of a run
# beside a set of goals, of a way and of a row of the tables; for each tick those of a row and of a run where
# the sky decides.
WORK_OF_RUN, WORK_OF_WAY, WORK_OF_ROW = 6.3, 20.0, 16.0
WORK_OF_CELL, WORK_OF_SKY = 2.3, 0.35


class TimeExpandedGraph:
    """The grid of one night; `best_paths` prices it."""

    def __init__(self, graph: RunGraph, step_s: int, *, join_ways: bool = False) -> None:
        """Put a graph on a grid of `step_s` seconds, or of the shortest run if less.

        `join_ways`: what all ways from a slot take at least is counted into its runs.
        """
        self.graph, self.problem, self.entries = graph, graph.problem, graph.entries
        self.step_s = min([step_s, *(entry.lengths_s[0] for entry in self.entries)])
        if not self.entries:
            return
        joined_s = graph.least_ways_s if join_ways else np.zeros_like(graph.least_ways_s)  # of each slot
        of_entry_s = joined_s[graph.entry_slot]
        self.ticks = (graph.end_s + int(joined_s.max())) // self.step_s + 1
        self.no_way = self.ticks + 1
        self.pair_ticks: Ints = (graph.pair_s + joined_s[graph.pair_slot]) // self.step_s
        self._spare: list[Tables] = []  # of earlier pricings
        self._pairs = Pairs(graph.pair_entry, graph.pair_frames, graph.entry_slot, graph.entry_task)
        self.open_ticks = graph.open_s // self.step_s
        self.close_ticks = (graph.close_s + of_entry_s) // self.step_s
        self.arrive_ticks = graph.arrive_s // self.step_s
        ways = (graph.ways_s - joined_s[:, None]) // self.step_s
        self.ways = np.where(graph.ways_s < graph.no_way_s, ways, self.no_way)
        groups, firsts = alike(self.ways, graph.entry_slot)
        inside, within_s = graph.within_s < graph.no_way_s, graph.within_s - of_entry_s
        focus_s = self.problem.rules.focus_s
        self.within = np.where(inside, within_s // self.step_s, self.no_way)
        self.refocused = np.where(inside, (within_s + focus_s) // self.step_s, self.no_way)
        lags, laps = least_runs(graph, self.pair_ticks, self.within)
        block = int((lags[graph.entry_slot] + self.ways.min(axis=0)).min())
        self.grid = Grid(
            ticks=self.ticks,
            pair_ticks=self.pair_ticks,
            pair_starts=graph.pair_starts,
            slot_starts=graph.slot_starts,
            sets=graph.sets,
            done_starts=(np.cumsum(graph.sets) - graph.sets) * self.ticks,
            bits=graph.bits,
            opens=self.open_ticks,
            closes=self.close_ticks,
            arrives=self.arrive_ticks,
            ways=self.ways,
            way_groups=groups,
            group_entries=np.array(firsts),
            group_slots=graph.entry_slot[firsts],
            within=self.within,
            refocused=self.refocused,
            block=min(block, self.ticks),
            group_lags=lags[graph.entry_slot[firsts]],
            laps=laps,
        )

    @cached_property
    def moves(self) -> Moves:
        """Where runs lead to, in the tables."""
        return moves_between(self.graph, self.grid)

    @property
    def work(self) -> float:
        """What one pricing costs; not much more on a fine grid, where many ticks are filled at once."""
        if not self.entries:
            return 0.0
        graph = self.graph
        befores = np.where(graph.bits > 0, graph.entry_sets // 2, graph.entry_sets)
        runs = float((np.diff(graph.pair_starts) * befores).sum())
        ways = len(graph.slots) * len(self.grid.group_entries)
        at_once = WORK_OF_RUN * runs + WORK_OF_WAY * ways + WORK_OF_ROW * self._rows
        by_tick = WORK_OF_CELL * self._rows
        by_tick += WORK_OF_SKY * len(graph.pair_s) if self.problem.by_depth else 0.0
        return self.ticks * (at_once / self.grid.block + by_tick)

    @property
    def cells(self) -> int:
        """Numbers in the tables of one pricing, those of worths by the sky counted as half."""
        if not self.entries:
            return 0
        pairs = len(self.graph.pair_s) // 2 if self.problem.by_depth else 0
        return self.ticks * (self._rows + pairs)

    @property
    def _rows(self) -> int:
        return int(self.graph.sets.sum()) + len(self.grid.group_entries)

    def profit_ending(self, pairs: Ints, ticks: Ints) -> float:
        """Most worth of runs that end at these ticks, in all."""
        profits = self.profits_by_end[pairs, ticks if self.problem.by_depth else 0]
        return float(profits.sum(dtype=np.float64))

    @cached_property
    def profits_by_end(self) -> Floats:
        """Most worth of each run by the tick at which it ends, [pairs, ticks] (or [pairs, 1]: at any time).

        Made when it is asked for: many grids never are priced."""
        if self.problem.by_depth:
            return profits_by_sky(self)  # type: ignore[return-value]
        profits = np.array([float(entry.task.profit) for entry in self.entries])
        flat: Floats = profits[self.graph.pair_entry] * self.graph.pair_frames
        return flat[:, None]

    @cached_property
    def profits(self) -> Floats:
        """The same as numbers of full length."""
        found: Floats = np.ascontiguousarray(self.profits_by_end, dtype=np.float64)
        return found

    @cached_property
    def tops(self) -> Floats:
        """Most worth of each run that ends in a block, [blocks, pairs], or [1, pairs]: at any time."""
        starts = np.arange(0, self.profits_by_end.shape[1], self.grid.block)
        mosts = np.maximum.reduceat(self.profits_by_end, starts, axis=1).T
        found: Floats = np.ascontiguousarray(mosts, dtype=np.float64)
        return found

    @cached_property
    def most_profits(self) -> Floats:
        """Most worth of each run at any time, [pairs]."""
        found: Floats = self.profits.max(axis=1)
        return found

    @cached_property
    def fitting(self) -> Ints:
        """Most frames of each task that fit in before each tick, [tasks, ticks]."""
        ticks = np.arange(self.ticks + 1)
        found = np.zeros((len(self.problem.tasks), self.ticks + 1), dtype=np.int64)
        for number, entry in enumerate(self.entries):
            lengths = np.array(entry.lengths_s) // self.step_s
            inside = np.minimum(ticks, self.close_ticks[number]) - self.open_ticks[number]
            found[entry.task.index] += np.searchsorted(lengths, inside, side="right")
        return found

    def best_paths(self, prices: Floats, most: int) -> list[Column]:
        """The path of most priced worth, then the best ones of those that end in another slot.

        `prices` per frame of each task; where they go on, per unit of each row (`path_rows`).
        """
        tables, gains = self._tables(prices)
        last = tables.free[self.ticks - 1 :: self.ticks]
        ends = [int(slot) for slot in np.argsort(-last, kind="stable")[:most]]
        ends = ends[:1] + [end for end in ends[1:] if last[end] > 0]
        paths = [self._trace(slot, tables, gains) for slot in ends]
        self._spare.append(tables)
        return paths

    def moved(self, path: Column) -> Column:
        """A path of another grid put on this one: each run as early as may be, cut short where it must be.

        Its `value` stays what it was.
        """
        into = np.empty((len(path.runs.pairs), 4), dtype=np.int64)
        count = move_path(self.grid, self._pairs, path.runs, into)
        return self._told(path.value, into[:count])

    def ready_beside(self, prices: Floats) -> Floats:
        """Most priced worth before a run begins, [ready_starts[entry] + set, ticks].

        For runs whose visit goes on with the goals of the set: the night before must not have used them.
        """
        graph, grid, (tables, gains) = self.graph, self.grid, self._tables(prices)
        ready = np.full((int(graph.entry_sets.sum()), self.ticks), NEVER)
        for entry, (slot, bit) in enumerate(zip(graph.entry_slot.tolist(), graph.bits.tolist(), strict=True)):
            sets, first = np.arange(graph.sets[slot]), int(grid.done_starts[slot])
            done = tables.done[first : first + len(sets) * self.ticks].reshape(-1, self.ticks)
            befores = sets[(sets & bit) == 0]
            rows = graph.ready_starts[entry] + befores
            refocus, opens = float(gains.of_refocus[slot]), int(self.open_ticks[entry])
            ways = [(int(self.within[entry]), 0.0), (int(self.refocused[entry]), refocus)]
            for way, gain in ways if refocus > 0.0 else ways[:1]:
                first = max(opens, way)
                if first < self.ticks:
                    came = done[befores, first - way : self.ticks - way] + gain
                    ready[rows, first:] = np.maximum(ready[rows, first:], came)
            first, start = int(self.arrive_ticks[entry]), int(grid.way_groups[entry]) * self.ticks
            arrived = tables.arrived[start + first : start + self.ticks]
            ready[rows[0], first:] = np.maximum(ready[rows[0], first:], arrived)
        self._spare.append(tables)
        widen_to_subsets(ready, graph.ready_starts, graph.entry_sets)
        return ready

    def _tables(self, prices: Floats) -> tuple[Tables, Gains]:
        rows = self.graph.rows
        padded = np.zeros(rows.tasks + len(rows.sizes))
        padded[: len(prices)] = prices
        gains = rows.gains(padded)
        tables = self._spare.pop() if self._spare else self._new_tables()
        fill_tables(self.grid, self.moves, tables, self.profits_by_end, self.tops, gains)
        return tables, gains

    def _new_tables(self) -> Tables:
        rows = int(self.graph.sets.sum()), len(self.graph.slots), len(self.grid.group_entries)
        first, second, last = np.cumsum(rows) * self.ticks
        cells: Floats = np.empty(last)
        return Tables(cells, cells[:first], cells[first:second], cells[second:])

    def _trace(self, slot: int, tables: Tables, gains: Gains) -> Column:
        """The way back from the best end in a slot."""
        value = float(tables.free[(slot + 1) * self.ticks - 1])
        most_runs = self.ticks // int(self.pair_ticks.min()) + 1 if value > 0 else 0
        into, count = np.empty((most_runs, 4), dtype=np.int64), 0
        if value > 0:
            count = trace_path(self.grid, tables, self.profits_by_end, gains, slot, _slack(value), into)
        return self._told(max(0.0, value), into[:count][::-1])

    def _told(self, value: float, found: Ints) -> Column:
        """A path from the numbers of its runs, [runs, 4]: pair, first tick, arrives, refocused."""
        pairs, begins = found[:, 0].copy(), found[:, 1]
        profit = self.profit_ending(pairs, begins + self.pair_ticks[pairs])
        slots = self.graph.pair_slot[pairs]
        before = np.concatenate([[-1], slots])[:-1]
        walk = ColumnRuns(pairs, slots, before, found[:, 2] > 0, found[:, 3] > 0)
        return Column(value, profit, self.graph, walk, self.graph.zero_s + begins * self.step_s)


def _slack(profit: float) -> float:
    """Rounding of sums of a few dozen numbers of this size."""
    return 1e-9 * max(1.0, abs(profit))
