"""What a path of the relaxation is made of: windows with the runs that fit into them, and ways between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.problem import Problem, Slot
from optimizer.problem.tasks import Task
from optimizer.problem.transitions import transition


@dataclass(frozen=True)
class Entry:
    """One window of one task in one slot."""

    slot: int  # position among the slots of the relaxation
    task: Task
    span: int
    opens: int
    opens_on_arrival: int
    closes: int  # a run's last download has ended
    within_visit_s: int | None  # between runs of one visit; None: no other run can come before
    filter_shared: bool  # with another goal of the slot: a run may come before it without a change
    lengths_s: tuple[int, ...]  # of 1, 2, ... frames with their downloads


def entries_of(problem: Problem, position: int, slot: Slot) -> list[Entry]:
    """All windows of a slot, which stands at a position among those of the relaxation."""
    found = []
    for index, spans in slot.shutter.items():
        task = problem.tasks[index]
        arrival_s = slot.work[0] + least_arrival_s(problem, slot, task)
        for number, (opens, closes) in enumerate(spans):
            found.append(
                Entry(
                    slot=position,
                    task=task,
                    span=number,
                    opens=opens,
                    opens_on_arrival=max(opens, arrival_s),
                    closes=closes + task.download_s,
                    within_visit_s=_within_visit_s(problem, slot, task),
                    filter_shared=_filter_shared(problem, slot, task),
                    lengths_s=_lengths_s(problem, task, closes - opens),
                )
            )
    return found


def _lengths_s(problem: Problem, task: Task, seconds: int) -> tuple[int, ...]:
    """Lengths, last download included, of all runs that fit into so many seconds.

    Less the time for dithers that another cut into as many segments could save at most: a segment of x frames
    has floor((x - 1) / every) dithers, so n frames in k segments have at least n / every - k.
    """
    most = min(task.frames_left, (seconds + task.download_s) // task.frame_s)
    lengths, segments = problem.run_lengths.runs_s(task, most)
    every = problem.rules.dither_every
    if every:
        frames = np.arange(1, len(lengths) + 1)
        least = np.maximum(0, -(-frames // every) - segments)
        between_s = problem.rules.focus_s + problem.run_lengths.dither_after_focus_s + task.download_s
        lengths = frames * task.frame_s - segments * task.download_s + (segments - 1) * between_s
        lengths = lengths + least * problem.rules.dither_s
    return tuple((lengths[lengths <= seconds] + task.download_s).tolist())


def _within_visit_s(problem: Problem, slot: Slot, task: Task) -> int | None:
    """Least time between another run's last download and this task's first shutter, in one visit."""
    others = [problem.tasks[index] for index in slot.shutter if index != task.index]
    if not others:
        return None
    if _filter_shared(problem, slot, task):
        return 0
    focus_s = problem.rules.focus_s if problem.rules.focus_on_filter_change else 0
    return task.change_s + focus_s


def _filter_shared(problem: Problem, slot: Slot, task: Task) -> bool:
    others = [problem.tasks[index] for index in slot.shutter if index != task.index]
    return any(other.goal.filter == task.goal.filter for other in others)


def least_arrival_s(problem: Problem, slot: Slot, task: Task) -> int:
    """Least time from the target's first second to the first shutter after an arrival, by slew or by flip."""
    acquire_s = problem.rules.centre_s + problem.rules.settle_s
    by_slew = task.change_s + _focus_s(problem, flips=False, changes=True)
    if slot.side != "east":
        return acquire_s + by_slew
    return acquire_s + min(by_slew, _focus_s(problem, flips=True, changes=False))


def way_s(problem: Problem, before: Slot, after: Slot, task: Task) -> int:
    """Least time from the last download in one slot to the first shutter in another."""
    flips = problem.flips_between(before, after)
    seconds = transition(problem, before, after).at_once_s + problem.acquisition_s(before, after)
    changes = not flips or all(
        problem.tasks[index].goal.filter != task.goal.filter for index in before.shutter
    )
    return seconds + (task.change_s if changes else 0) + _focus_s(problem, flips=flips, changes=changes)


def _focus_s(problem: Problem, *, flips: bool, changes: bool) -> int:
    return problem.rules.focus_s if problem.focuses_on_arrival(flips, changes) else 0
