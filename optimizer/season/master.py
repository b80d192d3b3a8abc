"""The linear programme over paths of all nights: a mixture of paths for each night, within what is left.

Its rows are one share of each night, the frames left of each goal, and the progress of filter sets as in the
bound of one night (`packing/bound/README.md`). Its duals are the next prices.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import numpy as np

from optimizer.season.pricing import NightColumn, Prices
from optimizer.season.projects import Floats, Ints, Projects

FREE = 3.0  # no frame is worth so many times its own
SOME = 1e-7  # of a cap
DIGITS = 9  # of a coefficient about 1 in size: sums that are 0 but for the last bits make the solver fail


class SeasonMaster:
    """Columns are added one by one, and each solution starts from the one before.

    After `solve`, `value_s` is the most worth of a mixture in weighted seconds, `prices` are its duals, and
    `shares` has for each night the shares of its columns, which lie in `columns`.
    """

    def __init__(self, projects: Projects, numbers: Sequence[Ints], odds: Sequence[Fraction]) -> None:
        """Begin without a column; `numbers` has for each night the goal of each of its tasks."""
        from ortools.linear_solver import pywraplp

        self.projects, self.numbers, self.odds = projects, numbers, [float(each) for each in odds]
        self.solver: Any = pywraplp.Solver.CreateSolver("GLOP")
        self.solved, self.unbounded = pywraplp.Solver.OPTIMAL, self.solver.infinity()
        self.anew, self.further = pywraplp.MPSolverParameters(), pywraplp.MPSolverParameters()
        self.anew.SetIntegerParam(self.anew.INCREMENTALITY, self.anew.INCREMENTALITY_OFF)
        # a programme that is neither presolved nor scaled by the solver is gone on with: half the time
        self.further.SetIntegerParam(self.further.PRESOLVE, self.further.PRESOLVE_OFF)
        self.further.SetIntegerParam(self.further.SCALING, self.further.SCALING_OFF)
        progress = projects.progress
        self.left: Floats = np.maximum(1, projects.left).astype(np.float64)
        self.wanted: Floats = np.where(progress.in_set, progress.wanted, 1.0)
        worth_s = [float(goal.frame_s) * goal.left for goal in projects.goals]
        self.scale = max(1.0, sum(worth_s)) / max(1, len(numbers))  # about what a night brings
        self.ones = [self.solver.Constraint(-self.unbounded, 1.0) for _ in numbers]
        self.caps = [self.solver.Constraint(-self.unbounded, 1.0) for _ in projects.goals]
        self.objective = self.solver.Objective()
        self.objective.SetMaximization()
        self.lacks: dict[int, Any] = {}  # the row of each goal in a set
        self.more: dict[int, Any] = {}  # per goal, taken above its cap, at the highest price
        self.less: dict[int, Any] = {}  # given back below it, at the lowest
        self.behind: dict[int, Any] = {}  # the same of its progress
        self.ahead: dict[int, Any] = {}
        self._add_progress()
        for goal, row in enumerate(self.caps):
            self.more[goal], self.less[goal] = self._beside(row, -1.0), self._beside(row, 1.0)
        self.columns: list[list[NightColumn]] = [[] for _ in numbers]
        self.variables: list[list[Any]] = [[] for _ in numbers]
        self.shares: list[list[float]] = [[] for _ in numbers]
        self.seen = [set[bytes]() for _ in numbers]
        self.is_solved = False
        self.value_s, self.prices = 0.0, Prices(progress.plain.copy(), np.zeros(len(projects.goals)))
        self.near(self.prices, FREE)

    def _add_progress(self) -> None:
        progress = self.projects.progress
        reached = [self.solver.NumVar(least, 1.0, "") for least in progress.least.tolist()]  # y of each set
        for share, whole in zip(reached, (progress.whole / self.scale).tolist(), strict=True):
            self.objective.SetCoefficient(share, whole)
        for goal in np.flatnonzero(progress.in_set).tolist():
            in_hand = float(progress.in_hand[goal] / self.wanted[goal])
            row = self.lacks[goal] = self.solver.Constraint(-self.unbounded, in_hand)
            row.SetCoefficient(reached[progress.of_set[goal]], 1.0)
            self.behind[goal], self.ahead[goal] = self._beside(row, -1.0), self._beside(row, 1.0)

    def _beside(self, row: Any, coefficient: float) -> Any:
        """A variable that eases or fills a row, and so limits its dual."""
        variable = self.solver.NumVar(0.0, self.unbounded, "")
        row.SetCoefficient(variable, coefficient)
        return variable

    def near(self, prices: Prices, reach: float) -> None:
        """Keep the next prices near these: a frame's cost within `reach` of its worth, progress as near.

        With few columns a linear programme says little about so many duals, and raw ones jump about.
        """
        progress, worths_s = self.projects.progress, self.projects.frames_s
        for goal, (cost_s, left) in enumerate(zip(prices.costs_s, self.left, strict=True)):
            most_s, least_s = cost_s + reach * worths_s[goal], cost_s - reach * worths_s[goal]
            free = most_s >= worths_s[goal] * (
                1 + float(progress.most[goal])
            )  # dearer than any frame's worth
            self.more[goal].SetUb(0.0 if free else self.unbounded)
            self._set_gain(self.more[goal], 0.0 if free else -most_s * left)
            self._set_gain(self.less[goal], max(0.0, least_s) * left)
        for goal in self.lacks:
            price, most = prices.shares[goal] - progress.plain[goal], progress.most[goal]
            self._set_gain(self.behind[goal], -min(most, price + reach) * self.wanted[goal])
            self._set_gain(self.ahead[goal], max(0.0, price - reach) * self.wanted[goal])

    def _set_gain(self, variable: Any, gain_s: float) -> None:
        self.objective.SetCoefficient(variable, float(gain_s / self.scale))

    def add(self, night: int, column: NightColumn) -> bool:
        """Take a column of a night; whether it is a new one."""
        key = column.frames.tobytes() + np.round(column.gathered_s, 3).tobytes()  # by task: little
        frames, gathered_s = self._by_goal(night, column)
        chance, progress = self.odds[night], self.projects.progress
        if key in self.seen[night] or chance == 0:
            return False
        self.seen[night].add(key)
        share = self.solver.NumVar(0.0, self.unbounded, "")
        taken = np.round(chance * frames / self.left, DIGITS)
        brought = np.round(chance * gathered_s / self.wanted, DIGITS)
        for goal in np.flatnonzero(taken).tolist():
            self.caps[goal].SetCoefficient(share, float(taken[goal]))
            if goal in self.lacks:
                self.lacks[goal].SetCoefficient(share, -float(brought[goal]))
        self.ones[night].SetCoefficient(share, 1.0)
        worth_s = chance * float(progress.plain @ gathered_s)
        self.objective.SetCoefficient(share, worth_s / self.scale)
        self.columns[night].append(column)
        self.variables[night].append(share)
        self.shares[night].append(0.0)
        return True

    def _by_goal(self, night: int, column: NightColumn) -> tuple[Ints, Floats]:
        """Frames and weighted seconds of a column by the numbers of goals, [goals]."""
        frames, gathered_s = np.zeros(len(self.left), dtype=np.int64), np.zeros(len(self.left))
        np.add.at(frames, self.numbers[night], column.frames)
        np.add.at(gathered_s, self.numbers[night], column.gathered_s)
        return frames, gathered_s

    @property
    def is_held(self) -> bool:
        """Whether the last solution would be another one without the limits of `near`."""
        if not self.is_solved:
            return False
        progress = self.projects.progress
        held = [*self.more.values(), *(each for each in self.less.values() if self._gain_s(each) > 0)]
        held += [each for each in self.ahead.values() if self._gain_s(each) > 0]
        for goal, each in self.behind.items():
            limit_s = -float(progress.most[goal] * self.wanted[goal])
            held += [each] if self._gain_s(each) > limit_s * (1 - 1e-9) else []
        return any(each.solution_value() > SOME for each in held)

    def _gain_s(self, variable: Any) -> float:
        return float(self.objective.GetCoefficient(variable)) * self.scale

    def solve(self) -> bool:
        """Find value, prices and shares anew; where the solver fails, all stay: any prices give a bound."""
        self.is_solved = any(self.columns) and any(
            self.solver.Solve(how) == self.solved for how in (self.further, self.anew)
        )
        if not self.is_solved:
            return False
        progress = self.projects.progress
        self.value_s = float(self.objective.Value()) * self.scale - progress.before
        costs = np.array([max(0.0, row.dual_value()) for row in self.caps]) * self.scale / self.left
        shares = progress.plain.copy()
        for goal, row in self.lacks.items():
            price = row.dual_value() * self.scale / float(self.wanted[goal])
            shares[goal] += min(max(0.0, price), float(progress.most[goal]))
        self.prices = Prices(shares, costs)
        self.shares = [[share.solution_value() for share in own] for own in self.variables]
        return True
