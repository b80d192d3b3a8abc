"""Plans from others, by the second: runs are taken out of a night and others put in where they fit.

Slack induction by string removals (Christiaens & Vanden Berghe 2020, Transportation Science 54): what is
taken out lies side by side, and what is put in is chosen greedily, with blinks. Cited from memory. A try
takes some hundredths of a millisecond on a usual night. Runs lie as soon as may be: where the sky decides, a
grid must say afterwards when each is best (`reorder`).
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.choice import (
    Choice,
    dither_after_focus_s,
    first_segment_most,
    later_segment_most,
    runs_s,
)
from optimizer.packing.compiled import Bools, Ints
from optimizer.packing.entries import Entry
from optimizer.packing.insertion_search import search
from optimizer.packing.insertion_times import Cadence, Night, Sequence
from optimizer.packing.paths import Path, PathRun
from optimizer.packing.relaxation import Relaxation
from optimizer.problem import Problem

WORK_OF_TRY = 25.0  # for each entry and each run of the plan, in the unit of a pricing's work
MORE_RUNS = 150  # that there is room for beside those of the start


class Insertions:
    """One night, ready for searches side by side."""

    def __init__(self, grid: Relaxation) -> None:
        """Worths are looked up on a grid; all else is by the second."""
        self.graph = graph = grid.graph
        self.problem = problem = graph.problem
        far_s = 4 * graph.end_s  # more than any night
        arrives = np.maximum(graph.open_s, graph.arrive_s)
        home = np.zeros((len(arrives), 1), dtype=np.int64)
        ways = np.hstack([np.where(graph.ways_s < graph.no_way_s, graph.ways_s, far_s).T, home])
        soonest = np.repeat(arrives[:, None], ways.shape[1], axis=1)
        fresh = np.hstack([graph.focused_on_way.T, home + 1])
        own = np.arange(len(ways)), graph.entry_slot
        ways[own] = np.where(graph.within_s < graph.no_way_s, graph.within_s, far_s)
        soonest[own], fresh[own] = graph.open_s, graph.focused_within
        if problem.every_s is not None:  # the night's first run needs a focus run, whatever else does
            soonest[:, -1] = [
                max(opens, self._first_s(entry)) for opens, entry in zip(arrives, graph.entries, strict=True)
            ]
        self.night = Night(
            pair_s=np.concatenate([_lengths_s(problem, entry) for entry in graph.entries]),
            pair_starts=graph.pair_starts,
            slot=graph.entry_slot,
            task=graph.entry_task,
            opens=graph.open_s,
            closes=graph.close_s,
            side=graph.side,
            # in one layout whatever the night: of each other one the loops would be compiled anew
            ways=np.ascontiguousarray(ways),
            soonest=soonest,
            fresh=np.ascontiguousarray(fresh),
            worths=grid.worths,
            step_s=grid.step_s,
            caps=np.array([task.frames_left for task in problem.tasks], dtype=np.int64),
        )
        tasks = [entry.task for entry in graph.entries]
        self.cadence = Cadence(
            every_s=far_s if problem.every_s is None else problem.every_s,
            focus_s=problem.lengths.focus,
            pause_s=problem.lengths.focus + dither_after_focus_s(problem),
            dither_s=problem.lengths.dither,
            dither_every=problem.request.camera.dither_every,
            frame_s=np.array([task.frame_s for task in tasks]),
            download_s=np.array([task.download_s for task in tasks]),
            first_most=np.array([first_segment_most(problem, task) for task in tasks]),
            later_most=np.array([later_segment_most(problem, task) for task in tasks]),
        )

    def _first_s(self, entry: Entry) -> int:
        """When the night's first shutter may open at the soonest, if it is this one."""
        lengths, slot = self.problem.lengths, self.graph.slots[entry.slot]
        ready_s = lengths.centre + lengths.settle + entry.task.change_s + lengths.focus
        return slot.work[0] + ready_s - self.graph.zero_s

    def work(self, start: Choice) -> float:
        """About what a try takes, in the unit of a pricing's work."""
        runs = 1 + sum(len(visit.runs) for visit in start)
        return WORK_OF_TRY * len(self.graph.entries) * runs

    def improved(self, start: Choice, tries: int, bear: float, seed: int, halt: Bools) -> Path | None:
        """The best path met on the way from a plan, in so many tries or until `halt` [1] is set.

        None where it is no better than the plan with its runs as soon as may be.

        `bear`: the share of the worth that a try may lose at first and still be gone on from.
        """
        best = self._sequence(start)
        now, trial = (Sequence(*(np.zeros_like(numbers) for numbers in best)) for _ in range(2))
        gain = search(self.night, self.cadence, now, trial, best, tries, bear, seed, halt)
        return self._path(best) if gain > 0 else None

    def _sequence(self, plan: Choice) -> Sequence:
        runs = self.graph.runs_of(plan)
        entry, frames = (np.zeros(len(runs) + MORE_RUNS, dtype=np.int64) for _ in range(2))
        for place, run in enumerate(runs):
            entry[place], frames[place] = run
        return Sequence(np.array([len(runs)]), entry, frames)

    def _path(self, sequence: Sequence) -> Path:
        graph, runs, size = self.graph, list[PathRun](), int(sequence.size[0])
        for number, frames in zip(
            sequence.entry[:size].tolist(), sequence.frames[:size].tolist(), strict=True
        ):
            entry = graph.entries[number]
            runs.append(PathRun(graph.slots[entry.slot].index, entry.task.index, entry.span, frames, 0))
        return Path(0.0, 0.0, tuple(runs))


def _lengths_s(problem: Problem, entry: Entry) -> Ints:
    """Runs of 1, 2, ... frames with their downloads, after a fresh focus run; a graph's are the least."""
    lengths, _ = runs_s(problem, entry.task, len(entry.lengths_s))
    return lengths + entry.task.download_s
