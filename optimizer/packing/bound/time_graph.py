"""The time-expanded graph: a relaxation of the night as a longest path through time.

A path alternates between runs and the arcs between them. Kept exactly: windows, work spans, run lengths with
dithers and focus runs inside (and what the sky makes of each frame), motions, acquisition, forced focus runs,
changes of filter. Left out (each only loosens the bound): the change to a goal whose filter another goal of
the target shares, how often a target may be visited, one run a visit of goals beyond those remembered, the
least visit, quiet time and the age of a carried focus run, but for what the cuts say of it. Caps of goals
enter by their duals (Lagrangian relaxation; see README.md), so that any duals give a valid bound.

Within a visit a path remembers which goals have had their run, the most profitable ones of a slot. Without
that, columns stay on one target all night, and the slews between targets cost them nothing: bounds of nights
on which about as much is wanted as fits were up to 12 % higher.

Time is a grid of `step_s` seconds: instants and durations are rounded down, each run and each arc once, so
that every plan has a path on the grid. For the bound a run lasts until its slot can next be used or left: a
run and the change after it are then rounded down together, which loses half as much.
"""

from __future__ import annotations

import contextlib
from functools import cached_property

import numpy as np

from optimizer.packing.bound.columns import Column, ColumnRuns
from optimizer.packing.bound.labelling import fill_tables, trace_column
from optimizer.packing.bound.moves import arc_groups, least_runs, moves_between
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.sky_profits import profits_by_sky
from optimizer.packing.bound.tables import Grid, Moves, Reduction, Tables
from optimizer.packing.compiled import Floats, Ints

# What one labelling takes, fitted to 150 of them, in units of 1.4 ns: for each block of ticks those of a run
# beside a set of goals, of an arc and of a row of the tables; for each tick those of a row and of a run where
# the sky decides.
WORK_OF_RUN, WORK_OF_ARC, WORK_OF_ROW = 6.3, 20.0, 16.0
WORK_OF_CELL, WORK_OF_SKY = 2.3, 0.35


class TimeExpandedGraph:
    """The graph of one night on one grid; `best_columns` solves its pricing problem."""

    def __init__(
        self, graph: RunGraph, step_s: int, *, join_arcs: bool = False, spare: list[Floats] | None = None
    ) -> None:
        """Put a graph on a grid of `step_s` seconds, or of the shortest run if less.

        With `join_arcs`, what all arcs from a slot take at least is counted into its runs. Grids that are
        given one list `spare` share the room for their tables, which is most of what a grid takes.
        """
        self.graph, self.problem, self.nodes = graph, graph.problem, graph.nodes
        self.step_s = min([step_s, *(node.lengths_s[0] for node in self.nodes)])
        if not self.nodes:
            return
        joined_s = graph.least_arcs_s if join_arcs else np.zeros_like(graph.least_arcs_s)  # [slots]
        of_node_s = joined_s[graph.node_slot]
        self.ticks = (graph.end_s + int(joined_s.max())) // self.step_s + 1
        no_arc = self.ticks + 1
        self._spare: list[Floats] = [] if spare is None else spare  # the cells of earlier labellings
        arcs = (graph.arcs_s - joined_s[:, None]) // self.step_s
        arcs = np.where(graph.arcs_s < graph.no_arc_s, arcs, no_arc)
        groups, firsts = arc_groups(arcs, graph.node_slot)
        inside, within_s = graph.within_s < graph.no_arc_s, graph.within_s - of_node_s
        within = np.where(inside, within_s // self.step_s, no_arc)
        refocused = (within_s + self.problem.rules.focus_s) // self.step_s
        option_ticks: Ints = (graph.option_s + joined_s[graph.option_slot]) // self.step_s
        lags, laps = least_runs(graph, option_ticks, within)
        block = int((lags[graph.node_slot] + arcs.min(axis=0)).min())
        self.grid = Grid(
            ticks=self.ticks,
            option_ticks=option_ticks,
            option_starts=graph.option_starts,
            slot_starts=graph.slot_starts,
            sets=graph.sets,
            done_starts=(np.cumsum(graph.sets) - graph.sets) * self.ticks,
            bits=graph.bits,
            opens=graph.open_s // self.step_s,
            closes=(graph.close_s + of_node_s) // self.step_s,
            arrives=graph.arrive_s // self.step_s,
            arcs=arcs,
            arc_groups=groups,
            group_nodes=firsts,
            group_slots=graph.node_slot[firsts],
            within=within,
            refocused=np.where(inside, refocused, no_arc),
            block=min(block, self.ticks),
            group_lags=lags[graph.node_slot[firsts]],
            laps=laps,
        )

    @property
    def work(self) -> float:
        """Work of one labelling; not much more on a fine grid, where many ticks are filled at once."""
        if not self.nodes:
            return 0.0
        graph = self.graph
        sets = graph.sets[graph.node_slot]
        runs = float((np.diff(graph.option_starts) * np.where(graph.bits > 0, sets // 2, sets)).sum())
        arcs = len(graph.slots) * len(self.grid.group_nodes)
        at_once = WORK_OF_RUN * runs + WORK_OF_ARC * arcs + WORK_OF_ROW * self._rows
        by_tick = WORK_OF_CELL * self._rows
        by_tick += WORK_OF_SKY * len(graph.option_s) if self.problem.by_time else 0.0
        return self.ticks * (at_once / self.grid.block + by_tick)

    @property
    def cells(self) -> int:
        """Numbers in the tables of one labelling, those of profits by the sky counted as half."""
        if not self.nodes:
            return 0
        options = len(self.graph.option_s) // 2 if self.problem.by_time else 0
        return self.ticks * (self._rows + options)

    @property
    def _rows(self) -> int:
        return int(self.graph.sets.sum()) + len(self.grid.group_nodes)

    def profit_ending(self, options: Ints, ticks: Ints) -> Floats:
        """Most profit of each of the runs that end at these ticks, [runs]."""
        profits: Floats = self.profits_by_end[options, ticks if self.problem.by_time else 0]
        return profits.astype(np.float64)

    @cached_property
    def profits_by_end(self) -> Floats:
        """Most profit of each run by the tick at which it ends, [options, ticks] (or [options, 1]: always).

        They are made when they are asked for: many grids never are.
        """
        graph = self.graph
        if self.problem.by_time:
            ticks = self.grid.option_ticks
            return profits_by_sky(graph, self.step_s, ticks, self.ticks)  # type: ignore[return-value]
        profits = np.array([float(node.task.profit) for node in self.nodes])
        flat: Floats = profits[graph.option_node] * graph.option_frames
        return flat[:, None]

    @cached_property
    def profits(self) -> Floats:
        """The same as numbers of full length."""
        return np.ascontiguousarray(self.profits_by_end, dtype=np.float64)

    @cached_property
    def _tops(self) -> Floats:
        """Most profit of each run that ends in a block, [blocks, options], or [1, options]: at any time."""
        starts = np.arange(0, self.profits_by_end.shape[1], self.grid.block)
        mosts = np.maximum.reduceat(self.profits_by_end, starts, axis=1).T
        return np.ascontiguousarray(mosts, dtype=np.float64)

    @cached_property
    def _moves(self) -> Moves:
        return moves_between(self.graph, self.grid)

    def best_columns(self, most: int, reduction: Reduction | None = None) -> list[Column]:
        """The column of most reduced profit, then the best ones of those that end in another slot.

        Without a reduction profits count as they are, as if there were no filter sets.
        """
        reduction = self._no_reduction() if reduction is None else reduction
        cells = self._cells()
        tables = self._tables_in(cells)
        fill_tables(self.grid, self._moves, tables, self.profits_by_end, self._tops, reduction)
        last = tables.free[self.ticks - 1 :: self.ticks]
        ends = [int(slot) for slot in np.argsort(-last, kind="stable")[:most]]
        ends = ends[:1] + [end for end in ends[1:] if last[end] > 0]
        columns = [self._trace(slot, tables, reduction) for slot in ends]
        self._spare.append(cells)
        return columns

    def regridded(self, column: Column) -> Column:
        """A column of another grid put on this one: each run as early as may be, cut short where it must be.

        Its `value` stays what it was.
        """
        grid, graph, rows = self.grid, self.graph, list[tuple[int, int, int, int]]()
        free, slot, done = 0, -1, set[int]()
        runs = column.runs
        for option, arrival, refocus in zip(runs.options.tolist(), runs.arrives, runs.refocused, strict=True):
            number = int(graph.option_node[option])
            node = self.nodes[number]
            if arrives := bool(arrival) or node.slot != slot or node.task.index in done:
                begin = max(free + int(grid.arcs[slot, number]) if rows else 0, int(grid.arrives[number]))
                done.clear()
            else:
                lag = grid.refocused[number] if refocus else grid.within[number]
                begin = max(free + int(lag), int(grid.opens[number]))
            first, room = int(grid.option_starts[number]), int(grid.closes[number]) - begin
            longest = first + int(graph.option_frames[option])
            fits = int(np.searchsorted(grid.option_ticks[first:longest], room, side="right"))
            if not fits:
                continue
            rows.append((first + fits - 1, begin, int(arrives), int(refocus and not arrives)))
            free, slot = begin + int(grid.option_ticks[first + fits - 1]), node.slot
            done.add(node.task.index)
        return self._column(column.value, np.array(rows, dtype=np.int64).reshape(-1, 4))

    def _no_reduction(self) -> Reduction:
        slots, options = len(self.graph.slots), len(self.graph.option_s)
        return Reduction(
            option_shares=np.ones(options),
            option_costs=np.zeros(options),
            arc_gains=np.zeros((slots + 1, slots)),
            refocus_gains=np.zeros(slots),
        )

    def _cells(self) -> Floats:
        """Room for the tables of one labelling, nobody else's meanwhile; its numbers mean nothing."""
        cells = np.empty(0)
        with contextlib.suppress(IndexError):  # another thread may have taken the last
            cells = self._spare.pop()
        need = (self._rows + len(self.graph.slots)) * self.ticks
        return cells if len(cells) >= need else np.empty(need)

    def _tables_in(self, cells: Floats) -> Tables:
        rows = int(self.graph.sets.sum()), len(self.graph.slots), len(self.grid.group_nodes)
        first, second, last = np.cumsum(rows) * self.ticks
        return Tables(cells[:last], cells[:first], cells[first:second], cells[second:last])

    def _trace(self, slot: int, tables: Tables, reduction: Reduction) -> Column:
        """The best column that ends in a slot; without a run where that is worth nothing."""
        value = float(tables.free[(slot + 1) * self.ticks - 1])
        most_runs = self.ticks // int(self.grid.option_ticks.min()) + 1 if value > 0 else 0
        rows, count = np.empty((most_runs, 4), dtype=np.int64), 0
        if value > 0:
            slack = 1e-9 * max(1.0, value)  # sums of a few dozen numbers of this size are rounded
            count = trace_column(self.grid, tables, self.profits_by_end, reduction, slot, slack, rows)
        return self._column(max(0.0, value), rows[:count][::-1])

    def _column(self, value: float, rows: Ints) -> Column:
        """A column from the numbers of its runs, [runs, 4]: option, first tick, arrives, refocused."""
        options, begins = rows[:, 0].copy(), rows[:, 1]
        profits = self.profit_ending(options, begins + self.grid.option_ticks[options])
        profit = float((self.graph.option_shares[options] * profits).sum())
        slots = self.graph.option_slot[options]
        before = np.concatenate([[-1], slots])[:-1]
        runs = ColumnRuns(options, slots, before, rows[:, 2] > 0, rows[:, 3] > 0, profits)
        return Column(value, profit, self.graph, runs, self.graph.zero_s + begins * self.step_s)
