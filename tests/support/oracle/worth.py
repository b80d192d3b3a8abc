"""What a night's frames are worth with filter sets, by the definition: the greatest over y, in fractions.

Nothing here comes from `optimizer.problem.filter_sets`. With h the weighted seconds that each goal of a set
wants, H their sum and s the share of each that is in hand, a set stands at the greatest, over y from 0 to 1, of
y less the sum of h / (H / 2) (y - s)+; y is 0, 1 or one of the shares where that is greatest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from optimizer.models.request import Request
from optimizer.problem import Problem
from optimizer.problem.tasks import Task

HALF = Fraction(1, 2)


class WorthByDefinition:
    """The value of a night by the profit of each task's frames."""

    def __init__(self, request: Request, problem: Problem) -> None:
        self.unit, self.balance = problem.profit_unit, Fraction(str(request.aim.balance))
        of_target: dict[str, list[Task]] = {}
        for task in problem.tasks:
            of_target.setdefault(task.target.name, []).append(task)
        self.targets = list(of_target.values())
        self.known: dict[tuple[int, tuple[int, ...]], Fraction] = {}

    def units(self, gathered: Sequence[int]) -> int:
        """Whole units of a night in which each task's frames [tasks] bring so many units."""
        return math.floor(
            sum((self._of_target(place, gathered) for place in range(len(self.targets))), Fraction())
        )

    def _of_target(self, place: int, gathered: Sequence[int]) -> Fraction:
        tasks = self.targets[place]
        mine = tuple(gathered[task.index] for task in tasks)
        key = place, mine
        if key not in self.known:
            members = [number for number, task in enumerate(tasks) if task.goal.in_set]
            alone = sum(
                (Fraction(mine[number]) for number in range(len(tasks)) if number not in members), Fraction()
            )
            in_set = sum((Fraction(mine[number]) for number in members), Fraction())
            if len(members) > 1:
                own = [tasks[number] for number in members]
                before, after = (
                    [self._share(task, got) for task, got in zip(own, each, strict=True)]
                    for each in ([0] * len(own), [mine[number] for number in members])
                )
                weights = [self._wanted(task) for task in own]
                grown = sum(weights) * (progress(weights, after) - progress(weights, before)) / self.unit
                in_set = (1 - self.balance) * in_set + self.balance * grown
            self.known[key] = alone + in_set
        return self.known[key]

    def _wanted(self, task: Task) -> Fraction:
        """Weighted seconds of all frames of a goal, each under the best of skies."""
        goal = task.goal
        return task.factor * Fraction(str(task.target.weight)) * goal.frames * Fraction(str(goal.exposure_s))

    def _share(self, task: Task, units: int) -> Fraction:
        done = Fraction(task.goal.done, task.goal.frames)
        return min(Fraction(1), done + units * self.unit / self._wanted(task))


def progress(wanted: Sequence[Fraction], shares: Sequence[Fraction]) -> Fraction:
    """The mean share of the slowest half of a set: T of its definition."""
    whole = sum(wanted)
    return max(
        y - sum(h / (HALF * whole) * max(Fraction(0), y - s) for h, s in zip(wanted, shares, strict=True))
        for y in (Fraction(0), Fraction(1), *shares)
    )
