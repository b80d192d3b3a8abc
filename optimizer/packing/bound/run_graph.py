"""The night as a graph of runs and the ways between them, in whole seconds, for bound and beams."""

from __future__ import annotations

import copy
from functools import cached_property

import numpy as np

from optimizer.packing.bound.arcs import ways_between
from optimizer.packing.bound.ceiling import ceiling
from optimizer.packing.bound.cuts.rows import PathRows
from optimizer.packing.bound.nodes import Entry, entries_of
from optimizer.packing.compiled import Bools, Ints
from optimizer.packing.plan import Plan
from optimizer.problem import Problem, least_pauses

MOST_REMEMBERED = 5  # goals of a slot that a visit of a path cannot run twice; each more doubles the work


class RunGraph:
    """Flat arrays of all runs, ordered by slot, entry and frames; instants count from `zero_s`.

    A pair is an entry with a number of frames. `pair_starts` and `slot_starts` hold the end as well. A set
    of goals of a slot is a number of bits; `bits` is 0 where a goal is not remembered.
    """

    def __init__(self, problem: Problem) -> None:
        """Windows, runs, ways and remembered goals of a problem; only `entries` where nothing can be done."""
        self.problem = problem
        self.slots = [slot for slot in problem.slots if not slot.copy]
        self.entries = [
            entry for position, slot in enumerate(self.slots) for entry in entries_of(problem, position, slot)
        ]
        if not self.entries:
            return
        self.zero_s = min(entry.opens for entry in self.entries)
        self.end_s = max(entry.closes for entry in self.entries) - self.zero_s
        self.no_way_s = self.end_s + 1
        self._runs()
        self.binding = self._binding()
        self._ways()
        self._sets(np.ones(len(problem.tasks), dtype=np.bool_))
        self.rows = PathRows(self)

    def _runs(self) -> None:
        counts = [len(entry.lengths_s) for entry in self.entries]
        self.pair_entry = np.repeat(np.arange(len(self.entries)), counts)
        self.pair_frames = np.concatenate([np.arange(1, count + 1) for count in counts])
        self.pair_s: Ints = np.concatenate(
            [np.array(entry.lengths_s, dtype=np.int64) for entry in self.entries]
        )
        self.pair_pieces = np.concatenate([self._pieces(entry) for entry in self.entries])
        self.entry_slot = np.array([entry.slot for entry in self.entries])
        self.entry_task = np.array([entry.task.index for entry in self.entries])
        self.entry_of = {
            (self.slots[entry.slot].index, entry.task.index, entry.span): number
            for number, entry in enumerate(self.entries)
        }
        self.pair_slot = self.entry_slot[self.pair_entry]
        self.pair_task = self.entry_task[self.pair_entry]
        self.pair_starts: Ints = np.concatenate([[0], np.cumsum(counts)])
        self.slot_starts = np.searchsorted(self.entry_slot, np.arange(len(self.slots) + 1))
        self.open_s = np.array([entry.opens - self.zero_s for entry in self.entries])
        self.close_s = np.array([entry.closes - self.zero_s for entry in self.entries])
        self.arrive_s = np.array([entry.opens_on_arrival - self.zero_s for entry in self.entries])

    def _binding(self) -> Bools:
        """Of each task: whether its cap may bind, which it cannot where the night holds no more frames."""
        fitting = np.zeros(len(self.problem.tasks), dtype=np.int64)
        for entry in self.entries:
            fitting[entry.task.index] += (entry.closes - entry.opens) // entry.task.frame_s
        return np.array([task.frames_left for task in self.problem.tasks]) < fitting

    def remembering(self, tasks: Bools) -> RunGraph:
        """The same night, of which paths remember runs of some tasks alone, [tasks]."""
        found = copy.copy(self)
        found._sets(tasks)
        return found

    @cached_property
    def lean(self) -> RunGraph:
        """The same night, of which paths remember the tasks alone whose cap may bind; itself where all may.

        Of the others a second run in a visit wins hardly more than a longer first one.
        """
        lean = self.remembering(self.binding)
        return self if np.array_equal(lean.bits > 0, self.bits > 0) else lean

    @property
    def forgetting(self) -> RunGraph:
        """The same night, of which paths remember nothing: for a pricing in some milliseconds."""
        return self.remembering(np.zeros_like(self.binding))

    def _pieces(self, entry: Entry) -> Ints:
        """Into how many pieces focus runs cut each run of an entry at least."""
        frames = np.arange(1, len(entry.lengths_s) + 1)
        first_most = self.problem.run_lengths.first_segment_most(entry.task)
        return 1 + least_pauses(frames, first_most, self.problem.run_lengths.later_segment_most(entry.task))

    def runs_of(self, plan: Plan) -> list[tuple[int, int]]:
        """The entry and the frames of each run of a plan, in order."""
        runs = [(self.problem.slots[visit.slot], run) for visit in plan for run in visit.runs]
        return [
            (
                self.entry_of[slot.index - slot.copy, run.task, slot.shutter[run.task].index(run.span)],
                run.frames,
            )
            for slot, run in runs
        ]

    @cached_property
    def ceiling(self) -> int:
        """What sums alone say that no plan is worth more than."""
        return ceiling(self.problem)

    @cached_property
    def side(self) -> Ints:
        """Of each slot its target's side, as a number."""
        names = [(slot.target.name, slot.side or "") for slot in self.slots]
        sides = sorted(set(names))
        return np.array([sides.index(name) for name in names])

    def _ways(self) -> None:
        """From leaving slot p to the first shutter of entry e, [slots, entries]; `no_way_s` where none is."""
        problem = self.problem
        # `focused_on_way`: 1 where a focus run must lie on the way
        self.ways_s, self.focused_on_way = ways_between(problem, self.slots, self.entries, self.no_way_s)
        within = [entry.within_visit_s for entry in self.entries]
        self.within_s = np.array([self.no_way_s if seconds is None else seconds for seconds in within])
        on_change = problem.rules.focus_on_filter_change
        self.focused_within = np.array(
            [on_change and not entry.filter_shared for entry in self.entries], dtype=np.int64
        )
        # of each slot, from the end of any run in it to the next run there or elsewhere
        least = self.ways_s.min(axis=1)
        np.minimum.at(least, self.entry_slot, self.within_s)
        self.least_ways_s: Ints = np.where(least < self.no_way_s, least, 0)

    def _sets(self, remembered: Bools) -> None:
        """Which goals of a slot a visit remembers: of those that it may [tasks], those of most worth."""
        self.bits = np.zeros(len(self.entries), dtype=np.int64)
        sets = []
        for position in range(len(self.slots)):
            mine = range(int(self.slot_starts[position]), int(self.slot_starts[position + 1]))
            tasks = {self.entries[number].task.index: self.entries[number].task for number in mine}
            tasks = {index: task for index, task in tasks.items() if remembered[index]}
            kept = sorted(tasks.values(), key=lambda task: -task.profit * task.frames_left)[:MOST_REMEMBERED]
            place = {task.index: place for place, task in enumerate(kept)}
            for number in mine:
                if (index := self.entries[number].task.index) in place:
                    self.bits[number] = 1 << place[index]
            sets.append(1 << len(kept))
        self.sets = np.array(sets)  # how many each slot has
        self.entry_sets = self.sets[self.entry_slot]
        self.ready_starts = np.cumsum(self.entry_sets) - self.entry_sets
