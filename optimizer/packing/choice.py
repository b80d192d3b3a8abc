"""What a packing decides: visits in order, each with runs in order, each cut into segments by focus runs."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.problem import Problem, Span, Task


@dataclass(frozen=True)
class RunChoice:
    """Exposures of one task; a focus run lies between its segments, and before them if `focus_first`."""

    task: int
    segments: tuple[int, ...]
    span: Span
    focus_first: bool

    @property
    def frames(self) -> int:
        """All exposures of the run."""
        return sum(self.segments)


@dataclass(frozen=True)
class VisitChoice:
    """One slot with its runs in order."""

    slot: int
    runs: tuple[RunChoice, ...]


Choice = tuple[VisitChoice, ...]


def worth_of(problem: Problem, choice: Choice) -> int:
    """Value of a choice in units of worth."""
    return sum(problem.tasks[run.task].worth * run.frames for visit in choice for run in visit.runs)


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


def run_s(problem: Problem, task: Task, segments: tuple[int, ...]) -> int:
    """Seconds from the first shutter opening of a run to its last shutter closing."""
    between_s = task.download_s + problem.lengths.focus + dither_after_focus_s(problem)
    return sum(segment_s(problem, task, frames) for frames in segments) + (len(segments) - 1) * between_s


def cut_into_segments(problem: Problem, task: Task, frames: int, first_most: int) -> tuple[int, ...]:
    """Segments with each focus run as late as the cadence allows."""
    segments = [min(frames, first_most)]
    later_most = later_segment_most(problem, task)
    while (left := frames - sum(segments)) > 0:
        segments.append(min(left, later_most))
    return tuple(segments)
