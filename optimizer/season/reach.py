"""How much of a goal the nights of a season could hold at most, were they all clear and all its own."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from optimizer.problem import Problem

Spans = list[tuple[int, int]]  # seconds of a night, apart and in order


def open_spans(problem: Problem, tasks: Iterable[int]) -> Spans:
    """When the shutter may be open for some of these tasks, on either pier side; spans that meet are one."""
    found = sorted(
        window
        for task in tasks
        for slot in problem.slots_by_task.get(task, ())
        for window in slot.shutter[task]
        if window[1] - window[0] >= problem.tasks[task].shutter_s
    )
    spans: Spans = []
    for start, end in found:
        if spans and start <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], end))
        else:
            spans.append((start, end))
    return spans


def most_frames(problem: Problem, task: int) -> int:
    """Frames of a task that fit into a night at most, one after the other with only their tails between.

    A frame lies in one window, and no two shutters open sooner after one another than a frame takes.
    """
    own = problem.tasks[task]
    return sum((end - start + own.tail_s) // own.frame_s for start, end in open_spans(problem, (task,)))


def open_s(problem: Problem, tasks: Sequence[int]) -> int:
    """Seconds of a night in which some of these tasks may be shot."""
    return sum(end - start for start, end in open_spans(problem, tasks))
