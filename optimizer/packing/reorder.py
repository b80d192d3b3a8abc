"""Plans from others: some runs are taken out of the night's sequence and others put in where they add most.

With the order of runs given, how many frames each has and when is found exactly on a grid (dynamic
programming from both ends), so that each try costs little. Beams are guided by prices, and where nearly all
that is wanted fits, prices say little of the order; this needs none (ruin and recreate: Schrimpf et al. 2000,
J. of Computational Physics 159, cited from memory).
"""

from __future__ import annotations

import math

import numpy as np

from optimizer.packing.choice import Choice, dither_after_focus_s
from optimizer.packing.compiled import Bools, Floats, Ints
from optimizer.packing.paths import Path, PathRun
from optimizer.packing.relaxation import Relaxation
from optimizer.packing.reorder_search import reorder
from optimizer.packing.sequence_layout import MOST_RUNS, Runs, Sequence

DRAWS = 8  # random numbers of one try
WORK_OF_TRY = 1.2  # for each run that may be put in at a tick


def reorder_work(grid: Relaxation, tries: int) -> float:
    """About what so many tries take, in the unit of a pricing's work."""
    return WORK_OF_TRY * tries * grid.ticks * len(grid.graph.pair_s)


def reordered(grid: Relaxation, start: Choice, draws: Floats, bear: float, halt: Bools) -> Path | None:
    """The best path met on the way from a plan, one try for each row of `draws` [tries, DRAWS] in [0, 1).

    `bear`: the share of the worth that a try may lose and still be gone on from. `halt` [1] ends it early.
    """
    runs = _runs(grid)
    best, now, trial = (_no_sequence(runs.ticks) for _ in range(3))
    _take(grid, start, best)
    if best.size[0] == 0:
        return None
    reorder(runs, now, trial, best, draws, bear, halt)
    return _path(grid, best)


def _runs(grid: Relaxation) -> Runs:
    """Lengths and ways are rounded to the nearest tick: over a night that evens out."""
    graph, step_s, problem = grid.graph, grid.step_s, grid.problem
    carried_s = None if problem.request.focus.on_filter_change else problem.every_s

    def ticks(seconds: Ints) -> Ints:
        return (2 * seconds + step_s) // (2 * step_s)

    return Runs(
        ticks=grid.ticks,
        pair_ticks=np.maximum(1, ticks(graph.pair_s)),
        pair_starts=graph.pair_starts,
        slot=graph.entry_slot,
        task=graph.entry_task,
        opens=-(-graph.open_s // step_s),
        closes=grid.close_ticks,
        arrives=-(-graph.arrive_s // step_s),
        ways=np.where(graph.ways_s < graph.no_way_s, ticks(graph.ways_s), grid.no_way),
        within=np.where(graph.within_s < graph.no_way_s, ticks(graph.within_s), grid.no_way),
        worths=grid.worths,
        most=grid.most_worths,
        frame_ticks=np.array([entry.task.frame_s / step_s for entry in grid.entries]),
        every_ticks=math.inf if carried_s is None else carried_s / step_s,
        pause_ticks=(problem.lengths.focus + dither_after_focus_s(problem)) / step_s,
        caps=np.array([task.frames_left for task in problem.tasks], dtype=np.int64),
    )


def _no_sequence(ticks: int) -> Sequence:
    return Sequence(
        size=np.zeros(1, dtype=np.int64),
        entry=np.zeros(MOST_RUNS, dtype=np.int64),
        limit=np.zeros(MOST_RUNS, dtype=np.int64),
        frames=np.zeros(MOST_RUNS, dtype=np.int64),
        begins=np.zeros(MOST_RUNS, dtype=np.int64),
        extra=np.zeros(MOST_RUNS, dtype=np.int64),
        before=np.zeros((MOST_RUNS + 1, ticks)),
        after=np.zeros((MOST_RUNS + 1, ticks)),
    )


def _take(grid: Relaxation, plan: Choice, into: Sequence) -> None:
    """The runs of a plan as a sequence, each as long as it is; as many as there is room for."""
    runs = grid.graph.runs_of(plan)[: MOST_RUNS - 1]
    into.size[0] = len(runs)
    for place, (entry, frames) in enumerate(runs):
        into.entry[place], into.limit[place], into.frames[place] = entry, frames, frames


def _path(grid: Relaxation, sequence: Sequence) -> Path:
    graph, runs = grid.graph, []
    for place in range(int(sequence.size[0])):
        entry = graph.entries[int(sequence.entry[place])]
        begins = graph.zero_s + int(sequence.begins[place]) * grid.step_s
        frames = int(sequence.frames[place])
        runs.append(PathRun(graph.slots[entry.slot].index, entry.task.index, entry.span, frames, begins))
    return Path(0.0, 0.0, tuple(runs))
