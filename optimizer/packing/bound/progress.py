"""The filter sets of a night in numbers, and prices of progress that bound what a plan's progress is worth.

A set's progress is the most, over y from 0 to 1, of y times the whole set less (1 / SLOWEST) times what each
goal lacks of y times its own (`filter_sets`). Leave what each goal lacks to a price per unit of profit, from
0 to balance / SLOWEST: then a frame counts its plain part and the price, and the rest is a number that no
plan changes. Whatever the prices, no plan's progress is worth more.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from optimizer.packing.compiled import Bools, Floats, Ints
from optimizer.problem import Problem
from optimizer.problem.filter_sets import SLOWEST, FilterSet, Worth

HALVINGS = 60  # of the span in which a number is sought
EVEN = 1e-12  # share of a set that a sum may be off and still count as even


class Progress:
    """Arrays by task [tasks], 0 outside sets.

    `in_set` says which goals are in one. `most` holds the greatest prices, `even` those at which a frame
    counts its plain profit, `at_first` those of the first frame of each goal. `plain` is the share of its
    profit that a frame counts by itself, 1 outside sets. `wanted` and `in_hand` are profits as in the sets.
    """

    def __init__(self, count: int, worth: Worth) -> None:
        """Read the sets of a law of worth over so many tasks."""
        balance, sets = worth.balance, worth.sets
        self.in_set: Bools = np.zeros(count, dtype=np.bool_)
        self.of_set: Ints = np.zeros(count, dtype=np.int64)  # the set's number; 0 outside as well
        self.wanted, self.in_hand, self.at_first = np.zeros((3, count))
        self.least = np.zeros(len(sets))  # the y at which each set stands before the night
        self.balance, before = float(balance), Fraction(0)
        for number, each in enumerate(sets):
            tasks = list(each.tasks)
            self.in_set[tasks], self.of_set[tasks] = True, number
            self.wanted[tasks] = [float(profit) for profit in each.wanted]
            self.in_hand[tasks] = [float(profit) for profit in each.in_hand]
            least, shares = _before(each)
            self.least[number] = float(least)
            self.at_first[tasks] = [float(balance * share) for share in shares]
            before += balance * each.before
        self.before = float(before)  # what the progress of all sets is worth before the night
        self.whole: Floats = self.balance * self._by_set(self.wanted)  # [sets]
        self.most: Floats = np.where(self.in_set, float(balance / SLOWEST), 0.0)
        self.even: Floats = np.where(self.in_set, self.balance, 0.0)
        self.plain: Floats = np.where(self.in_set, float(1 - balance), 1.0)

    @classmethod
    def of(cls, problem: Problem) -> Progress:
        """Read those sets of a problem of which a frame may be taken tonight."""
        open_tasks = {task for slot in problem.slots for task in slot.shutter}
        sets = tuple(each for each in problem.worth.sets if open_tasks.intersection(each.tasks))
        return cls(len(problem.tasks), Worth(problem.worth.balance, sets))

    def _by_set(self, values: Floats) -> Floats:
        sums: Floats = np.zeros(len(self.least))
        np.add.at(sums, self.of_set[self.in_set], values[self.in_set])
        return sums

    def _left(self, prices: Floats) -> Floats:
        """What y counts for in each set, [sets]: its whole less what the prices take for all its goals."""
        return self.whole - self._by_set(prices * self.wanted)

    def given(self, prices: Floats) -> float:
        """What progress is worth beside the profits that count by their prices [tasks]; never below 0."""
        left = self._left(prices)
        given = float(prices @ self.in_hand) + float(np.maximum(left, left * self.least).sum())
        return max(0.0, given - self.before)

    def slope(self, prices: Floats, gathered: Floats) -> Floats:
        """How a bound changes with the prices [tasks], where its best column gathers so much profit."""
        reached, left = self.in_hand + gathered, self._left(prices)
        squares = self._by_set(self.wanted**2)
        nearest = np.clip(self._by_set(self.wanted * reached) / squares, self.least, 1.0)
        share = np.where(left > 0, 1.0, self.least)
        # where y counts for nothing, any y will do: that of the least slope
        share = np.where(np.abs(left) <= EVEN * self.whole, nearest, share)
        slope = np.zeros(len(prices))
        slope[self.in_set] = (reached - self.wanted * share[self.of_set])[self.in_set]
        return slope

    def levelled(self, prices: Floats) -> Floats:
        """The prices within their limits [tasks], moved so far that y counts for nothing in any set.

        The least bound is mostly at such prices; beside them it rises steeply.
        """
        low = np.full(len(self.least), -float(prices.max()))
        high = np.full(len(self.least), float(self.most.max()))
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            left = self._left(self._moved(prices, middle))
            low, high = np.where(left > 0, middle, low), np.where(left > 0, high, middle)
        return self._moved(prices, high)

    def _moved(self, prices: Floats, by: Floats) -> Floats:
        """Prices moved by so much in each set [sets], but kept within their limits."""
        moved = prices.copy()
        moved[self.in_set] += by[self.of_set[self.in_set]]
        return np.clip(moved, 0.0, self.most)


def _before(filter_set: FilterSet) -> tuple[Fraction, list[Fraction]]:
    """The y at which a set stands before the night, and how fast the first frames of each goal bring it on.

    It is the greatest such y. Goals of which the same share is in hand come on together.
    """
    wanted, left, least = filter_set.wanted, SLOWEST * sum(filter_set.wanted), Fraction(1)
    shares = [got / all_ for got, all_ in zip(filter_set.in_hand, wanted, strict=True)]
    speeds = dict[Fraction, Fraction]()  # by the share in hand
    for share in sorted(set(shares)):
        alike = [all_ for each, all_ in zip(shares, wanted, strict=True) if each == share]
        together = sum(alike, Fraction(0))
        part = min(together, left)
        speeds[share] = part / together / SLOWEST
        if part < together:
            least = min(least, share)
        left -= part
    return least, [speeds[share] for share in shares]
