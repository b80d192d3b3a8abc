"""A relaxation that bounds: the night as a longest path through time, goal caps priced instead of kept.

A path alternates between runs and the ways between them. Kept exactly: windows, work spans, run lengths with
dithers and focus runs inside (and what the sky makes of each frame), motions, acquisition, changes of filter,
forced focus runs. Left out (each only loosens the bound): how often a target may be visited, one run a visit
of goals beyond those remembered, the least visit, quiet time, and the age of a focus run that is carried
over. Goal caps enter as prices per frame (Lagrangian relaxation; Geoffrion 1974, Math. Programming Study 2),
so that any prices give a valid bound.

Within a visit a path remembers which goals have had their run, up to `MOST_REMEMBERED` of them. Without that
columns stay on one target all night, and the slews between targets cost them nothing: bounds of nights on
which about as much is wanted as fits were up to 12 % higher.

Time is a grid of `step_s` seconds: instants and durations are rounded down, each run and each way once, so
that every plan has a path on the grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimizer.packing.compiled import Floats, Ints, fill_tables, widen_to_subsets
from optimizer.packing.entries import entries_of, way_s
from optimizer.packing.rules.order_of_visits import may_follow
from optimizer.packing.sky_worth import worths_by_sky
from optimizer.problem import Problem

NEVER = -np.inf
MOST_REMEMBERED = 5  # goals of a slot that a visit of a path cannot run twice; each more doubles the work


@dataclass(frozen=True)
class PathRun:
    """A run on a path: slot, task, frames and the earliest second at which its first shutter may open."""

    slot: int
    task: int
    span: int
    frames: int
    begins: int


@dataclass(frozen=True)
class Path:
    """The best path for some prices; `value` is its priced worth, `worth` what it is without them."""

    value: float
    worth: float
    runs: tuple[PathRun, ...]


class Relaxation:
    """The grid of one problem; `best_path` prices it."""

    def __init__(self, problem: Problem, step_s: int) -> None:
        """Prepare entries and ways on a grid of `step_s` seconds, or of the shortest run if less."""
        self.problem = problem
        self.slots = [slot for slot in problem.slots if not slot.copy]
        self.entries = [
            entry for position, slot in enumerate(self.slots) for entry in entries_of(problem, position, slot)
        ]
        self.step_s = min([step_s, *(entry.lengths_s[0] for entry in self.entries)])
        if not self.entries:
            return
        self.zero_s = min(entry.opens for entry in self.entries)
        self.ticks = (max(entry.closes for entry in self.entries) - self.zero_s) // self.step_s + 1
        self._lengths()
        self._ways()

    @property
    def work(self) -> float:
        """What one pricing costs: ticks x (runs with each set of goals before them + ways)."""
        if not self.entries:
            return 0.0
        before = self.entry_sets // np.where(self.bits > 0, 2, 1)
        runs = np.diff(self.pair_starts)
        return float(self.ticks * ((before * (runs + 2)).sum() + self.ways.size))

    @property
    def cells(self) -> int:
        """Numbers in the tables of one pricing."""
        return int(self.ticks * (self.sets.sum() + self.entry_sets.sum())) if self.entries else 0

    def _grid(self, instant_s: int) -> int:
        return (instant_s - self.zero_s) // self.step_s

    def _lengths(self) -> None:
        """All (entry, frames) pairs, flat, ordered by entry and so by slot."""
        counts = [len(entry.lengths_s) for entry in self.entries]
        self.pair_entry = np.repeat(np.arange(len(self.entries)), counts)
        self.pair_frames = np.concatenate([np.arange(1, count + 1) for count in counts])
        self.pair_ticks: Ints = np.concatenate(
            [np.array(entry.lengths_s, dtype=np.int64) // self.step_s for entry in self.entries]
        )
        self.entry_slot = np.array([entry.slot for entry in self.entries])
        self.pair_slot = self.entry_slot[self.pair_entry]
        self.pair_task = np.array([entry.task.index for entry in self.entries])[self.pair_entry]
        self.pair_starts = np.concatenate([[0], np.cumsum(counts)])  # of each entry, and the end
        self.slot_starts = np.searchsorted(self.entry_slot, np.arange(len(self.slots) + 1))  # and the end
        self.block = int(self.pair_ticks.min())
        self.open_ticks = np.array([self._grid(entry.opens) for entry in self.entries])
        self.close_ticks = np.array([self._grid(entry.closes) for entry in self.entries])
        self.arrive_ticks = np.array([self._grid(entry.opens_on_arrival) for entry in self.entries])

    def _ways(self) -> None:
        """Ticks from leaving slot p to the first shutter of entry e, [slots, entries]; huge: no way."""
        self.no_way = self.ticks + 1
        ways = np.full((len(self.slots), len(self.entries)), self.no_way, dtype=np.int64)
        focused = np.zeros_like(ways)  # 1 where a focus run must lie on the way
        for start, before in enumerate(self.slots):
            for number, entry in enumerate(self.entries):
                after = self.slots[entry.slot]
                if may_follow(self.problem, before, after) and (
                    start != entry.slot or any(len(spans) > 1 for spans in after.shutter.values())
                ):
                    seconds = way_s(self.problem, before, after, entry.task)
                    ways[start, number] = min(seconds // self.step_s, self.no_way)
                flips = self.problem.flips_between(before, after)
                focused[start, number] = self.problem.focuses_on_arrival(flips, not flips)
        self.ways = ways
        self.focused_on_way = focused
        self.within = np.array(
            [
                self.no_way if entry.within_visit_s is None else entry.within_visit_s // self.step_s
                for entry in self.entries
            ]
        )
        self.focused_within = np.array(
            [
                self.problem.request.focus.on_filter_change and not entry.filter_shared
                for entry in self.entries
            ],
            dtype=np.int64,
        )
        self._sets()

    def _sets(self) -> None:
        """Which goals of a slot are remembered within a visit: those of most worth, as bits."""
        self.bits = np.zeros(len(self.entries), dtype=np.int64)
        sets = []
        for position in range(len(self.slots)):
            mine = [number for number, entry in enumerate(self.entries) if entry.slot == position]
            tasks = {self.entries[number].task.index: self.entries[number].task for number in mine}
            kept = sorted(tasks.values(), key=lambda task: -task.worth * task.frames_left)[:MOST_REMEMBERED]
            place = {task.index: place for place, task in enumerate(kept)}
            for number in mine:
                if (index := self.entries[number].task.index) in place:
                    self.bits[number] = 1 << place[index]
            sets.append(1 << len(kept))
        self.sets = np.array(sets)
        self.entry_sets = self.sets[self.entry_slot]
        self.done_starts = np.cumsum(self.sets) - self.sets
        self.ready_starts = np.cumsum(self.entry_sets) - self.entry_sets

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
        flat: Floats = worths[self.pair_entry] * self.pair_frames
        return flat[:, None]

    def best_path(self, prices: Floats) -> Path:
        """The path of most priced worth; `prices` per frame of each task."""
        return self._trace(*self._tables(prices))

    def ready_beside(self, prices: Floats) -> Floats:
        """Most priced worth before a run begins, [ready_starts[entry] + set, ticks].

        For runs whose visit goes on with the goals of the set: the night before must not have used them.
        """
        ready = self._tables(prices)[2]
        widen_to_subsets(ready, self.ready_starts, self.entry_sets)
        return ready

    def _tables(self, prices: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """`done`, `free` and `ready` of `fill_tables`, and the prices of the pairs."""
        done = np.full((int(self.sets.sum()), self.ticks), NEVER)
        free = np.full((len(self.slots), self.ticks), NEVER)
        ready = np.full((int(self.entry_sets.sum()), self.ticks), NEVER)
        pair_prices = prices[self.pair_task] * self.pair_frames
        fill_tables(
            done,
            free,
            ready,
            self.worths,
            pair_prices,
            self.pair_ticks,
            self.pair_starts,
            self.slot_starts,
            self.sets,
            self.done_starts,
            self.ready_starts,
            self.bits,
            self.open_ticks,
            self.close_ticks,
            self.arrive_ticks,
            self.ways,
            self.within,
            self.block,
        )
        return done, free, ready, pair_prices

    def _trace(self, done: Floats, free: Floats, ready: Floats, pair_prices: Floats) -> Path:
        """The way back from the best end."""
        slot = int(np.argmax(free[:, -1]))
        value = float(free[slot, -1])
        if value <= 0:
            return Path(0.0, 0.0, ())
        runs: list[PathRun] = []
        tick, worth, unpriced = self.ticks - 1, value, 0.0
        slack = _slack(value)
        chosen = self._set_done(done, slot, tick)
        while True:
            row = done[int(self.done_starts[slot]) + chosen]
            tick = int(np.searchsorted(row[: tick + 1], worth - slack))
            pair, chosen = self._run_that_ended(ready, pair_prices, slot, chosen, tick)
            entry = int(self.pair_entry[pair])
            each = self.entries[entry]
            begin = tick - int(self.pair_ticks[pair])
            begins = self.zero_s + begin * self.step_s
            frames = int(self.pair_frames[pair])
            runs.append(PathRun(self.slots[slot].index, each.task.index, each.span, frames, begins))
            unpriced += float(self.worths_ending(tick)[pair])
            row = ready[int(self.ready_starts[entry]) + chosen]
            worth = float(row[begin])
            begin = int(np.searchsorted(row[: begin + 1], worth - slack))
            left = begin - int(self.within[entry])
            if left >= 0 and begin >= self.open_ticks[entry]:
                before = float(done[int(self.done_starts[slot]) + chosen, left])
                if before >= worth - slack:
                    tick, worth = left, before
                    continue
            lefts = begin - self.ways[:, entry]
            came = free[np.arange(len(self.slots)), np.maximum(lefts, 0)]
            came[(lefts < 0) | (begin < self.arrive_ticks[entry])] = NEVER
            slot = int(np.argmax(came))
            if came[slot] < worth - slack or came[slot] <= slack:
                return Path(value, unpriced, tuple(reversed(runs)))  # it came from home
            tick, worth = int(lefts[slot]), float(came[slot])
            chosen = self._set_done(done, slot, tick)

    def _set_done(self, done: Floats, slot: int, tick: int) -> int:
        """The set of goals with which a slot is best left at a tick."""
        start = int(self.done_starts[slot])
        return int(np.argmax(done[start : start + int(self.sets[slot]), tick]))

    def _run_that_ended(
        self, ready: Floats, pair_prices: Floats, slot: int, chosen: int, tick: int
    ) -> tuple[int, int]:
        """The pair of the best run that may end in a slot at a tick with a set done, and the set before."""
        begins = tick - self.pair_ticks
        fits = (begins >= 0) & (self.pair_slot == slot) & (tick <= self.close_ticks[self.pair_entry])
        bits = self.bits[self.pair_entry]
        pairs = np.flatnonzero(fits & ((bits == 0) | (chosen & bits > 0)))
        before = chosen & ~bits[pairs]
        values = ready[self.ready_starts[self.pair_entry[pairs]] + before, begins[pairs]]
        values = values + self.worths_ending(tick)[pairs] - pair_prices[pairs]
        at = int(np.argmax(values))
        return int(pairs[at]), int(before[at])


def _slack(worth: float) -> float:
    """Rounding of sums of a few dozen numbers of this size."""
    return 1e-9 * max(1.0, abs(worth))
