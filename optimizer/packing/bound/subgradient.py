"""Prices moved down the slope of the bound, for nights of many goals.

A linear programme of few columns says little of many prices: of 200 goals it takes hundreds of pricings to
say anything. A step along what the best path takes too much and leaves over needs no columns, and the worth
of a plan at hand says how long it should be (Polyak 1969, USSR Computational Mathematics 9), turned away from
the step before where the two are at odds (Camerini, Fratta & Maffioli 1975, Math. Programming Study 3).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optimizer.packing.bound.ceiling import first_prices
from optimizer.packing.bound.cuts.rows import lasting_prices
from optimizer.packing.compiled import Floats

if TYPE_CHECKING:
    from optimizer.packing.bound.columns import Column
    from optimizer.packing.bound.cuts.rows import PathRows

MANY_TASKS = 64  # from so many on; with fewer the linear programme alone comes near the bound sooner
TURN = 1.5  # how much of what is at odds with the step before is taken out
MOST_IN_VAIN, SHORTER = 10, 0.66  # pricings on end that lower nothing; by how much steps are shorter then
# The linear programme is asked so often; it takes over where its value is so near to the bound, or since it
# was asked two times ago the bound fell by less than a share of what lies between the two.
PRICINGS, NEAR, LEAST_FALL = 10, 0.01, 0.03
LEAST = 1e-12


class Subgradient:
    """Steps from one list of prices [tasks + rows] to the next."""

    def __init__(self, rows: PathRows, caps: Floats, profits: Floats, second: float) -> None:
        """`caps`, `worths` [tasks] of frames; `second`: about what one of the night brings."""
        self.rows, self.caps = rows, caps
        self.units = rows.units(profits, second)
        self.squares = self.units**2
        self.length, self.in_vain, self.best = 1.0, 0, np.inf
        self.direction: Floats | None = None
        self.steps = 0
        self.asked: list[float] = []  # the best bounds at which the programme was asked

    def first(self) -> Floats:
        """Prices to begin with: those that sums give, of caps and rows that say something."""
        tasks, found = len(self.caps), np.zeros(len(self.units))
        found[:tasks], found[lasting_prices(tasks) - 1] = first_prices(self.rows.graph.problem)
        return np.where(self.units > 0, found, 0.0)

    def asks(self) -> bool:
        """Whether the linear programme should be asked before the next step."""
        return self.steps % PRICINGS == 0

    def is_down(self, bound: float, value: float) -> bool:
        """Whether the best bound is near the programme's value, or hardly comes nearer."""
        self.asked.append(bound)
        fallen = self.asked[-3] - bound if len(self.asked) > 2 else np.inf
        return bool(bound - value <= NEAR * bound or fallen < LEAST_FALL * (bound - value))

    def next(self, prices: Floats, path: Column, bound: float, target: float) -> Floats:
        """Prices after those that gave a path and a bound; `target` is one that can be hoped for."""
        self.steps += 1
        self.in_vain = 0 if bound < self.best else self.in_vain + 1
        self.best = min(self.best, bound)
        if self.in_vain == MOST_IN_VAIN:
            self.length, self.in_vain = SHORTER * self.length, 0
        slope = np.concatenate([self.caps - path.frames(), -self.rows.balance(path.runs)])
        if self.direction is not None:
            at_odds = -float(slope @ (self.squares * self.direction))
            before = float(self.direction @ (self.squares * self.direction))
            slope = slope + max(0.0, TURN * at_odds / max(before, LEAST)) * self.direction
        self.direction = slope
        step = np.where((prices <= 0) & (slope > 0), 0.0, slope)
        size = float(step @ (self.squares * step))
        along = self.length * max(0.0, bound - target) / max(size, LEAST)
        moved: Floats = np.maximum(0.0, prices - along * self.squares * step)
        return moved
