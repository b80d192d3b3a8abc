"""The law of what a season gathers, for many sampled seasons at once, in floating numbers.

The law itself is `Projects.value_s`, exact; this one is for simulations, and a test holds the two together.
All arrays end in the axis of the goals; the axes before it are seasons, or whatever else is asked at once.
"""

from __future__ import annotations

import numpy as np

from optimizer.problem.filter_sets import SLOWEST
from optimizer.season.coarse_loops import LawArrays
from optimizer.season.projects import Floats, Ints, Projects

HALF = float(SLOWEST)
LEVEL = 1e-6  # shares of goals that differ by less stand level
LEAST = 1e-9


class GatheredLaw:
    """What gathered weighted seconds are worth: sums, and the progress of filter sets by the balance."""

    def __init__(self, projects: Projects, balance: float | None = None) -> None:
        """Take the goals and their sets; another balance than that of the projects may be asked for."""
        self.balance = float(projects.balance) if balance is None else balance
        sets = projects.sets if self.balance else ()
        widest = max((len(own) for own in sets), default=0)
        places = [[*own, *([-1] * (widest - len(own)))] for own in sets]
        self.places: Ints = np.array(places, dtype=np.int64).reshape(len(sets), widest)
        self._filled = self.places >= 0
        self._own = self.places[self._filled]  # the goals of all sets, one set after the other
        self.frame_s: Floats = np.array([float(goal.frame_s) for goal in projects.goals])
        self.wanted_s: Floats = self.frame_s * [goal.wanted for goal in projects.goals]
        of_goal = np.full(len(projects.goals), -1)
        for number, own in enumerate(sets):
            of_goal[list(own)] = number
        self.arrays = LawArrays(
            of_goal=of_goal,
            starts=np.cumsum([0, *(len(own) for own in sets)]),
            members=np.array([goal for own in sets for goal in own], dtype=np.int64),
            wanted_s=self.wanted_s,
            balance=self.balance,
            half=HALF,
        )
        done = np.array([min(goal.done, goal.wanted) for goal in projects.goals])
        self.done_s: Floats = self.frame_s * done

    def value_s(self, reached_s: Floats, factors: Floats | float = 1.0) -> Floats:
        """Weighted seconds of all that is reached, in hand before the season included, [...].

        With factors [..., goals] a second of each goal counts so much.
        """
        weighed = reached_s * factors
        total: Floats = weighed.sum(axis=-1)
        if self.places.size:
            whole, shares = self._sets(reached_s, factors)
            order = np.argsort(shares, axis=-1)
            whole, shares = (np.take_along_axis(each, order, axis=-1) for each in (whole, shares))
            through = np.cumsum(whole, axis=-1)
            parts = np.clip(HALF * through[..., -1:] - (through - whole), 0.0, whole)
            total = total + self.balance * (
                (parts * shares).sum(axis=(-2, -1)) / HALF - weighed[..., self._own].sum(axis=-1)
            )
        return total

    def slope(self, reached_s: Floats, factors: Floats | float = 1.0) -> Floats:
        """What one more weighted second of each goal is worth, before its factor, [..., goals].

        Goals that stand level where the slowest half of a set ends share what is left of it.
        """
        slope: Floats = np.ones(reached_s.shape)
        if self.places.size:
            whole, shares = self._sets(reached_s, factors)
            apart = shares[..., :, None] - shares[..., None, :]
            slower = (whole[..., None, :] * (apart > LEVEL)).sum(axis=-1)
            level = (whole[..., None, :] * (np.abs(apart) <= LEVEL)).sum(axis=-1)
            left = HALF * whole.sum(axis=-1, keepdims=True) - slower
            counts = np.clip(left / np.maximum(level, LEAST), 0.0, 1.0) / HALF
            slope[..., self._own] = (1 - self.balance) + self.balance * counts[..., self._filled]
        return slope

    def _sets(self, reached_s: Floats, factors: Floats | float) -> tuple[Floats, Floats]:
        """What each set wants of its goals, by factors, and their shares in hand; 0 and 2 where padded."""
        wanted = self.wanted_s * factors
        whole = np.where(self._filled, wanted[..., self.places], 0.0)
        shares = np.minimum(1.0, reached_s / self.wanted_s)[..., self.places]
        whole = np.broadcast_to(whole, shares.shape)
        return whole, np.where(self._filled, shares, 2.0)
