"""Most that a run may be worth where the sky decides, for the bound: no plan's run is worth more.

A run that ends at a tick began within one tick of its planned begin, and its frames lie where the segments
put them: no sooner than with the fewest focus runs before each, no later than with one more (a first segment
of one frame). Each frame counts the best worth that any of these seconds gives it.

A run that one focus run serves counts its frames where they lie then. With a focus run inside, all the same,
it lasts so much longer that the path's shorter run may stand at the begin or at the end of its time. It
stands where its own worth is greater, which as the sky rises or sets is hardly less than that of the other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from optimizer.problem import Problem, least_pauses
from optimizer.problem.tasks import Ints, Task

if TYPE_CHECKING:
    from optimizer.packing.bound.time_graph import TimeExpandedGraph

MOST_KNOWN = 200  # of a task's worths over a night, half a megabyte each
Floats = NDArray[np.float64]
ShortFloats = NDArray[np.float32]


def profits_by_sky(grid: TimeExpandedGraph) -> ShortFloats:
    """Most worth of each pair's run by the tick at which it ends, [pairs, ticks], never rounded down."""
    problem, step_s = grid.problem, grid.step_s
    found = np.zeros((len(grid.graph.pair_entry), grid.ticks), dtype=np.float32)
    night_s = grid.ticks * step_s
    known: dict[tuple[int, int], Ints] = {}

    def best_of(task: Task, earliest_s: int, latest_s: int) -> Ints:
        """Most that a frame is worth whose shutter opens so long after a run's begin in each tick."""
        reach_s = step_s + latest_s - earliest_s
        if (task.index, reach_s) not in known:
            assert task.profit_by_start is not None
            if len(known) == MOST_KNOWN:
                known.clear()
            best = _most_within(task.profit_by_start, reach_s)[grid.graph.zero_s :]
            known[task.index, reach_s] = np.pad(best, (0, max(0, 2 * night_s - len(best))), mode="edge")
        return known[task.index, reach_s][earliest_s : earliest_s + night_s : step_s]

    for number, entry in enumerate(grid.entries):
        task, start = entry.task, int(grid.graph.pair_starts[number])
        unbroken_most, longer_s = _unbroken(problem, task)
        unbroken, total = np.zeros(grid.ticks), np.zeros(grid.ticks)  # of the frames so far, by the begin
        for frame in range(len(entry.lengths_s)):
            earliest_s, latest_s = _places_s(problem, task, frame)
            lasts = int(grid.pair_ticks[start + frame])
            if frame < unbroken_most:
                place_s = _unbroken_place_s(problem, task, frame)
                unbroken = unbroken + best_of(task, place_s, place_s)
                total = total + best_of(task, place_s, max(place_s, latest_s))
                profits = _raised(unbroken, total, longer_s // step_s)
            else:
                profits = total = total + best_of(task, earliest_s, latest_s)
            found[start + frame, lasts:] = _rounded_up(profits[: grid.ticks - lasts])
    return found


def _unbroken(problem: Problem, task: Task) -> tuple[int, int]:
    """Most frames of a run without a focus run inside, and how much longer it lasts at least with one.

    A pause that restarts the count to the next dither saves one dither at most. Nothing of both without a
    cadence: then all places are known.
    """
    if problem.rules.focus_every_s is None:
        return 0, 0
    longer_s = problem.rules.focus_s + problem.run_lengths.dither_after_focus_s
    longer_s -= problem.rules.dither_s if problem.rules.dither_every else 0
    return (problem.run_lengths.first_segment_most(task), longer_s) if longer_s >= 0 else (0, 0)


def _raised(unbroken: Floats, broken: Floats, ticks: int) -> Floats:
    """Worth of a run by its begin, raised so far that it covers one with a pause, so many ticks longer.

    For each begin of the longer run either the same tick or that at which both end.
    """
    later = np.append(unbroken[ticks:], np.full(min(ticks, len(unbroken)), -np.inf))
    at_end = later > unbroken
    found = np.maximum(unbroken, np.where(at_end, 0.0, broken))
    ended = np.where(at_end, broken, 0.0)
    found[ticks:] = np.maximum(found[ticks:], ended[: len(found[ticks:])])
    return found


def _rounded_up(values: Floats) -> ShortFloats:
    found = values.astype(np.float32)
    return np.where(found < values, np.nextafter(found, np.float32(np.inf)), found)


def _unbroken_place_s(problem: Problem, task: Task, frame: int) -> int:
    return problem.run_lengths.segment_s(task, frame + 1) - task.shutter_s


def _places_s(problem: Problem, task: Task, frame: int) -> tuple[int, int]:
    """Least and greatest time from a run's first shutter to this frame's (counted from 0)."""
    every, dither_s = problem.rules.dither_every, problem.rules.dither_s
    if problem.rules.focus_every_s is None:
        place = _unbroken_place_s(problem, task, frame)
        return place, place
    first_most, later_most = (
        problem.run_lengths.first_segment_most(task),
        problem.run_lengths.later_segment_most(task),
    )
    pause_s = problem.rules.focus_s + problem.run_lengths.dither_after_focus_s
    fewest = int(least_pauses(frame + 1, first_most, later_most))
    most_pauses = 1 + (frame - 1) // max(1, later_most) if frame else 0
    most_dithers = frame // every if every else 0
    least_dithers = max(0, -(-frame // every) - most_pauses - 1) if every else 0
    return (
        frame * task.frame_s + fewest * pause_s + least_dithers * dither_s,
        frame * task.frame_s + max(fewest, most_pauses) * pause_s + most_dithers * dither_s,
    )


def _most_within(values: Ints, length: int) -> Ints:
    """Greatest of values[i : i + length], by doubling; windows are cut at the end."""
    found, reach = values, 1
    while reach < length:
        ahead = min(reach, length - reach)
        padded = np.concatenate([found[ahead:], np.full(ahead, np.iinfo(np.int64).min)])
        found = np.maximum(found, padded)
        reach += ahead
    return found
