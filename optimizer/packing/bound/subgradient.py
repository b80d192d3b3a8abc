"""Duals moved down the slope of the bound, for nights of many goals.

A linear programme of few columns says little of many duals: of 200 goals it takes hundreds of labellings to
say anything. A step along what the best column takes too much and leaves over needs no columns, and the
profit of a plan at hand says how long it should be (Polyak's step), turned away from the step before where
the two are at odds (Camerini, Fratta and Maffioli; see README.md for both).
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.bound.ceiling import first_duals
from optimizer.packing.bound.columns import Column
from optimizer.packing.bound.cuts.cut_list import CutList
from optimizer.packing.compiled import Floats

LEAST = 1e-12


class Subgradient:
    """Steps from one list of duals [rows] to the next."""

    def __init__(self, cuts: CutList, second: float) -> None:
        """Begin; `second` is about the profit that a second of the night brings."""
        self.cuts, self.parameters = cuts, cuts.graph.parameters
        self.units = cuts.units(second)
        self.squares = self.units**2
        self.length, self.in_vain, self.best, self.steps = 1.0, 0, np.inf, 0
        self.direction: Floats | None = None
        self.asked: list[float] = []  # the best bounds at which the master was asked

    def first(self) -> Floats:
        """Duals to begin with: those that sums give, of caps and cuts that say something."""
        of_frames, second = first_duals(self.cuts.graph.problem)
        duals = self.cuts.all_rows({"caps": of_frames, "elapsed": np.array([second])})
        return np.where(self.units > 0, duals, 0.0)

    def asks(self) -> bool:
        """Whether the master should be solved before the next step."""
        return self.steps % self.parameters.steps_between_masters == 0

    def is_down(self, bound: float, value: float) -> bool:
        """Whether the best bound is near the master's value, or hardly comes nearer."""
        self.asked.append(bound)
        fallen = self.asked[-3] - bound if len(self.asked) > 2 else np.inf
        near = bound - value <= self.parameters.near_master * bound
        return bool(near or fallen < self.parameters.least_fall * (bound - value))

    def next(self, duals: Floats, column: Column, bound: float, target: float) -> Floats:
        """Duals after those that gave a column and a bound; `target` is one that can be hoped for."""
        parameters = self.parameters
        self.steps += 1
        self.in_vain = 0 if bound < self.best else self.in_vain + 1
        self.best = min(self.best, bound)
        if self.in_vain == parameters.steps_in_vain:
            self.length, self.in_vain = parameters.shorter * self.length, 0
        slope = self.cuts.slope(duals, column.runs)
        if self.direction is not None:
            at_odds = -float(slope @ (self.squares * self.direction))
            before = float(self.direction @ (self.squares * self.direction))
            slope = slope + max(0.0, parameters.turn * at_odds / max(before, LEAST)) * self.direction
        self.direction = slope
        at_limit = ((duals <= 0) & (slope > 0)) | ((duals >= self.cuts.most) & (slope < 0))
        step = np.where(at_limit, 0.0, slope)
        size = float(step @ (self.squares * step))
        along = self.length * max(0.0, bound - target) / max(size, LEAST)
        return self.cuts.kept_within(duals - along * self.squares * step)
