"""A pool of real plans of each night, and the choice of one a night by what all are worth together.

A choice may take more of a goal than is left; what is too much then counts nothing, and is cut from the
plans once they are chosen (`rounds`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from optimizer.problem.filter_sets import SLOWEST
from optimizer.season.planned import NightPlan
from optimizer.season.projects import Floats, Ints, Projects

LEAST_GAIN = 1e-9  # as a share of the value: less is rounding


class Law:
    """The law of what a season is worth, in floating numbers and for many seasons at once."""

    def __init__(self, projects: Projects) -> None:
        """Read projects."""
        worth, count = projects.worth, len(projects.goals)
        self.left = projects.left.astype(np.float64)
        self.balance = float(worth.balance)
        size = max((len(each.tasks) for each in worth.sets), default=0)
        self.members = np.zeros((len(worth.sets), size), dtype=np.int64)
        self.wanted, self.in_hand = np.zeros((2, len(worth.sets), size))
        self.plain = np.ones(count)
        for number, each in enumerate(worth.sets):
            own = len(each.tasks)
            self.members[number, :own] = each.tasks
            self.wanted[number, :own] = [float(profit) for profit in each.wanted]
            self.in_hand[number, :own] = [float(profit) for profit in each.in_hand]
            self.plain[list(each.tasks)] = 1.0 - self.balance
        self.half = float(SLOWEST) * self.wanted.sum(axis=1)
        self.before = self.balance * float(sum(each.before for each in worth.sets))

    def values(self, frames: Floats, gathered_s: Floats) -> Floats:
        """Weighted seconds by odds of frames and weighted seconds by odds, both [..., goals]."""
        counted = gathered_s * np.minimum(1.0, self.left / np.maximum(frames, 1e-12))
        total: Floats = counted @ self.plain
        if len(self.members):
            reached = self.in_hand + counted[..., self.members]
            shares = np.minimum(1.0, reached / np.where(self.wanted > 0, self.wanted, 1.0))
            shares = np.where(self.wanted > 0, shares, 1.0)
            order = np.argsort(shares, axis=-1, kind="stable")
            wholes = np.take_along_axis(np.broadcast_to(self.wanted, shares.shape), order, axis=-1)
            sums = np.minimum(np.cumsum(wholes, axis=-1), self.half[:, None])
            parts = np.diff(sums, axis=-1, prepend=0.0)
            of_sets = (parts * np.take_along_axis(shares, order, axis=-1)).sum(axis=-1)
            total = total + self.balance / float(SLOWEST) * of_sets.sum(axis=-1) - self.before
        return total


@dataclass(eq=False)
class _OfNight:
    plans: list[NightPlan] = field(default_factory=list)
    numbers: dict[NightPlan, int] = field(default_factory=dict)
    frames: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    gathered_s: Floats = field(default_factory=lambda: np.zeros((0, 0)))


class Pool:
    """Real plans of each night; the first of each is the empty one.

    `frames` and `gathered_s` of a night [plans, goals] are weighted by its odds.
    """

    def __init__(self, projects: Projects, odds: Sequence[Fraction], numbers: Sequence[Ints]) -> None:
        """Begin with empty plans; `numbers` holds the number of the goal of each task, by night."""
        self.law, self.odds, self._goals = Law(projects), [float(each) for each in odds], len(projects.goals)
        self._numbers, self.nights = numbers, [_OfNight() for _ in odds]
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
        chance, place = self.odds[number], len(night.plans)
        night.frames = np.concatenate([night.frames.reshape(-1, self._goals), chance * frames])
        night.gathered_s = np.concatenate([night.gathered_s.reshape(-1, self._goals), chance * gathered_s])
        night.plans.append(plan)
        night.numbers[plan] = place
        return place

    def totals(self, choice: Sequence[int]) -> tuple[Floats, Floats]:
        """Frames and weighted seconds of a choice by odds, [goals]."""
        frames, gathered_s = np.zeros((2, self._goals))
        for night, place in zip(self.nights, choice, strict=True):
            frames += night.frames[place]
            gathered_s += night.gathered_s[place]
        return frames, gathered_s

    def value_s(self, choice: Sequence[int]) -> float:
        """What a choice is worth."""
        return float(self.law.values(*self.totals(choice)))

    def climbed(self, choice: Sequence[int]) -> tuple[list[int], float]:
        """The choice once no other plan of a single night makes it better, and what it is worth."""
        best, (frames, gathered_s) = list(choice), self.totals(choice)
        value = float(self.law.values(frames, gathered_s))
        since, number = 0, 0
        while since < len(self.nights):
            night, place = self.nights[number], best[number]
            others = frames - night.frames[place], gathered_s - night.gathered_s[place]
            values = self.law.values(others[0] + night.frames, others[1] + night.gathered_s)
            found = int(np.argmax(values))
            since += 1
            if values[found] > value * (1 + LEAST_GAIN) + LEAST_GAIN:
                best[number], value, since = found, float(values[found]), 1
                frames, gathered_s = others[0] + night.frames[found], others[1] + night.gathered_s[found]
            number = (number + 1) % len(self.nights)
        return best, value

    def kicked(self, choice: Sequence[int], kicks: int, seed: int) -> tuple[list[int], float]:
        """The best choice found by changing a few nights at random and climbing again, so many times."""
        rng = np.random.default_rng(seed)
        best, value = self.climbed(choice)
        many = [number for number, night in enumerate(self.nights) if len(night.plans) > 1]
        for _ in range(kicks if many else 0):
            other = list(best)
            for number in rng.choice(many, size=min(len(many), int(rng.integers(2, 5))), replace=False):
                other[number] = int(rng.integers(len(self.nights[number].plans)))
            other, reached = self.climbed(other)
            if reached > value * (1 + LEAST_GAIN):
                best, value = other, reached
        return best, value
