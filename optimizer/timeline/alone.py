"""What some goals of one target get in a night that has nothing else to do: at least, and at most."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from optimizer.packing.bound.bounds import first_bounds
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.packing.plan import Plan
from optimizer.packing.search.construct import constructed, following
from optimizer.problem import Problem, Slot, Span, only_tasks
from optimizer.problem.tasks import Task
from optimizer.timeline.totals import frames_planned

MOST_COLUMNS = 6  # of a bound's columns that are followed: those of greatest share
BOUND_S = 0.02  # of counted work


def frames_alone(
    problem: Problem,
    tasks: Sequence[Task],
    least_min: float | None = None,
    *,
    thorough: bool = False,
    enough: int | None = None,
) -> Counter[int]:
    """Count the frames by task of a plan made for these tasks alone: so many fit together, more may.

    `least_min`, in minutes, takes the place of their target's own. With `thorough` more plans are tried where
    not all fits at once. No more than `enough` frames of a task are asked for, or than a least visit takes.
    """
    lonely = only_tasks(problem, {task.index for task in tasks})
    if enough is not None:
        fewer = list(lonely.tasks)
        for task in tasks:
            visit = math.ceil(60 * _least_min(task, least_min) / task.goal.exposure_s)
            fewer[task.index] = replace(task, frames_left=min(task.frames_left, max(enough, visit)))
        lonely, tasks = replace(lonely, tasks=tuple(fewer)), [fewer[task.index] for task in tasks]
    if least_min is not None:
        slots = (
            replace(slot, target=slot.target.model_copy(update={"least_min": least_min}))
            for slot in lonely.slots
        )
        lonely = replace(lonely, slots=tuple(slots))
    wanted_s = open_s(tasks, {task.index: task.frames_left for task in tasks})
    best: Counter[int] = Counter()
    for plan in _plans(lonely, thorough=thorough):
        best = max(best, frames_planned(plan), key=lambda frames: open_s(tasks, frames))
        if open_s(tasks, best) == wanted_s:
            break
    return best


def _least_min(task: Task, least_min: float | None) -> float:
    return task.target.least_min if least_min is None else least_min


def open_s(tasks: Sequence[Task], frames: Mapping[int, int]) -> float:
    """Add up the seconds of open shutter of frames by task, of these tasks alone."""
    return sum(task.goal.exposure_s * frames.get(task.index, 0) for task in tasks)


def _plans(lonely: Problem, *, thorough: bool) -> Iterable[Plan]:
    yield constructed(lonely)
    if not lonely.slots or not thorough:
        return
    yield constructed(lonely, heaviest_first=True)
    *_, bound = first_bounds(RunGraph(lonely), Budget(BOUND_S, deterministic=True))
    for column in bound.columns[:MOST_COLUMNS]:
        yield following(lonely, column.draft())


def most_alone(problem: Problem, task: Task) -> int:
    """Most frames of a task in any plan of the night: what its windows hold once it is on target."""
    slots = problem.slots_by_task.get(task.index, ())
    spans = [span for slot in slots if not slot.copy for span in _usable(problem, slot, task)]
    return min(task.frames_left, sum(_most(problem, task, last - first) for first, last in _joined(spans)))


def most_open_s(problem: Problem, slot: Slot) -> float:
    """Most seconds of open shutter that any visit of a slot can have, whatever else is planned.

    What a visit has had that goes on as the plan begins is counted.
    """
    spans = [span for task in slot.shutter for span in _usable(problem, slot, problem.tasks[task])]
    wanted_s = sum(
        problem.tasks[task].frames_left * problem.tasks[task].goal.exposure_s for task in slot.shutter
    )
    had_s = problem.start.open_s if problem.start.stays_in(slot) else 0.0
    return had_s + min(wanted_s, float(sum(last - first for first, last in _joined(spans))))


def _usable(problem: Problem, slot: Slot, task: Task) -> list[Span]:
    """Shutter spans from the first second at which a task's shutter can open after arriving at once."""
    if task.index not in slot.shutter:
        return []
    rules = problem.rules
    before = (problem.start.slot, *problem.slots_by_target[slot.target.name])
    by_flip = any(problem.flips_between(other, slot) for other in before)
    opens, stays = slot.work[0], problem.start.stays_in(slot)
    if not stays:
        opens += rules.centre_s + rules.settle_s
    if not (by_flip or stays):  # else the filter and the focus may be those of before
        opens += task.change_s + (rules.focus_s if problem.focuses_on_arrival(False, True) else 0)
    spans = [(max(first, opens), last) for first, last in slot.shutter[task.index]]
    return [(first, last) for first, last in spans if last - first >= task.shutter_s]


def _joined(spans: Sequence[Span]) -> list[Span]:
    """Join the spans that touch each other."""
    joined: list[Span] = []
    for first, last in sorted(spans):
        if joined and first <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(last, joined[-1][1]))
        else:
            joined.append((first, last))
    return joined


def _most(problem: Problem, task: Task, seconds: int) -> int:
    """Most frames of a task whose shutters open and close within so many seconds, focus runs as due."""
    frames, low, high = 0, 1, seconds // task.shutter_s
    while low <= high:
        middle = (low + high) // 2
        if _least_s(problem, task, middle) <= seconds:
            frames, low = middle, middle + 1
        else:
            high = middle - 1
    return frames


def _least_s(problem: Problem, task: Task, frames: int) -> int:
    """Least seconds from the first shutter opening to the last closing; no dither comes between segments."""
    most = max(1, problem.run_lengths.first_segment_most(task))
    whole, rest = divmod(frames, most)
    segments = [most] * whole + ([rest] if rest else [])
    between_s = (len(segments) - 1) * (task.tail_s + problem.rules.focus_s)
    return sum(problem.run_lengths.segment_s(task, each) for each in segments) + between_s
