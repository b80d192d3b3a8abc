"""The profit that no plan of a night exceeds, by sums alone: known at once, before any labelling."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from optimizer.mount.axes import SAFETY_S
from optimizer.packing.bound.progress import Progress
from optimizer.packing.compiled import Floats
from optimizer.problem import Problem
from optimizer.problem.tasks import Task


def ceiling(problem: Problem) -> int:
    """No plan has more profit than this: the least of three sums.

    All that is wanted; the seconds in which some shutter may be open, each at the most that any goal open
    then brings (so never above all of them times the greatest weight); and the goals in the order of what
    their frames bring for their time, a part of their target's arrival included, until the night is full. In
    the last two, frames of filter sets count what the first frames of the night bring, or their plain profit,
    whichever comes to less.
    """
    wanted = {task.index for task in problem.tasks if task.frames_left > 0}
    if not any(wanted.intersection(slot.shutter) for slot in problem.slots):
        return 0
    least, progress = problem.most_profit, Progress.of(problem)
    for prices in (progress.even, progress.at_first) if progress.in_set.any() else (progress.even,):
        worth = progress.plain + prices  # of a unit of profit, by task
        given = progress.given(prices)
        by_seconds = float(_brought_by_second(problem, worth).sum())
        by_frames = _by_frames(problem, worth)
        least = min(least, rounded_down(by_seconds + given), rounded_down(by_frames + given))
    return least


def _brought_by_second(problem: Problem, worth: Floats) -> Floats:
    """The most profit of a second of open shutter, for each second of the night; 0 where all is shut."""
    brings: dict[tuple[int, int], float] = {}
    for slot in problem.slots:
        for index, spans in slot.shutter.items():
            task = problem.tasks[index]
            each = float(worth[index]) * task.profit / task.shutter_s
            for span in spans:
                brings[span] = max(brings.get(span, 0.0), each)
    most = np.zeros(max((closes for _, closes in brings), default=0))
    for (opens, closes), each in brings.items():
        np.maximum(most[opens:closes], each, out=most[opens:closes])
    return most


def first_duals(problem: Problem) -> tuple[Floats, float]:
    """Duals of a frame of each task [tasks] and of a second of the night, at which both sums come out equal.

    A second brings what the last goal that fits brings for its time, a frame what it has beyond that.
    """
    offers, left_s = _offers(problem)
    second, duals = 0.0, np.zeros(len(problem.tasks))
    for cost_s, task in offers:
        left_s -= task.frames_left * cost_s
        if left_s <= 0:
            second = task.profit / cost_s
            break
    for cost_s, task in offers:
        duals[task.index] = max(0.0, task.profit - second * cost_s)
    return duals, second


def _by_frames(problem: Problem, worth: Floats | None = None) -> float:
    """Profit of the goals in the order of what a frame brings for its time, until the night is full.

    A unit of profit counts its `worth` [tasks], if that is given.
    """
    offers, left_s = _offers(problem)
    if worth is not None:
        offers.sort(key=lambda offer: -float(worth[offer[1].index]) * offer[1].profit / offer[0])
    total = 0.0
    for cost_s, task in offers:
        frames = min(float(task.frames_left), left_s / cost_s)
        total += frames * task.profit * (1.0 if worth is None else float(worth[task.index]))
        left_s -= frames * cost_s
    return total


def _offers(problem: Problem) -> tuple[list[tuple[float, Task]], float]:
    """What a frame of each goal costs in seconds, those that bring most for them first, and all seconds.

    A target of which K frames are wanted costs an arrival, so each of its frames at least a K-th of one; and
    a goal of k frames a change to it, unless it is the arrival's: a k-th for each. The first arrival at a
    target is always by a slew, but for that where the mount stands as the plan begins: its arrival costs
    nothing, and the filter that is in needs no change. Frames, changes and arrivals lie one after the other
    between the first opening and the last tail, but for the arrival before the first frame.
    """
    taking = sorted({index for slot in problem.slots for index in slot.shutter})
    of_target: dict[str, list[Task]] = {}
    for index in taking:
        if not problem.tasks[index].frames_left:
            continue
        of_target.setdefault(problem.tasks[index].target.name, []).append(problem.tasks[index])
    offers, first_s, stands = list[tuple[float, Task]](), 0, problem.start.slot
    for tasks in of_target.values():
        ready_s = _ready_s(problem)
        changes_s = [_change_s(problem, task, tasks) for task in tasks]
        beyond_s = min(ready_s + task.change_s - each for task, each in zip(tasks, changes_s, strict=True))
        if stands is not None and stands.target.name == tasks[0].target.name:
            filter_in, beyond_s = problem.start.filter, 0
            changes_s = [
                0 if task.goal.filter == filter_in else each
                for task, each in zip(tasks, changes_s, strict=True)
            ]
        wanted = sum(task.frames_left for task in tasks)
        first_s = max(first_s, beyond_s + max(changes_s))
        for task, change_s in zip(tasks, changes_s, strict=True):
            cost_s = task.frame_s + change_s / task.frames_left + beyond_s / wanted
            offers.append((cost_s, task))
    spans = [span for slot in problem.slots for spans in slot.shutter.values() for span in spans]
    left_s = float(max(closes for _, closes in spans) - min(opens for opens, _ in spans))
    left_s += first_s + max(task.tail_s for _, task in offers)
    return sorted(offers, key=lambda offer: -offer[1].profit / offer[0]), left_s


def _ready_s(problem: Problem) -> int:
    """Seconds of an arrival by slew at least, from leaving to the first shutter, but no filter's change."""
    focus_s = problem.rules.focus_s if problem.focuses_on_arrival(False, True) else 0
    slew_s = math.ceil(problem.rules.slew_extra_s + SAFETY_S)
    return slew_s + problem.rules.centre_s + problem.rules.settle_s + focus_s


def _change_s(problem: Problem, task: Task, tasks: Sequence[Task]) -> int:
    """Seconds before a goal's run in a visit that has begun; 0 where another goal may leave its filter in."""
    if any(other.goal.filter == task.goal.filter for other in tasks if other.index != task.index):
        return 0
    return task.change_s + (problem.rules.focus_s if problem.rules.focus_on_filter_change else 0)


def rounded_down(profit: float) -> int:
    """A bound in whole units of profit, with room for what sums of floating numbers lose."""
    return math.floor(profit * (1 + 1e-11) + 1e-6)
