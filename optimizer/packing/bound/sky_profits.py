"""Most profit of a run where the sky decides: no plan's run of as many frames has more in the same time.

A run that ends at a tick began within one tick of its planned begin, and its frames lie where the segments
put them (`RunLengths.places_s`). Each frame counts the most profit that any of these seconds gives it.

A run that one focus run serves counts its frames where they lie then. With a focus run inside, all the same,
it lasts so much longer that the path's shorter run may stand at the begin or at the end of its time. It
stands where its own profit is greater, which as the sky rises or sets is hardly less than that of the other.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.compiled import Floats, Ints
from optimizer.problem import Problem
from optimizer.problem.tasks import Task

MOST_CACHED = 200  # rows of a task's profits over a night, half a megabyte each
ShortFloats = NDArray[np.float32]


def profits_by_sky(graph: RunGraph, step_s: int, option_ticks: Ints, ticks: int) -> ShortFloats:
    """Most profit of each run by the tick at which it ends, [options, ticks], never rounded down.

    `option_ticks` [options] holds the lengths of the runs on the grid of `step_s` seconds.
    """
    problem = graph.problem
    profits = np.zeros((len(graph.option_node), ticks), dtype=np.float32)
    bests = _BestOfFrames(graph.zero_s, step_s, ticks)
    for number, node in enumerate(graph.nodes):
        task, start = node.task, int(graph.option_starts[number])
        unbroken_most, longer_s = _unbroken(problem, task)
        unbroken, total = np.zeros(ticks), np.zeros(ticks)  # of the frames so far, by the begin
        for frame in range(len(node.lengths_s)):
            earliest_s, latest_s = problem.run_lengths.places_s(task, frame)
            lasts = int(option_ticks[start + frame])
            if frame < unbroken_most:
                place_s = problem.run_lengths.unbroken_place_s(task, frame)
                unbroken = unbroken + bests.of(task, place_s, place_s)
                total = total + bests.of(task, place_s, max(place_s, latest_s))
                by_begin = _raised(unbroken, total, longer_s // step_s)
            else:
                by_begin = total = total + bests.of(task, earliest_s, latest_s)
            profits[start + frame, lasts:] = rounded_up(by_begin[: ticks - lasts])
    return profits


class _BestOfFrames:
    """Most profit of single frames by the tick of their run's begin, kept while they are asked for again."""

    def __init__(self, zero_s: int, step_s: int, ticks: int) -> None:
        self.zero_s, self.step_s, self.night_s = zero_s, step_s, ticks * step_s
        self.cached: dict[tuple[int, int], Ints] = {}

    def of(self, task: Task, earliest_s: int, latest_s: int) -> Ints:
        """Most profit of a frame whose shutter opens so long after a run's begin in each tick, [ticks]."""
        reach_s = self.step_s + latest_s - earliest_s
        if (task.index, reach_s) not in self.cached:
            assert task.profit_by_start is not None
            if len(self.cached) == MOST_CACHED:
                self.cached.clear()
            best = _most_within(task.profit_by_start, reach_s)[self.zero_s :]
            more = max(0, 2 * self.night_s - len(best))
            self.cached[task.index, reach_s] = np.pad(best, (0, more), mode="edge")
        return self.cached[task.index, reach_s][earliest_s : earliest_s + self.night_s : self.step_s]


def _unbroken(problem: Problem, task: Task) -> tuple[int, int]:
    """Most frames of a run without a focus run inside, and how much longer it lasts at least with one.

    The dither after such a focus run saves at most one dither later on. Both are 0 without a cadence: then
    all places are certain.
    """
    if problem.rules.focus_every_s is None:
        return 0, 0
    return problem.run_lengths.first_segment_most(task), problem.rules.focus_s


def _raised(unbroken: Floats, broken: Floats, ticks: int) -> Floats:
    """Profit of a run by its begin, raised so far that it covers one with a pause, so many ticks longer.

    For each begin of the longer run that is either the same tick or the one at which both end.
    """
    later = np.append(unbroken[ticks:], np.full(min(ticks, len(unbroken)), -np.inf))
    at_end = later > unbroken
    raised = np.maximum(unbroken, np.where(at_end, 0.0, broken))
    ended = np.where(at_end, broken, 0.0)
    raised[ticks:] = np.maximum(raised[ticks:], ended[: len(raised[ticks:])])
    return raised


def rounded_up(values: Floats) -> ShortFloats:
    """Numbers of half the length, none less than it was."""
    short = values.astype(np.float32)
    return np.where(short < values, np.nextafter(short, np.float32(np.inf)), short)


def _most_within(values: Ints, length: int) -> Ints:
    """Greatest of values[i : i + length], by doubling; the stretches are cut at the end."""
    most, reach = values, 1
    while reach < length:
        ahead = min(reach, length - reach)
        padded = np.concatenate([most[ahead:], np.full(ahead, np.iinfo(np.int64).min)])
        most = np.maximum(most, padded)
        reach += ahead
    return most
