"""What no plan of a night can be worth, by sums alone: known at once, before any path is priced."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np

from optimizer.mount.axes import SAFETY_S
from optimizer.problem import Problem

DAY_S = 86_400


def ceiling(problem: Problem) -> int:
    """No plan is worth more than this, in units of worth: the least of three sums.

    All that is wanted; the seconds in which some shutter may be open, each at the most that any goal open
    then brings (so never above all of them times the greatest weight); and the goals in the order of what
    their frames bring for their time, a part of their target's arrival included, until the night is full.
    """
    if not problem.slots:
        return 0
    return min(problem.most_worth, _rounded(_of_seconds(problem)), _rounded(_of_frames(problem)))


def open_seconds(problem: Problem) -> int:
    """The seconds of a night in which the shutter may be open for some goal."""
    return int(np.count_nonzero(_brought_by_second(problem)))


def _of_seconds(problem: Problem) -> float:
    return float(_brought_by_second(problem).sum())


def _brought_by_second(problem: Problem) -> np.ndarray:
    """The most that a second of open shutter brings, for each second of the night; 0 where all is shut."""
    brings: dict[tuple[int, int], float] = {}
    for slot in problem.slots:
        for index, spans in slot.shutter.items():
            task = problem.tasks[index]
            for span in spans:
                brings[span] = max(brings.get(span, 0.0), task.worth / task.shutter_s)
    found = np.zeros(max((closes for _, closes in brings), default=0))
    for (opens, closes), each in brings.items():
        np.maximum(found[opens:closes], each, out=found[opens:closes])
    return found


def _of_frames(problem: Problem) -> float:
    """A target of which K frames are wanted costs an arrival, so each of its frames at least a K-th of one.

    Frames and arrivals lie one after the other between the first opening and the last download, but for the
    arrival before the first frame. The first arrival at a target is always by a slew.
    """
    taking = sorted({index for slot in problem.slots for index in slot.shutter})
    tasks = [problem.tasks[index] for index in taking]
    wanted: Counter[str] = Counter()
    for task in tasks:
        wanted[task.target.name] += task.frames_left
    lengths, mount = problem.lengths, problem.request.mount
    focus_s = lengths.focus if problem.focuses_on_arrival(False, True) else 0
    ready_s = math.ceil(mount.slew_extra_s + SAFETY_S) + lengths.centre + lengths.settle + focus_s
    arrival_s: dict[str, int] = {}
    for task in tasks:
        name = task.target.name
        arrival_s[name] = min(arrival_s.get(name, DAY_S), ready_s + task.change_s)
    spans = [span for slot in problem.slots for spans in slot.shutter.values() for span in spans]
    left_s = float(max(closes for _, closes in spans) - min(opens for opens, _ in spans))
    left_s += max(task.download_s for task in tasks) + max(arrival_s.values())
    costs = [task.frame_s + arrival_s[task.target.name] / wanted[task.target.name] for task in tasks]
    total = 0.0
    for cost_s, task in sorted(zip(costs, tasks, strict=True), key=lambda each: -each[1].worth / each[0]):
        frames = min(float(task.frames_left), left_s / cost_s)
        total += frames * task.worth
        left_s -= frames * cost_s
    return total


def _rounded(worth: float) -> int:
    """Down to whole units, with room for what sums of floating numbers lose."""
    return math.floor(worth * (1 + 1e-9) + 1e-6)
