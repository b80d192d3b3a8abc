"""A pool of real plans of each night, and the choice of one a night by what all are worth together.

A choice may take more of a goal than is left; what is too much then counts nothing, or costs, and is cut from
the plans once they are chosen (`rounds`).
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
    goals: list[Ints] = field(default_factory=list)  # of each plan: the goals of which it has frames
    frames: list[Floats] = field(default_factory=list)
    gathered_s: list[Floats] = field(default_factory=list)
    unit_s: float = 1.0


class Pool:
    """Real plans of each night; the first of each is the empty one.

    `frames` and `gathered_s` of a plan are by the goals of which it has frames, and weighted by the odds.
    """

    def __init__(self, projects: Projects, odds: Sequence[Fraction], numbers: Sequence[Ints]) -> None:
        """Begin with empty plans; `numbers` holds the number of the goal of each task, by night."""
        self.law, self.odds = Law(projects), [float(each) for each in odds]
        self._numbers, self.nights = numbers, [_OfNight() for _ in odds]
        self._master, self._mixed = SeasonMaster(projects, numbers, odds), [0] * len(odds)
        for number in range(len(odds)):
            self.add(number, NightPlan(), 1.0)

    def add(self, number: int, plan: NightPlan, unit_s: float) -> int:
        """Take a plan of a night, whose unit of profit is so many weighted seconds; return its place."""
        night = self.nights[number]
        if plan in night.numbers:
            return night.numbers[plan]
        frames = np.array(plan.frames if plan.runs else (), dtype=np.float64)
        gathered_s = np.array(plan.gathered if plan.runs else (), dtype=np.float64) * unit_s
        chance, place, night.unit_s = self.odds[number], len(night.plans), unit_s
        some = np.flatnonzero(frames) if chance else np.zeros(0, dtype=np.int64)
        night.goals.append(self._numbers[number][some])
        night.frames.append(chance * frames[some])
        night.gathered_s.append(chance * gathered_s[some])
        night.plans.append(plan)
        night.numbers[plan] = place
        return place

    def chosen(self, choice: Sequence[int], kicks: int, seed: int, beyond: float = 0.0) -> list[int]:
        """The best choice found from another by changing a few nights at random, so many times.

        After each such kick, plans of single nights are exchanged until none makes the season better. A frame
        too much costs so large a share `beyond` of what one counts.
        """
        choices = self._choices(beyond)
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

    def _choices(self, beyond: float) -> Choices:
        sizes = [len(night.plans) for night in self.nights]
        goals = [goals for night in self.nights for goals in night.goals]
        return Choices(
            nights=np.cumsum([0, *sizes], dtype=np.int64),
            plans=np.cumsum([0, *map(len, goals)], dtype=np.int64),
            goal=np.concatenate(goals).astype(np.int64),
            frames=np.concatenate([each for night in self.nights for each in night.frames]),
            gathered=np.concatenate([each for night in self.nights for each in night.gathered_s]),
            left=self.law.left,
            plain=self.law.plain,
            sets=self.law.sets,
            beyond=beyond,
        )
