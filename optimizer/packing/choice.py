"""What a packing decides: visits in order, each with runs in order, each cut into segments by focus runs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from optimizer.problem import Problem, Slot, Span
from optimizer.tasks import Ints, Task


@dataclass(frozen=True)
class RunChoice:
    """Exposures of one task; a focus run lies between its segments, and before them if `focus_first`.

    The first shutter opens no sooner than `not_before` (a focus run carried over a wait may not be early).
    """

    task: int
    segments: tuple[int, ...]
    span: Span
    focus_first: bool
    not_before: int = 0

    @property
    def frames(self) -> int:
        """All exposures of the run."""
        return sum(self.segments)


@dataclass(frozen=True)
class VisitChoice:
    """One slot with its runs in order; no shutter opens sooner than `not_before` (the target shall rise)."""

    slot: int
    runs: tuple[RunChoice, ...]
    not_before: int = 0


Choice = tuple[VisitChoice, ...]


def as_early_as_possible(choice: Choice) -> Choice:
    """The same choice, free to begin each run as soon as its window opens."""
    return tuple(
        replace(visit, runs=tuple(replace(run, not_before=0) for run in visit.runs)) for visit in choice
    )


def without_waiting(choice: Choice) -> Choice:
    """The same choice, none of its visits waiting for its target to rise."""
    return tuple(replace(visit, not_before=0) for visit in choice)


def segment_s(problem: Problem, task: Task, frames: int) -> int:
    """Seconds from the first shutter opening of an unbroken segment to its last shutter closing."""
    every = problem.request.camera.dither_every
    dithers = (frames - 1) // every if every else 0
    return frames * task.frame_s - task.download_s + dithers * problem.lengths.dither


def dither_after_focus_s(problem: Problem) -> int:
    """A focus run inside a run is followed by a dither, where dithers are wanted at all."""
    return problem.lengths.dither if problem.request.camera.dither_every else 0


def most_frames(problem: Problem, task: Task, seconds: int, lead_s: int = 0) -> int:
    """Most exposures of an unbroken segment whose last shutter closes within `seconds - lead_s`."""
    low, high = 0, max(0, (seconds - lead_s + task.download_s) // task.frame_s)
    while low < high:
        middle = (low + high + 1) // 2
        if segment_s(problem, task, middle) <= seconds - lead_s:
            low = middle
        else:
            high = middle - 1
    return low


def first_segment_most(problem: Problem, task: Task) -> int:
    """Most exposures between a focus run that directly precedes a run and the next one."""
    if problem.every_s is None:
        return task.frames_left
    return min(task.frames_left, most_frames(problem, task, problem.every_s))


def later_segment_most(problem: Problem, task: Task) -> int:
    """Most exposures between two focus runs inside a run."""
    if problem.every_s is None:
        return task.frames_left
    return min(task.frames_left, most_frames(problem, task, problem.every_s, dither_after_focus_s(problem)))


def least_pauses(frames: Ints | int, first_most: int, later_most: int) -> Ints:
    """Focus runs inside a run of so many frames at least, by the most frames of its segments."""
    return np.asarray(np.maximum(0, -(-(frames - first_most) // max(1, later_most))))


def run_s(problem: Problem, task: Task, segments: tuple[int, ...]) -> int:
    """Seconds from the first shutter opening of a run to its last shutter closing."""
    between_s = task.download_s + problem.lengths.focus + dither_after_focus_s(problem)
    return sum(segment_s(problem, task, frames) for frames in segments) + (len(segments) - 1) * between_s


def runs_s(problem: Problem, task: Task, most: int) -> tuple[Ints, Ints]:
    """Of runs of 1, 2, ... up to `most` frames after a focus run: as `run_s`, and how many segments each has.

    Each cut as `cut_into_segments` does; fewer where the cadence allows no second segment.
    """
    first_most = first_segment_most(problem, task)
    later_most = later_segment_most(problem, task) if most > first_most else 1
    if later_most == 0:
        most = first_most
    frames = np.arange(1, most + 1)
    first = np.minimum(frames, first_most)
    whole, last = np.divmod(frames - first, max(1, later_most))
    segments = 1 + whole + (last > 0)
    every = problem.request.camera.dither_every
    dithers = np.zeros_like(frames)
    if every:
        later = (last - 1) // every * (last > 0) + whole * ((max(1, later_most) - 1) // every)
        dithers = (first - 1) // every + later
    between_s = problem.lengths.focus + dither_after_focus_s(problem)
    open_s = frames * task.frame_s - task.download_s + dithers * problem.lengths.dither
    return np.asarray(open_s + (segments - 1) * between_s), np.asarray(segments)


def cut_into_segments(problem: Problem, task: Task, frames: int, first_most: int) -> tuple[int, ...]:
    """Segments with each focus run as late as the cadence allows.

    Fewer frames than asked where the cadence allows no second segment (a dither and a frame outlast it).
    """
    first = min(frames, first_most)
    later_most = later_segment_most(problem, task) if first < frames else 0
    if later_most == 0:
        return (first,)
    whole, last = divmod(frames - first, later_most)
    return (first, *[later_most] * whole, *([last] if last else []))


def focus_may_be_carried(problem: Problem) -> bool:
    """Whether a cadence is asked for and some run may begin without a focus run of its own."""
    if problem.every_s is None:
        return False
    focus, mount = problem.request.focus, problem.request.mount
    if not (focus.on_new_target or focus.on_filter_change):
        return True
    if mount.flips and not mount.refocus_after_flip:
        return True
    filters = [[problem.tasks[task].goal.filter for task in slot.shutter] for slot in problem.slots]
    if not focus.on_filter_change:
        return any(len(names) > 1 for names in filters)
    return any(len(set(names)) < len(names) for names in filters)


def order_is_free(problem: Problem, slot: Slot) -> bool:
    """Whether runs with the same windows may change places within a visit, its first and last left alone.

    So where each takes its own change of filter and focus run with it, has one window only, and times make
    no worth.
    """
    filters = [problem.tasks[task].goal.filter for task in slot.shutter]
    one_window = all(len(spans) == 1 for spans in slot.shutter.values())
    if problem.by_depth or len(set(filters)) < len(filters) or not one_window:
        return False
    return problem.every_s is None or problem.request.focus.on_filter_change


def in_file_order(problem: Problem, choice: Choice) -> Choice:
    """The choice with runs that may change places in the order of the file."""
    return tuple(
        replace(visit, runs=_in_file_order(problem.slots[visit.slot], visit.runs))
        if order_is_free(problem, problem.slots[visit.slot])
        else visit
        for visit in choice
    )


def _in_file_order(slot: Slot, runs: tuple[RunChoice, ...]) -> tuple[RunChoice, ...]:
    alike = groupby(runs[1:-1], key=lambda run: slot.shutter[run.task])
    between = [run for _, group in alike for run in sorted(group, key=lambda run: run.task)]
    return (*runs[:1], *between, *runs[1:][-1:])
