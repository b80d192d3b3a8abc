"""A relaxation that bounds: the night as a longest path through time, goal caps priced instead of kept.

A path alternates between runs and the ways between them. Kept exactly: windows, work spans, run lengths with
dithers and focus runs inside (and what the sky makes of each frame), motions, acquisition, changes of filter,
forced focus runs. Left out (each only loosens the bound): how often a target may be visited, one run a visit
of goals beyond those remembered, the least visit, quiet time and the age of a carried focus run,
but for what `focus_age` says of it. Goal caps enter as prices per frame (Lagrangian relaxation; Geoffrion
1974, Math. Programming Study 2), so that any prices give a valid bound.

Within a visit a path remembers which goals have had their run, up to `MOST_REMEMBERED` (graph). Without that
columns stay on one target all night, and the slews between targets cost them nothing: bounds of nights on
which about as much is wanted as fits were up to 12 % higher.

Time is a grid of `step_s` seconds: instants and durations are rounded down, each run and each way once, so
that every plan has a path on the grid.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optimizer.packing.compiled import Floats, Ints, fill_tables, widen_to_subsets
from optimizer.packing.graph import NightGraph
from optimizer.packing.sky_worth import worths_by_sky

NEVER = -np.inf
# Of a pricing, measured: beside a run's turn at a tick a cell of the tables and a way, and what a tick's turn
# costs in a long block and what a block adds.
WORK_OF_CELL, WORK_OF_WAY, WORK_IN_BLOCK, WORK_OF_BLOCK = 1.0, 2.0, 0.3, 3.5


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

    def __init__(self, graph: NightGraph, step_s: int) -> None:
        """Put a graph on a grid of `step_s` seconds, or of the shortest run if less."""
        self.graph, self.problem, self.entries = graph, graph.problem, graph.entries
        self.step_s = min([step_s, *(entry.lengths_s[0] for entry in self.entries)])
        if not self.entries:
            return
        self.ticks = graph.end_s // self.step_s + 1
        self.no_way = self.ticks + 1
        self.pair_ticks: Ints = graph.pair_s // self.step_s
        self.block = int(self.pair_ticks.min())
        self.open_ticks = graph.open_s // self.step_s
        self.close_ticks = graph.close_s // self.step_s
        self.arrive_ticks = graph.arrive_s // self.step_s
        self.ways = np.where(graph.ways_s < graph.no_way_s, graph.ways_s // self.step_s, self.no_way)
        inside = graph.within_s < graph.no_way_s
        focus_s = self.problem.lengths.focus
        self.within = np.where(inside, graph.within_s // self.step_s, self.no_way)
        self.refocused = np.where(inside, (graph.within_s + focus_s) // self.step_s, self.no_way)

    @property
    def work(self) -> float:
        """What one pricing costs: ticks x (runs with each set of goals before them + ways + tables)."""
        if not self.entries:
            return 0.0
        graph = self.graph
        before = graph.entry_sets // np.where(graph.bits > 0, 2, 1)
        runs = np.diff(graph.pair_starts)
        each = float((before * (runs + 2)).sum() + WORK_OF_WAY * self.ways.size)
        return self.ticks * each * (WORK_IN_BLOCK + WORK_OF_BLOCK / self.block) + WORK_OF_CELL * self.cells

    @property
    def cells(self) -> int:
        """Numbers in the tables of one pricing."""
        graph = self.graph
        return int(self.ticks * (graph.sets.sum() + graph.entry_sets.sum())) if self.entries else 0

    def worths_ending(self, tick: int) -> Floats:
        """Most worth of each run that ends at this tick, [pairs]."""
        return self.worths[:, tick if self.worths.shape[1] > 1 else 0]

    @cached_property
    def worths(self) -> Floats:
        """Most worth of each run by the tick at which it ends, [pairs, ticks] (or [pairs, 1]: at any time).

        Made when it is asked for: many grids never are priced."""
        if self.problem.by_depth:
            return worths_by_sky(self)
        worths = np.array([float(entry.task.worth) for entry in self.entries])
        flat: Floats = worths[self.graph.pair_entry] * self.graph.pair_frames
        return flat[:, None]

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

        `prices` per frame of each task; where they go on, per second of each slot's focus age.
        """
        tables = self._tables(prices)
        last = tables.free[:, -1]
        ends = [int(slot) for slot in np.argsort(-last, kind="stable")[:most]]
        return [self._trace(slot, tables) for slot in ends[:1] + [end for end in ends[1:] if last[end] > 0]]

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
        ready = self._tables(prices).ready
        widen_to_subsets(ready, self.graph.ready_starts, self.graph.entry_sets)
        return ready

    def _tables(self, prices: Floats) -> _Tables:
        done = np.full((int(self.graph.sets.sum()), self.ticks), NEVER)
        free = np.full((len(self.graph.slots), self.ticks), NEVER)
        ready = np.full((int(self.graph.entry_sets.sum()), self.ticks), NEVER)
        graph, age, tasks = self.graph, self.graph.focus_age, len(self.problem.tasks)
        pair_prices = prices[graph.pair_task] * graph.pair_frames
        ages = prices[tasks:] if len(prices) > tasks else np.zeros(len(graph.slots))
        if ages.any():
            pair_prices = pair_prices + ages[graph.pair_slot] * age.taken
        arrival_gains, refocus_gains = ages * age.given, ages * age.given_again
        fill_tables(
            done,
            free,
            ready,
            self.worths,
            pair_prices,
            self.pair_ticks,
            self.graph.pair_starts,
            self.graph.slot_starts,
            self.graph.sets,
            self.graph.done_starts,
            self.graph.ready_starts,
            self.graph.bits,
            self.open_ticks,
            self.close_ticks,
            self.arrive_ticks,
            self.ways,
            self.within,
            self.refocused,
            arrival_gains,
            refocus_gains,
            self.block,
        )
        return _Tables(done, free, ready, pair_prices, arrival_gains, refocus_gains)

    def _trace(self, slot: int, tables: _Tables) -> Path:
        """The way back from the best end in a slot."""
        done, free, ready = tables.done, tables.free, tables.ready
        value = float(free[slot, -1])
        if value <= 0:
            return Path(0.0, 0.0, ())
        runs: list[PathRun] = []
        tick, worth, unpriced = self.ticks - 1, value, 0.0
        slack = _slack(value)
        chosen = self._set_done(done, slot, tick)
        while True:
            row = done[int(self.graph.done_starts[slot]) + chosen]
            tick = int(np.searchsorted(row[: tick + 1], worth - slack))
            pair, chosen = self._run_that_ended(ready, tables.pair_prices, slot, chosen, tick)
            entry = int(self.graph.pair_entry[pair])
            each = self.entries[entry]
            begin = tick - int(self.pair_ticks[pair])
            begins = self.graph.zero_s + begin * self.step_s
            frames = int(self.graph.pair_frames[pair])
            run = PathRun(self.graph.slots[slot].index, each.task.index, each.span, frames, begins)
            unpriced += float(self.worths_ending(tick)[pair])
            row = ready[int(self.graph.ready_starts[entry]) + chosen]
            worth = float(row[begin])
            begin = int(np.searchsorted(row[: begin + 1], worth - slack))
            row = done[int(self.graph.done_starts[slot]) + chosen]
            goes_on = False
            for way, gain in ((self.within, 0.0), (self.refocused, float(tables.refocus_gains[slot]))):
                left = begin - int(way[entry])
                if left >= 0 and begin >= self.open_ticks[entry] and row[left] + gain >= worth - slack:
                    runs.append(replace(run, refocused=gain > 0))
                    tick, worth, goes_on = left, float(row[left]), True
                    break
            if goes_on:
                continue
            runs.append(replace(run, arrives=True))
            worth -= float(tables.arrival_gains[slot])
            lefts = begin - self.ways[:, entry]
            came = free[np.arange(len(self.graph.slots)), np.maximum(lefts, 0)]
            came[(lefts < 0) | (begin < self.arrive_ticks[entry])] = NEVER
            slot = int(np.argmax(came))
            if came[slot] < worth - slack or came[slot] <= slack:
                return Path(value, unpriced, tuple(reversed(runs)))  # it came from home
            tick, worth = int(lefts[slot]), float(came[slot])
            chosen = self._set_done(done, slot, tick)

    def _set_done(self, done: Floats, slot: int, tick: int) -> int:
        """The set of goals with which a slot is best left at a tick."""
        start = int(self.graph.done_starts[slot])
        return int(np.argmax(done[start : start + int(self.graph.sets[slot]), tick]))

    def _run_that_ended(
        self, ready: Floats, pair_prices: Floats, slot: int, chosen: int, tick: int
    ) -> tuple[int, int]:
        """The pair of the best run that may end in a slot at a tick with a set done, and the set before."""
        graph, begins = self.graph, tick - self.pair_ticks
        fits = (begins >= 0) & (graph.pair_slot == slot) & (tick <= self.close_ticks[graph.pair_entry])
        bits = graph.bits[graph.pair_entry]
        pairs = np.flatnonzero(fits & ((bits == 0) | (chosen & bits > 0)))
        before = chosen & ~bits[pairs]
        values = ready[graph.ready_starts[graph.pair_entry[pairs]] + before, begins[pairs]]
        values = values + self.worths_ending(tick)[pairs] - pair_prices[pairs]
        at = int(np.argmax(values))
        return int(pairs[at]), int(before[at])


@dataclass(frozen=True)
class _Tables:
    """`done`, `free` and `ready` of `fill_tables`, prices of the pairs, gains of the slots."""

    done: Floats
    free: Floats
    ready: Floats
    pair_prices: Floats
    arrival_gains: Floats
    refocus_gains: Floats


def _slack(worth: float) -> float:
    """Rounding of sums of a few dozen numbers of this size."""
    return 1e-9 * max(1.0, abs(worth))
