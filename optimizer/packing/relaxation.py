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

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optimizer.packing.compiled import NEVER, Floats, Ints, widen_to_subsets
from optimizer.packing.graph import NightGraph
from optimizer.packing.path_rows import Gains
from optimizer.packing.pricing_loops import Grid, Tables, fill_tables, trace_path
from optimizer.packing.sky_worth import worths_by_sky

# Of a pricing, measured: beside a way's turn at a tick that of a run and a set, of a run that the sky decides
# on, and a cell of the tables.
WORK_OF_RUN, WORK_OF_SKY, WORK_OF_CELL = 0.38, 1.4, 1.25


@dataclass(frozen=True)
class PathRun:
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
    """The best path for some prices; `value` is its priced worth, `worth` what it is without them."""

    value: float
    worth: float
    runs: tuple[PathRun, ...]


class Relaxation:
    """The grid of one night; `best_paths` prices it."""

    def __init__(self, graph: NightGraph, step_s: int, *, join_ways: bool = False) -> None:
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
        self.open_ticks = graph.open_s // self.step_s
        self.close_ticks = (graph.close_s + of_entry_s) // self.step_s
        self.arrive_ticks = graph.arrive_s // self.step_s
        ways = (graph.ways_s - joined_s[:, None]) // self.step_s
        self.ways = np.where(graph.ways_s < graph.no_way_s, ways, self.no_way)
        self.way_groups = _first_alike(self.ways, graph.entry_slot)
        inside, within_s = graph.within_s < graph.no_way_s, graph.within_s - of_entry_s
        focus_s = self.problem.lengths.focus
        self.within = np.where(inside, within_s // self.step_s, self.no_way)
        self.refocused = np.where(inside, (within_s + focus_s) // self.step_s, self.no_way)
        self.grid = Grid(
            ticks=self.ticks,
            pair_ticks=self.pair_ticks,
            pair_starts=graph.pair_starts,
            slot_starts=graph.slot_starts,
            sets=graph.sets,
            bits=graph.bits,
            befores=graph.befores,
            widths=graph.widths,
            done_starts=_starts(graph.sets * self.ticks),
            ready_starts=_starts(graph.widths * self.ticks),
            opens=self.open_ticks,
            closes=self.close_ticks,
            arrives=self.arrive_ticks,
            ways=self.ways,
            way_groups=self.way_groups,
            within=self.within,
            refocused=self.refocused,
        )

    @property
    def work(self) -> float:
        """What one pricing costs: ticks x (runs with each set of goals before them + ways + tables)."""
        if not self.entries:
            return 0.0
        graph = self.graph
        runs = float((np.diff(graph.pair_starts) * graph.widths).sum())
        if self.problem.by_depth:
            runs += WORK_OF_SKY * len(graph.pair_s)
        ways = len(graph.slots) * len(set(self.way_groups.tolist()))
        return self.ticks * (WORK_OF_RUN * runs + ways) + WORK_OF_CELL * self.cells

    @property
    def cells(self) -> int:
        """Numbers in the tables of one pricing, those of worths by the sky counted as half."""
        if not self.entries:
            return 0
        graph = self.graph
        pairs = len(graph.pair_s) // 2 if self.problem.by_depth else 0
        return int(self.ticks * (graph.sets.sum() + graph.widths.sum() + pairs))

    def worths_ending(self, tick: int) -> Floats:
        """Most worth of each run that ends at this tick, [pairs]."""
        found: Floats = self.worths_by_end[tick if len(self.worths_by_end) > 1 else 0]
        return found

    @cached_property
    def worths_by_end(self) -> Floats:
        """Most worth of each run by the tick at which it ends, [ticks, pairs] (or [1, pairs]: at any time).

        Made when it is asked for: many grids never are priced."""
        if self.problem.by_depth:
            return worths_by_sky(self)  # type: ignore[return-value]
        worths = np.array([float(entry.task.worth) for entry in self.entries])
        flat: Floats = worths[self.graph.pair_entry] * self.graph.pair_frames
        return flat[None, :]

    @cached_property
    def worths(self) -> Floats:
        """The same as [pairs, ticks] (or [pairs, 1])."""
        found: Floats = np.ascontiguousarray(self.worths_by_end.T, dtype=np.float64)
        return found

    @cached_property
    def most_worths(self) -> Floats:
        """Most worth of each run at any time, [pairs]."""
        found: Floats = self.worths.max(axis=1)
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

    def best_paths(self, prices: Floats, most: int) -> list[Path]:
        """The path of most priced worth, then the best ones of those that end in another slot.

        `prices` per frame of each task; where they go on, per unit of each row (`path_rows`).
        """
        tables, gains = self._tables(prices)
        last = tables.free[:, -1]
        ends = [int(slot) for slot in np.argsort(-last, kind="stable")[:most]]
        ends = ends[:1] + [end for end in ends[1:] if last[end] > 0]
        paths = [self._trace(slot, tables, gains) for slot in ends]
        self._spare.append(tables)
        return paths

    def moved(self, path: Path) -> Path:
        """A path of another grid put on this one: each run as early as may be, cut short where it must be.

        Its `value` stays what it was.
        """
        graph, worth = self.graph, 0.0
        runs: list[PathRun] = []
        free, slot, done = 0, -1, set[int]()
        for run in path.runs:
            entry = graph.entry_of[run.slot, run.task, run.span]
            mine = int(graph.entry_slot[entry])
            arrives = run.arrives or mine != slot or run.task in done
            if not arrives:
                way = int((self.refocused if run.refocused else self.within)[entry])
                begin = max(free + way, int(self.open_ticks[entry]))
            else:
                way = int(self.ways[slot, entry]) if runs else 0
                begin, done = max(free + way, int(self.arrive_ticks[entry])), set()
            first = int(graph.pair_starts[entry])
            lengths = self.pair_ticks[first : first + run.frames]
            frames = int(np.searchsorted(lengths, self.close_ticks[entry] - begin, side="right"))
            if frames == 0:
                continue
            pair = first + frames - 1
            free, slot = begin + int(self.pair_ticks[pair]), mine
            done.add(run.task)
            worth += float(self.worths_ending(free)[pair])
            begins = graph.zero_s + begin * self.step_s
            refocused = run.refocused and not arrives
            runs.append(replace(run, frames=frames, begins=begins, arrives=arrives, refocused=refocused))
        return Path(path.value, worth, tuple(runs))

    def ready_beside(self, prices: Floats) -> Floats:
        """Most priced worth before a run begins, [ready_starts[entry] + set, ticks].

        For runs whose visit goes on with the goals of the set: the night before must not have used them.
        """
        graph, (tables, _) = self.graph, self._tables(prices)
        ready = np.full((int(graph.entry_sets.sum()), self.ticks), NEVER)
        for entry, first in enumerate(graph.ready_starts.tolist()):
            start, end = self.grid.ready_starts[entry : entry + 2]
            sets = graph.befores[entry, : int(graph.widths[entry])]
            # backwards: of places that stand for one set the first one counts
            ready[first + sets[::-1]] = tables.ready[start:end].reshape(self.ticks, -1).T[::-1]
        self._spare.append(tables)
        widen_to_subsets(ready, graph.ready_starts, graph.entry_sets)
        return ready

    def _tables(self, prices: Floats) -> tuple[Tables, Gains]:
        rows = self.graph.rows
        padded = np.zeros(rows.tasks + len(rows.sizes))
        padded[: len(prices)] = prices
        gains = rows.gains(padded)
        tables = self._spare.pop() if self._spare else self._new_tables()
        fill_tables(self.grid, tables, self.worths_by_end, gains)
        return tables, gains

    def _new_tables(self) -> Tables:
        return Tables(
            np.empty(int(self.grid.done_starts[-1])),
            np.empty((len(self.graph.slots), self.ticks)),
            np.empty(int(self.grid.ready_starts[-1])),
        )

    def _trace(self, slot: int, tables: Tables, gains: Gains) -> Path:
        """The way back from the best end in a slot."""
        graph, value = self.graph, float(tables.free[slot, -1])
        if value <= 0:
            return Path(0.0, 0.0, ())
        most_runs = self.ticks // int(self.pair_ticks.min()) + 1
        into = np.empty((most_runs, 4), dtype=np.int64)
        count = trace_path(self.grid, tables, self.worths_by_end, gains, slot, _slack(value), into)
        runs, worth = [], 0.0
        for pair, begin, arrives, refocused in into[:count][::-1].tolist():
            entry = self.entries[int(graph.pair_entry[pair])]
            begins = graph.zero_s + begin * self.step_s
            frames, slot_index = int(graph.pair_frames[pair]), graph.slots[entry.slot].index
            run = PathRun(
                slot_index, entry.task.index, entry.span, frames, begins, bool(arrives), bool(refocused)
            )
            runs.append(run)
            worth += float(self.worths_ending(begin + int(self.pair_ticks[pair]))[pair])
        return Path(value, worth, tuple(runs))


def _first_alike(ways: Ints, slots: Ints) -> Ints:
    """Of each entry the first one of its slot with the same ways, [slots, entries] in ticks."""
    firsts: dict[tuple[int, bytes], int] = {}
    keys = [(slot, column.tobytes()) for slot, column in zip(slots.tolist(), ways.T, strict=True)]
    return np.array([firsts.setdefault(key, entry) for entry, key in enumerate(keys)])


def _starts(sizes: Ints) -> Ints:
    """Where each of some arrays begins that lie one after the other, and where the last one ends."""
    return np.concatenate([[0], np.cumsum(sizes)])


def _slack(worth: float) -> float:
    """Rounding of sums of a few dozen numbers of this size."""
    return 1e-9 * max(1.0, abs(worth))
