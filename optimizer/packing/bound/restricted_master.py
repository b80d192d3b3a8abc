"""The linear programme of column generation: the most profit of a mixture of columns within caps and cuts."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from optimizer.packing.bound.columns import Column
from optimizer.packing.bound.cuts.cut_list import CutList
from optimizer.packing.compiled import Floats


class RestrictedMaster:
    """Columns are added one by one, and each solution starts from the one before.

    After `solve`, `value` is the most profit of a mixture, and `duals` [rows] what one more unit of each row
    would add to it.
    """

    def __init__(self, cuts: CutList, profit: float) -> None:
        """Begin without a column; `profit` is about that of a night: all is scaled to about 1."""
        from ortools.linear_solver import pywraplp

        self.cuts, self.scale, self.sizes = cuts, profit or 1.0, np.maximum(cuts.scale, 1.0)
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        self.solved, self.unbounded = pywraplp.Solver.OPTIMAL, self.solver.infinity()
        self.anew, self.further = pywraplp.MPSolverParameters(), pywraplp.MPSolverParameters()
        self.anew.SetIntegerParam(self.anew.INCREMENTALITY, self.anew.INCREMENTALITY_OFF)
        # a programme that is neither presolved nor scaled by the solver is gone on with: half the time
        self.further.SetIntegerParam(self.further.PRESOLVE, self.further.PRESOLVE_OFF)
        self.further.SetIntegerParam(self.further.SCALING, self.further.SCALING_OFF)
        self.rows = [
            self.solver.Constraint(-self.unbounded, most) for most in (cuts.rhs / self.sizes).tolist()
        ]
        self.one = self.solver.Constraint(-self.unbounded, 1.0)
        self.objective = self.solver.Objective()
        self.objective.SetMaximization()
        self.columns: list[Column] = []
        self.variables: list[Any] = []
        self.shares: list[float] = []
        self.value, self.duals = math.inf, np.zeros(len(self.rows))
        self.before = self._add_progress()
        self.seen: dict[bytes, float] = {}  # most profit by coefficients

    def _add_progress(self) -> float:
        """Take what filter sets bring beside the columns; return what of it is there before the night."""
        if "progress" not in self.cuts.rows:
            return 0.0
        progress, first = self.cuts.graph.progress, self.cuts.rows["progress"].start
        reached = [self.solver.NumVar(least, 1.0, "") for least in progress.least.tolist()]  # y of each set
        for share, whole in zip(reached, (progress.whole / self.scale).tolist(), strict=True):
            self.objective.SetCoefficient(share, whole)
        for task in np.flatnonzero(progress.in_set).tolist():
            row, size = self.rows[first + task], float(self.sizes[first + task])
            row.SetCoefficient(reached[progress.of_set[task]], float(progress.wanted[task]) / size)
            lacks = self.solver.NumVar(0.0, self.unbounded, "")
            row.SetCoefficient(lacks, -1.0)
            self.objective.SetCoefficient(lacks, -float(progress.most[task]) * size / self.scale)
        return progress.before

    def add(self, column: Column) -> bool:
        """Take a column; whether it is a new one, or better than one that takes as much."""
        # rounded: sums that are 0 but for the last bits make the solver fail
        coefficients = np.round(self.cuts.coefficients(column.runs) / self.sizes, 9)
        key = coefficients.tobytes()
        if column.profit <= self.seen.get(key, -np.inf) * (1 + 1e-12):
            return False
        self.seen[key] = column.profit
        share = self.solver.NumVar(0.0, self.unbounded, "")
        for row in np.flatnonzero(coefficients):
            self.rows[row].SetCoefficient(share, float(coefficients[row]))
        self.one.SetCoefficient(share, 1.0)
        self.objective.SetCoefficient(share, column.profit / self.scale)
        self.columns.append(column)
        self.variables.append(share)
        self.shares.append(0.0)
        return True

    def solve(self) -> None:
        """Find value and duals anew.

        Where the solver fails, which it may after many additions, they stay: any duals give a bound.
        """
        if any(self.solver.Solve(how) == self.solved for how in (self.further, self.anew)):
            duals: Floats = np.array([max(0.0, row.dual_value()) for row in self.rows])
            self.value = float(self.objective.Value()) * self.scale - self.before
            self.duals = np.minimum(duals * self.scale / self.sizes, self.cuts.most)
            self.shares = [variable.solution_value() for variable in self.variables]

    def columns_by_share(self) -> tuple[Column, ...]:
        """All columns, those of greatest share in the mixture first."""
        return tuple(self.columns[number] for number in np.argsort(-np.array(self.shares), kind="stable"))
