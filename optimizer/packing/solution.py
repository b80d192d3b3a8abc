"""The answer to a night, and what another night much like it can take from it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from optimizer.packing.plan import Plan, draft
from optimizer.packing.schedule import Schedule, ScheduledVisit
from optimizer.problem import Problem, Slot
from optimizer.problem.tasks import Task


@dataclass(frozen=True)
class Solution:
    """The best plan of a search, its schedule, and its proof: profit and bound, in units of profit."""

    plan: Plan
    schedule: Schedule
    profit: int
    bound: int
    status: Literal["optimal", "feasible", "stopped"]
    seconds: float
    workers: int
    # of a frame of each task, where one more was wanted: in the night, then in a stay; of a second
    prices: tuple[float, ...]

    @property
    def gap(self) -> float:
        """(bound - value) / value; 0 where nothing can be done."""
        return (self.bound - self.profit) / self.profit if self.profit else float(self.bound > 0)


@dataclass(frozen=True)
class WarmStart:
    """The answer to another night, told in the slots and tasks of one that is much like it."""

    problem: Problem
    solution: Solution

    def draft_in(self, problem: Problem) -> Plan:
        """Its visits as a draft for the other night; what has no counterpart there falls out."""
        tasks = {_task_key(task): task.index for task in problem.tasks}
        runs: list[tuple[int, int, int, int, int]] = []
        for visit in self.solution.schedule:
            slot = _like(problem, visit)
            begins: dict[int, int] = {}
            frames: Counter[int] = Counter()
            for task, opens in visit.exposures:
                begins.setdefault(task, opens)
                frames[task] += 1
            for task, first in begins.items():
                there = tasks.get(_task_key(self.problem.tasks[task]))
                if slot is not None and there in slot.shutter:
                    runs.append((slot.index, there, 0, frames[task], first))
        return draft(runs, problem)

    def plan_in(self, problem: Problem) -> list[Plan]:
        """Its plan as it is, where the other night differs in nothing that a plan must keep to."""
        mine, other = self.problem, problem
        keeps = (
            mine.slots == other.slots
            and [_task_key(task) for task in mine.tasks] == [_task_key(task) for task in other.tasks]
            and [task.frames_left for task in mine.tasks] == [task.frames_left for task in other.tasks]
            and mine.rules == other.rules
        )
        return [self.solution.plan.without_waiting()] if keeps else []

    def prices_in(self, problem: Problem) -> NDArray[np.float64]:
        """Its prices for the other night's tasks, as they stand there; 0 for those that it does not know."""
        scale = float(self.problem.profit_unit / problem.profit_unit)
        count, found = len(self.problem.tasks), list[float]()
        *of_frames, of_second = self.solution.prices
        for prices in (of_frames[:count], of_frames[count:]):
            pairs = zip(self.problem.tasks, prices, strict=True)
            known = {_task_key(task): price * scale for task, price in pairs}
            found += [known.get(_task_key(task), 0.0) for task in problem.tasks]
        return np.array([*found, of_second * scale])


def _task_key(task: Task) -> tuple[str, int]:
    return task.target.name, task.goal_index


def _like(problem: Problem, visit: ScheduledVisit) -> Slot | None:
    """The slot of the same target and side whose work holds most of a visit."""
    slots = [
        slot
        for slot in problem.slots
        if not slot.copy and (slot.target.name, slot.side) == (visit.slot.target.name, visit.slot.side)
    ]

    def shared_s(slot: Slot) -> int:
        return min(slot.work[1], visit.free) - max(slot.work[0], visit.depart)

    return max(slots, key=shared_s, default=None)
