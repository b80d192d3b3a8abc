"""The answer to a night, and what another night much like it can take from it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from optimizer.packing.plan import Plan, draft
from optimizer.packing.schedule import Schedule, ScheduledVisit
from optimizer.problem import Problem, Slot
from optimizer.problem.tasks import Task

# Rows whose duals hold for a night much like theirs: one for each task, one for the night. Prices of progress
# have no unit; the balance itself says nothing.
BY_TASK, PRICES, BY_NIGHT = "caps", "progress", "elapsed"


# What ended a search: its plan is as near to its bound as is asked (to that of the targets searched, where a
# night has too many of them); its time is over; it found nothing better any more; Ctrl-C.
Ended = Literal["gap", "time", "settled", "interrupted"]


@dataclass(frozen=True)
class Solution:
    """The best plan of a search, its schedule, and its proof: profit and bound, in units of profit."""

    plan: Plan
    schedule: Schedule
    profit: int
    bound: int
    status: Literal["optimal", "feasible", "stopped"]
    ended: Ended
    seconds: float
    workers: int
    duals: Mapping[str, NDArray[np.float64]] = field(compare=False)  # of the bound, by the name of their cut

    @property
    def gap(self) -> float:
        """(bound - value) / value; 0 where nothing can be done."""
        return (self.bound - self.profit) / self.profit if self.profit else float(self.bound > 0)


class Known(Protocol):
    """What a search can begin with: plans for a night, and duals of its bound if there are any."""

    def drafts_in(self, problem: Problem) -> list[Plan]:
        """Drafts for the night: plans are made along them."""

    def plans_in(self, problem: Problem) -> list[Plan]:
        """Plans of the night that keep every rule as they are."""

    def duals_in(self, problem: Problem) -> Mapping[str, NDArray[np.float64]] | None:
        """Duals by the name of their cut; None: none are known."""


@dataclass(frozen=True)
class WarmStart:
    """The answer to another night, told in the slots and tasks of one that is much like it."""

    problem: Problem
    solution: Solution

    def draft_in(self, problem: Problem) -> Plan:
        """Its visits as a draft for the other night; what has no counterpart there falls out."""
        tasks = {task.goal_key: task.index for task in problem.tasks}
        runs: list[tuple[int, int, int, int, int]] = []
        for visit in self.solution.schedule:
            slot = _like(problem, visit)
            begins: dict[int, int] = {}
            frames: Counter[int] = Counter()
            for task, opens in visit.exposures:
                begins.setdefault(task, opens)
                frames[task] += 1
            for task, first in begins.items():
                there = tasks.get(self.problem.tasks[task].goal_key)
                if slot is not None and there in slot.shutter:
                    runs.append((slot.index, there, 0, frames[task], first))
        return draft(runs, problem)

    def drafts_in(self, problem: Problem) -> list[Plan]:
        """One draft, along its visits."""
        return [self.draft_in(problem)]

    def plans_in(self, problem: Problem) -> list[Plan]:
        """Its plan as it is, where the other night differs in nothing that a plan must keep to."""
        mine, other = self.problem, problem
        keeps = (
            mine.slots == other.slots
            and [_asked_of(task) for task in mine.tasks] == [_asked_of(task) for task in other.tasks]
            and mine.rules == other.rules
            and mine.start == other.start
        )
        return [self.solution.plan.without_waiting()] if keeps else []

    def duals_in(self, problem: Problem) -> dict[str, NDArray[np.float64]]:
        """Its duals for the other night's tasks, by the name of their cut; unknown tasks pay nothing."""
        scale = float(self.problem.profit_unit / problem.profit_unit)
        of_night = self.solution.duals.get(BY_NIGHT, np.zeros(1))
        found = {BY_TASK: scale * self._by_task(BY_TASK, problem, 0.0), BY_NIGHT: scale * of_night}
        if PRICES in self.solution.duals:
            found[PRICES] = self._by_task(PRICES, problem, float(problem.worth.balance))
        return found

    def _by_task(self, name: str, problem: Problem, unknown: float) -> NDArray[np.float64]:
        """Duals of rows for each task, for the tasks of another night."""
        mine = self.solution.duals.get(name, np.full(len(self.problem.tasks), unknown))
        known = {task.goal_key: float(each) for task, each in zip(self.problem.tasks, mine, strict=True)}
        return np.array([known.get(task.goal_key, unknown) for task in problem.tasks])


def _asked_of(task: Task) -> tuple[Hashable, ...]:
    """What a plan must keep to where it shoots a task; the lengths are of camera, filter and goal."""
    return (*task.goal_key, task.frames_left, task.shutter_s, task.frame_s, task.change_s)


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
