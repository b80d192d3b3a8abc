"""A relaxation that bounds: the night as a longest path through time, goal caps priced instead of kept.

A path alternates between runs and the ways between them. Kept exactly: windows, work spans, run lengths with
dithers and focus runs inside (and what the sky makes of each frame), motions, acquisition, changes of filter,
forced focus runs. Left out (each only loosens the bound): how often a target may be visited, one run of a
goal a visit, the least visit, quiet time, and the age of a focus run that is carried over. Goal caps enter as
prices per frame (Lagrangian relaxation; Geoffrion 1974, Math. Programming Study 2), so that any prices give a
valid bound.

Time is a grid of `step_s` seconds: instants and durations are rounded down, each run and each way once, so
that every plan has a path on the grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimizer.packing.choice import cut_into_segments, first_segment_most, run_s
from optimizer.packing.rules.order_of_visits import may_follow
from optimizer.packing.sky_worth import worths_by_sky
from optimizer.packing.transition import transition
from optimizer.problem import Problem, Slot
from optimizer.tasks import Task

NEVER = -np.inf
WORK_OF_BLOCK = 4_500  # a block's dozen array calls take as long as so many of its sums
Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Ints = np.ndarray[tuple[int, ...], np.dtype[np.int64]]


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


@dataclass(frozen=True)
class _Entry:
    """One window of one task in one slot."""

    slot: int  # position among the slots of the relaxation
    task: Task
    span: int
    opens: int
    opens_on_arrival: int
    closes: int  # a run's last download has ended
    within_visit_s: int | None  # between runs of one visit; None: no other run can come before
    lengths_s: tuple[int, ...]  # of 1, 2, ... frames with their downloads


class Relaxation:
    """The grid of one problem; `best_path` prices it."""

    def __init__(self, problem: Problem, step_s: int) -> None:
        """Prepare entries and ways on a grid of `step_s` seconds, or of the shortest run if less."""
        self.problem = problem
        self.slots = [slot for slot in problem.slots if not slot.copy]
        self.entries = [
            entry for position, slot in enumerate(self.slots) for entry in _entries(problem, position, slot)
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
        """What one pricing costs: ticks x (runs + ways), and something for each block of ticks."""
        if not self.entries:
            return 0.0
        blocks = self.ticks / self.block
        return float(self.ticks * (len(self.pair_ticks) + self.ways.size) + blocks * WORK_OF_BLOCK)

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
        self.pair_slot = np.array([entry.slot for entry in self.entries])[self.pair_entry]
        self.pair_task = np.array([entry.task.index for entry in self.entries])[self.pair_entry]
        self.pair_starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
        owners = [entry.slot for entry in self.entries]
        self.slot_starts = np.array([owners.index(position) for position in range(len(self.slots))])
        self.block = int(self.pair_ticks.min())
        self.open_ticks = np.array([self._grid(entry.opens) for entry in self.entries])
        self.close_ticks = np.array([self._grid(entry.closes) for entry in self.entries])
        self.arrive_ticks = np.array([self._grid(entry.opens_on_arrival) for entry in self.entries])

    def _ways(self) -> None:
        """Ticks from leaving slot p to the first shutter of entry e, [slots, entries]; huge: no way."""
        self.no_way = self.ticks + 1
        ways = np.full((len(self.slots), len(self.entries)), self.no_way, dtype=np.int64)
        for start, before in enumerate(self.slots):
            for number, entry in enumerate(self.entries):
                after = self.slots[entry.slot]
                seconds: list[int] = []
                if start == entry.slot and entry.within_visit_s is not None:
                    seconds.append(entry.within_visit_s)
                if may_follow(self.problem, before, after) and (
                    start != entry.slot or any(len(spans) > 1 for spans in after.shutter.values())
                ):
                    seconds.append(_way_s(self.problem, before, after, entry.task))
                if seconds:
                    ways[start, number] = min(min(seconds) // self.step_s, self.no_way)
        self.ways = ways
        same = (
            np.array([entry.slot for entry in self.entries])[None, :] == np.arange(len(self.slots))[:, None]
        )
        # within a visit the window alone counts; an arrival also needs the target up for its acquisition
        self.earliest = np.where(same, self.open_ticks[None, :], self.arrive_ticks[None, :])

    def worths_ending(self, ticks: Ints) -> Floats:
        """Most worth of each run that ends at these ticks, [pairs, ticks] (or [pairs, 1]: at any time)."""
        return self.worths if self.worths.shape[1] == 1 else self.worths[:, ticks]

    @cached_property
    def worths(self) -> Floats:
        """What `worths_ending` gives out, for all ticks; made when it is asked for: many grids never are."""
        if self.problem.by_depth:
            return worths_by_sky(self)
        worths = np.array([float(entry.task.worth) for entry in self.entries])
        flat: Floats = worths[self.pair_entry] * self.pair_frames
        return flat[:, None]

    def best_path(self, prices: Floats) -> Path:
        """The path of most priced worth; `prices` per frame of each task."""
        pad = int(max(self.pair_ticks.max(), self.no_way))
        free = np.full((len(self.slots), pad + self.ticks), NEVER)  # best worth once free in a slot
        ready = np.full((len(self.entries), pad + self.ticks), NEVER)  # best worth when a run may begin
        pair_prices = (prices[self.pair_task] * self.pair_frames)[:, None]
        entry_row = self.pair_entry[:, None]
        slot_row = np.arange(len(self.slots))[:, None, None]
        held_free = np.full(len(self.slots), NEVER)
        held_ready = np.full(len(self.entries), NEVER)
        for first in range(0, self.ticks, self.block):
            ticks = np.arange(first, min(first + self.block, self.ticks))
            runs = ready[entry_row, pad + ticks[None, :] - self.pair_ticks[:, None]]
            runs += self.worths_ending(ticks) - pair_prices
            ended = np.maximum.reduceat(runs, self.pair_starts, axis=0)
            ended[ticks[None, :] > self.close_ticks[:, None]] = NEVER
            now_free = np.maximum.reduceat(ended, self.slot_starts, axis=0)
            now_free[:, 0] = np.maximum(now_free[:, 0], held_free)
            now_free = np.maximum.accumulate(now_free, axis=1)
            free[:, pad + ticks] = now_free
            held_free = now_free[:, -1]
            came = free[slot_row, pad + ticks[None, None, :] - self.ways[:, :, None]]
            came[ticks[None, None, :] < self.earliest[:, :, None]] = NEVER
            now_ready = came.max(axis=0)
            now_ready = np.where(
                ticks[None, :] >= self.arrive_ticks[:, None], np.maximum(now_ready, 0.0), now_ready
            )
            now_ready[:, 0] = np.maximum(now_ready[:, 0], held_ready)
            now_ready = np.maximum.accumulate(now_ready, axis=1)
            ready[:, pad + ticks] = now_ready
            held_ready = now_ready[:, -1]
        return self._trace(free, ready, pad, pair_prices[:, 0])

    def _trace(self, free: Floats, ready: Floats, pad: int, pair_prices: Floats) -> Path:
        """The way back from the best end."""
        slot = int(np.argmax(free[:, -1]))
        value = float(free[slot, -1])
        if value <= 0:
            return Path(0.0, 0.0, ())
        runs: list[PathRun] = []
        tick, worth, unpriced = self.ticks - 1, value, 0.0
        while True:
            tick = int(np.searchsorted(free[slot, pad : pad + tick + 1], worth - _slack(worth)))
            pair = self._run_that_ended(ready, pad, pair_prices, slot, tick)
            entry = int(self.pair_entry[pair])
            each = self.entries[entry]
            begin = tick - int(self.pair_ticks[pair])
            begins = self.zero_s + begin * self.step_s
            frames = int(self.pair_frames[pair])
            runs.append(PathRun(self.slots[slot].index, each.task.index, each.span, frames, begins))
            unpriced += float(self.worths_ending(np.array([tick]))[pair, 0])
            worth = float(ready[entry, pad + begin])
            begin = int(np.searchsorted(ready[entry, pad : pad + begin + 1], worth - _slack(worth)))
            came = free[np.arange(len(self.slots)), pad + begin - self.ways[:, entry]]
            came[begin < self.earliest[:, entry]] = NEVER
            slot = int(np.argmax(came))
            if came[slot] < worth - _slack(value) or came[slot] <= _slack(value):
                return Path(value, unpriced, tuple(reversed(runs)))  # it came from home
            tick, worth = begin - int(self.ways[slot, entry]), float(came[slot])

    def _run_that_ended(self, ready: Floats, pad: int, pair_prices: Floats, slot: int, tick: int) -> int:
        """The pair of the best run that may end in a slot at a tick."""
        values = ready[self.pair_entry, pad + tick - self.pair_ticks]
        values += self.worths_ending(np.array([tick]))[:, 0] - pair_prices
        values[(self.pair_slot != slot) | (tick > self.close_ticks[self.pair_entry])] = NEVER
        return int(np.argmax(values))


def _slack(worth: float) -> float:
    """Rounding of sums of a few dozen numbers of this size."""
    return 1e-9 * max(1.0, abs(worth))


def _entries(problem: Problem, position: int, slot: Slot) -> list[_Entry]:
    found = []
    for index, spans in slot.shutter.items():
        task = problem.tasks[index]
        arrival_s = slot.work[0] + _least_arrival_s(problem, slot, task)
        for number, (opens, closes) in enumerate(spans):
            found.append(
                _Entry(
                    slot=position,
                    task=task,
                    span=number,
                    opens=opens,
                    opens_on_arrival=max(opens, arrival_s),
                    closes=closes + task.download_s,
                    within_visit_s=_within_visit_s(problem, slot, task),
                    lengths_s=_lengths_s(problem, task, closes - opens),
                )
            )
    return found


def _lengths_s(problem: Problem, task: Task, seconds: int) -> tuple[int, ...]:
    """Lengths, last download included, of all runs that fit into so many seconds."""
    lengths: list[int] = []
    first_most = first_segment_most(problem, task)
    for frames in range(1, task.frames_left + 1):
        segments = cut_into_segments(problem, task, frames, first_most)
        length = run_s(problem, task, segments) - _spare_dithers_s(problem, segments)
        if sum(segments) < frames or length > seconds:
            break
        lengths.append(length + task.download_s)
    return tuple(lengths)


def _spare_dithers_s(problem: Problem, segments: tuple[int, ...]) -> int:
    """Time for dithers that another cut into as many segments could save at most.

    A segment of x frames has floor((x - 1) / every) dithers, so n frames in k segments have at least
    n / every - k.
    """
    every = problem.request.camera.dither_every
    if not every:
        return 0
    dithers = sum((frames - 1) // every for frames in segments)
    least = max(0, -(-sum(segments) // every) - len(segments))
    return (dithers - least) * problem.lengths.dither


def _within_visit_s(problem: Problem, slot: Slot, task: Task) -> int | None:
    """Least time between another run's last download and this task's first shutter, in one visit."""
    others = [problem.tasks[index] for index in slot.shutter if index != task.index]
    if not others:
        return None
    if any(other.goal.filter == task.goal.filter for other in others):
        return 0
    focus_s = problem.lengths.focus if problem.request.focus.on_filter_change else 0
    return task.change_s + focus_s


def _least_arrival_s(problem: Problem, slot: Slot, task: Task) -> int:
    """Least time from the target's first second to the first shutter after an arrival, by slew or by flip."""
    acquire_s = problem.lengths.centre + problem.lengths.settle
    by_slew = task.change_s + _focus_s(problem, flips=False, changes=True)
    if slot.side != "east":
        return acquire_s + by_slew
    return acquire_s + min(by_slew, _focus_s(problem, flips=True, changes=False))


def _way_s(problem: Problem, before: Slot, after: Slot, task: Task) -> int:
    """Least time from the last download in one slot to the first shutter in another."""
    flips = problem.flips_between(before, after)
    seconds = transition(problem, before, after).at_once_s + problem.acquisition_s(before, after)
    changes = not flips or all(
        problem.tasks[index].goal.filter != task.goal.filter for index in before.shutter
    )
    return seconds + (task.change_s if changes else 0) + _focus_s(problem, flips=flips, changes=changes)


def _focus_s(problem: Problem, *, flips: bool, changes: bool) -> int:
    return problem.lengths.focus if problem.focuses_on_arrival(flips, changes) else 0
