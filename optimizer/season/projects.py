"""The projects of a season: all goals in one order, what is in hand of them, and what frames are worth.

A goal's number is its place in `Projects.goals`: targets by name, goals as their target lists them. All worth
is in weighted seconds, exact.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from optimizer.models.request import Request
from optimizer.models.targets import GoalKey, goal_key
from optimizer.packing.bound.progress import Progress
from optimizer.problem.filter_sets import FilterSet, Worth

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class ProjectGoal:
    """A goal of the season: frames wanted and in hand, and the weighted seconds of one at its full worth."""

    key: GoalKey
    target: str
    filter: str
    exposure_s: float
    weight: float
    wanted: int
    done: int
    in_set: bool

    @property
    def left(self) -> int:
        """Frames that are still wanted; never negative."""
        return max(0, self.wanted - self.done)

    @property
    def frame_s(self) -> Fraction:
        """Weighted seconds of one frame at its full worth: those of its exposure times the weight."""
        return Fraction(repr(self.weight)) * Fraction(repr(self.exposure_s))


@dataclass(frozen=True)
class Projects:
    """All goals of a season in one order, and the balance of their filter sets (0: sums alone)."""

    goals: tuple[ProjectGoal, ...]
    balance: Fraction

    @cached_property
    def of_target(self) -> Mapping[str, list[int]]:
        """The numbers of the goals of each target, by its name."""
        found: dict[str, list[int]] = {}
        for number, goal in enumerate(self.goals):
            found.setdefault(goal.target, []).append(number)
        return found

    @cached_property
    def left(self) -> Ints:
        """Frames that are still wanted, [goals]."""
        return np.array([goal.left for goal in self.goals], dtype=np.int64)

    @cached_property
    def frames_s(self) -> Floats:
        """Weighted seconds of one frame at its full worth, [goals]."""
        return np.array([float(goal.frame_s) for goal in self.goals])

    @cached_property
    def sets(self) -> tuple[tuple[int, ...], ...]:
        """The numbers of the goals of each filter set of two goals or more."""
        in_sets = (tuple(each for each in own if self.goals[each].in_set) for own in self.of_target.values())
        return tuple(own for own in in_sets if len(own) > 1)

    @cached_property
    def worth(self) -> Worth:
        """The law of what gathered weighted seconds are worth, its tasks being the goals by number."""
        sets = []
        for own in self.sets if self.balance else ():
            goals = [self.goals[number] for number in own]
            wanted = tuple(goal.frame_s * goal.wanted for goal in goals)
            in_hand = tuple(goal.frame_s * min(goal.done, goal.wanted) for goal in goals)
            sets.append(FilterSet(goals[0].target, own, wanted, in_hand))
        return Worth(self.balance, tuple(sets))

    @cached_property
    def progress(self) -> Progress:
        """The filter sets in numbers, in weighted seconds, and what their progress gives at its prices."""
        return Progress(len(self.goals), self.worth)

    def value_s(self, gathered: Sequence[Fraction]) -> Fraction:
        """Weighted seconds that a season is worth which gathers so much of each goal, [goals], unrounded."""
        return self.part_s(range(len(self.goals)), gathered)

    def part_s(self, numbers: Iterable[int], gathered: Sequence[Fraction]) -> Fraction:
        """What of that is due to some goals; a filter set must be among them as a whole or not at all."""
        more = {number: gathered[number] for number in numbers if gathered[number]}
        return self.worth.gain([0] * len(self.goals), more)  # type: ignore[arg-type]


def projects_of(request: Request) -> Projects:
    """Gather the goals of a request in the order of its problem's tasks."""
    goals = []
    for target, goal in sorted(request.goals(), key=lambda each: each[0].name):
        goals.append(
            ProjectGoal(
                key=goal_key(target, goal),
                target=target.name,
                filter=goal.filter,
                exposure_s=goal.exposure_s,
                weight=target.weight,
                wanted=goal.frames,
                done=goal.done,
                in_set=goal.in_set,
            )
        )
    return Projects(tuple(goals), Fraction(repr(request.aim.balance)))
