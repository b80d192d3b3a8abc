"""A pool of real plans of each night, and the choice of one a night by what all are worth together.

A choice may take more of a goal than is left; what is too much then counts nothing, and is cut from the
plans once they are chosen (`rounds`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from optimizer.packing.search.choice_loops import Choices, Totals, choose
from optimizer.packing.search.ruin_and_recreate import sets_of
from optimizer.season.master import SeasonMaster
from optimizer.season.planned import NightPlan
from optimizer.season.pricing import NightColumn, Prices
from optimizer.season.projects import Floats, Ints, Projects

MOST_KICKED = 5  # nights
THRESHOLD = 0.001  # share of the value that a kick may cost at first and still be gone on from


class Law:
    """The law of what a season is worth, as the loops of the choice read it."""

    def __init__(self, projects: Projects) -> None:
        """Read projects."""
        worth = projects.worth
        self.left = projects.left.astype(np.float64)
        self.sets = sets_of(worth, len(projects.goals))
        self.plain = np.where(self.sets.of_task >= 0, 1.0 - float(worth.balance), 1.0)


@dataclass(eq=False)
class _OfNight:
    plans: list[NightPlan] = field(default_factory=list)
    numbers: dict[NightPlan, int] = field(default_factory=dict)
    frames: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    gathered_s: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    unit_s: float = 1.0


class Pool:
    """Real plans of each night; the first of each is the empty one.

    `frames` and `gathered_s` of a night [plans, goals] are weighted by its odds.
    """

    def __init__(self, projects: Projects, odds: Sequence[Fraction], numbers: Sequence[Ints]) -> None:
        """Begin with empty plans; `numbers` holds the number of the goal of each task, by night."""
        self.law, self.odds, self._goals = Law(projects), [float(each) for each in odds], len(projects.goals)
        self._numbers, self.nights = numbers, [_OfNight() for _ in odds]
        self._master, self._mixed = SeasonMaster(projects, numbers, odds), [0] * len(odds)
        for number in range(len(odds)):
            self.add(number, NightPlan(), 1.0)

    def add(self, number: int, plan: NightPlan, unit_s: float) -> int:
        """Take a plan of a night, whose unit of profit is so many weighted seconds; return its place."""
        night = self.nights[number]
        if plan in night.numbers:
            return night.numbers[plan]
        frames, gathered_s = np.zeros((2, 1, self._goals))
        if plan.runs:
            frames[0, self._numbers[number]] = plan.frames
            gathered_s[0, self._numbers[number]] = np.array(plan.gathered, dtype=np.float64) * unit_s
        chance, place, night.unit_s = self.odds[number], len(night.plans), unit_s
        night.frames = np.concatenate([night.frames.reshape(-1, self._goals), chance * frames])
        night.gathered_s = np.concatenate([night.gathered_s.reshape(-1, self._goals), chance * gathered_s])
        night.plans.append(plan)
        night.numbers[plan] = place
        return place

    def chosen(self, choice: Sequence[int], kicks: int, seed: int) -> list[int]:
        """The best choice found from another by changing a few nights at random, so many times.

        After each such kick, plans of single nights are exchanged until none makes the season better.
        """
        choices = self._choices()
        numbers = choices.nights[:-1] + np.array(choice, dtype=np.int64)
        choose(choices, Totals.of(choices), numbers, kicks, MOST_KICKED, THRESHOLD, seed)
        found: list[int] = (numbers - choices.nights[:-1]).tolist()
        return found

    def prices(self) -> Prices:
        """The prices of the best mixture of all plans."""
        for number, (night, known) in enumerate(zip(self.nights, self._mixed, strict=True)):
            for plan in night.plans[known:]:
                if plan.runs:
                    frames = np.array(plan.frames, dtype=np.int64)
                    gathered_s = np.array(plan.gathered, dtype=np.float64) * night.unit_s
                    self._master.add(number, NightColumn(0.0, frames, gathered_s, ()))
            self._mixed[number] = len(night.plans)
        self._master.solve()
        return self._master.prices

    def _choices(self) -> Choices:
        sizes = [len(night.plans) for night in self.nights]
        frames = np.concatenate([night.frames for night in self.nights])
        gathered = np.concatenate([night.gathered_s for night in self.nights])
        plan, goal = np.nonzero(frames)
        counts = np.bincount(plan, minlength=len(frames))
        return Choices(
            nights=np.cumsum([0, *sizes], dtype=np.int64),
            plans=np.cumsum([0, *counts.tolist()], dtype=np.int64),
            goal=goal.astype(np.int64),
            frames=frames[plan, goal],
            gathered=gathered[plan, goal],
            left=self.law.left,
            plain=self.law.plain,
            sets=self.law.sets,
        )
