"""Goals that the odds of clear sky leave short: where a sub counts anything at all, and what to say of it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from optimizer.models.shots import UnplannedReason
from optimizer.problem import Problem, Slot, Span, only_slots
from optimizer.problem.tasks import Task
from optimizer.sky.gathered import GatheredCurve
from optimizer.sky.windows import SkyWindows

WHILE_COUNTING = "while a sub of it counts anything by the odds of clear sky given"


def counting_only(problem: Problem) -> Problem:
    """The same night with the shutter open only where a frame counts anything; itself if all of it does."""
    if not problem.by_time:
        return problem
    slots = [_cut(problem, slot) for slot in problem.slots]
    if all(cut is slot for cut, slot in zip(slots, problem.slots, strict=True)):
        return problem
    return only_slots(replace(problem, slots=tuple(slots)), lambda slot: bool(slot.shutter))


def _cut(problem: Problem, slot: Slot) -> Slot:
    shutter = {}
    for index, spans in slot.shutter.items():
        task = problem.tasks[index]
        shutter[index] = tuple(piece for span in spans for piece in _counting(task, span))
    if shutter == slot.shutter:
        return slot
    return replace(slot, shutter={index: spans for index, spans in shutter.items() if spans})


def _counting(task: Task, span: Span) -> Iterator[Span]:
    """Parts of a span in which the shutter may open for frames that count, and close after each."""
    assert task.profit_by_start is not None
    first, opens_last = span[0], span[1] - task.shutter_s
    counts = task.profit_by_start[first : opens_last + 1] > 0
    if not counts.size or counts.all():
        yield span
        return
    edges = np.flatnonzero(np.diff(np.concatenate([[False], counts, [False]]).astype(np.int8)))
    for begins, ends in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        yield first + begins, first + ends - 1 + task.shutter_s


def is_cut(problem: Problem, counting: Problem, task: Task) -> bool:
    """Whether the odds leave seconds of a task's windows in which its frames count nothing."""

    def spans(each: Problem) -> list[tuple[Span, ...]]:
        return [slot.shutter[task.index] for slot in each.slots_by_task.get(task.index, ())]

    return counting is not problem and spans(counting) != spans(problem)


def counts_nothing(windows: SkyWindows, task: Task) -> tuple[UnplannedReason, str]:
    """The reason and the sentence for a goal of which no frame counts anything."""
    most = 1.0 if windows.odds is None else _most_odds(windows, windows.odds, task)
    if most <= 0:
        return "clear_odds", (
            "the odds of clear sky given are 0 % whenever its shutter may be open; "
            "only odds above 0 % then would let it be planned"
        )
    less = "count less than a thousandth of a weighted second"
    if most >= 1:  # no better odds would help
        return "night_full", (
            f"its subs would {less} each tonight; a higher weight or longer subs would let it be planned"
        )
    percent = f"{100 * most:.{3 if most >= 0.1 else 2}g}"
    return "clear_odds", (
        f"the odds of clear sky given, at most {percent} % while its shutter may be open, make a sub "
        f"of it {less}; better odds, a higher weight or longer subs would let it be planned"
    )


def _most_odds(windows: SkyWindows, odds: GatheredCurve, task: Task) -> float:
    """The highest odds, 0 to 1, while a task's shutter may be open."""
    each = np.diff(odds.gathered_s)
    open_windows = windows[task.target.name].shutter[task.goal.filter]
    spans = [each[math.floor(window.start_s) : math.ceil(window.end_s)] for window in open_windows]
    return max(float(span.max(initial=0.0)) for span in spans)
