"""The rest of an older list as drafts in the slots and tasks of the night that goes on with it.

One holds what may be taken just when it was planned; the other all of it, to be taken sooner or later.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from optimizer.models.shots import Step
from optimizer.models.targets import GoalKey
from optimizer.packing.plan import Plan, draft
from optimizer.problem import Problem
from optimizer.problem.tasks import Task

Window = tuple[int, int, int]  # slot, task, number of the window among those of the task in the slot


@dataclass(frozen=True)
class OlderSteps:
    """Steps of an older list that were not done; `seconds` turns an instant into those after the origin."""

    steps: tuple[Step, ...]
    seconds: Callable[[dt.datetime], float]

    def drafts_in(self, problem: Problem) -> list[Plan]:
        """Drafts along the list: of what may be taken as it was planned, and of all of it."""
        return [self._draft(problem, late=late) for late in (False, True)]

    def plans_in(self, problem: Problem) -> list[Plan]:
        """None: the list need not keep every rule as it stands."""
        return []

    def duals_in(self, problem: Problem) -> Mapping[str, NDArray[np.float64]] | None:
        """None: a list says nothing of the duals of its bound."""
        return None

    def _draft(self, problem: Problem, *, late: bool) -> Plan:
        """Frames that follow each other in one window make a run."""
        tasks, left = _tasks_by_key(problem), [task.frames_left for task in problem.tasks]
        frames: list[tuple[Window, int]] = []
        for step in self.steps:
            task = tasks.get(step.goal_key) if step.kind == "expose" else None
            if task is None or left[task.index] <= 0:
                continue
            opens = round(self.seconds(step.start_utc))
            window = _window(problem, task, step.pier_side, opens, late=late)
            if window is not None:
                left[task.index] -= 1
                frames.append((window, opens))
        runs = (
            (window, [opens for _, opens in own]) for window, own in groupby(frames, lambda each: each[0])
        )
        return draft(((*window, len(opens), opens[0]) for window, opens in runs), problem)


def _tasks_by_key(problem: Problem) -> dict[GoalKey, Task]:
    """What a step tells of its goal -> its task; of goals alike, one that still lacks frames."""
    tasks: dict[GoalKey, Task] = {}
    for task in problem.tasks:
        if task.frames_left or task.goal_key not in tasks:
            tasks[task.goal_key] = task
    return tasks


def _window(problem: Problem, task: Task, side: str | None, opens: int, *, late: bool) -> Window | None:
    """The window that holds a frame; with `late` else the one that is nearest to it in time."""
    nearest: tuple[int, Window] | None = None
    for slot in problem.slots_by_task.get(task.index, ()):
        if slot.copy or slot.side != side:
            continue
        for number, (first, last) in enumerate(slot.shutter[task.index]):
            away_s = max(first - opens, opens + task.shutter_s - last, 0)
            if nearest is None or away_s < nearest[0]:
                nearest = away_s, (slot.index, task.index, number)
    return None if nearest is None or (nearest[0] and not late) else nearest[1]
