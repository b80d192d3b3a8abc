"""The linear programme of column generation: the most worth of a mixture of paths within the goals' caps.

And within the rows that hold for each plan (`path_rows`).
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from optimizer.packing.bound.columns import Column
from optimizer.packing.bound.cuts.rows import PathRows
from optimizer.packing.compiled import Floats


class RestrictedMaster:
    """Columns are added one by one; each solution starts from the one before."""

    def __init__(self, caps: Floats, scale: float, rows: PathRows) -> None:
        """`caps` [tasks] in frames; all is scaled (`scale`: of worths), the solver likes ones."""
        from ortools.linear_solver import pywraplp

        self.more, self.caps, self.scale = rows, np.maximum(caps, 1.0), scale or 1.0
        self.sizes = np.maximum(rows.sizes, 1.0)
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        self.solved, self.unbounded = pywraplp.Solver.OPTIMAL, self.solver.infinity()
        self.anew, self.further = pywraplp.MPSolverParameters(), pywraplp.MPSolverParameters()
        self.anew.SetIntegerParam(self.anew.INCREMENTALITY, self.anew.INCREMENTALITY_OFF)
        # a programme that is neither presolved nor scaled by the solver is gone on with: half the time
        self.further.SetIntegerParam(self.further.PRESOLVE, self.further.PRESOLVE_OFF)
        self.further.SetIntegerParam(self.further.SCALING, self.further.SCALING_OFF)
        self.rows = [
            self.solver.Constraint(-self.unbounded, cap / most)
            for cap, most in zip(caps.tolist(), self.caps.tolist(), strict=True)
        ]
        self.balances = [self.solver.Constraint(-self.unbounded, 0.0) for _ in rows.sizes]
        self.one = self.solver.Constraint(-self.unbounded, 1.0)
        self.objective = self.solver.Objective()
        self.objective.SetMaximization()
        self.columns: list[Column] = []
        self.variables: list[Any] = []
        self.shares: list[float] = []
        self.answer: tuple[float, Floats] = (math.inf, np.zeros(len(caps) + len(self.balances)))
        self.seen: dict[bytes, float] = {}  # most worth by frames of each task and balances

    def add(self, path: Column) -> bool:
        """Take a path as a column; whether it is a new one."""
        frames = path.frames()
        shares = frames / self.caps
        # rounded: sums that are 0 but for the last bits make the solver fail
        balance = np.round(self.more.balance(path.runs) / self.sizes, 9)
        key = frames.tobytes() + balance.tobytes()
        if path.profit <= self.seen.get(key, -np.inf) * (1 + 1e-12):
            return False
        self.seen[key] = path.profit
        share = self.solver.NumVar(0.0, self.unbounded, "")
        for task in np.flatnonzero(frames):
            self.rows[task].SetCoefficient(share, float(shares[task]))
        for row in np.flatnonzero(balance):
            self.balances[row].SetCoefficient(share, float(balance[row]))
        self.one.SetCoefficient(share, 1.0)
        self.objective.SetCoefficient(share, path.profit / self.scale)
        self.columns.append(path)
        self.variables.append(share)
        self.shares.append(0.0)
        return True

    def solve(self) -> tuple[float, Floats]:
        """The most worth, and what one more of each task's frames and of each row's units would add.

        Where the solver fails, which it may after many additions, what it said last: any prices give a bound.
        """
        if any(self.solver.Solve(how) == self.solved for how in (self.further, self.anew)):
            rows = [*self.rows, *self.balances]
            unscaled = np.concatenate([self.caps, self.sizes])
            duals = np.array([max(0.0, row.dual_value()) for row in rows]) * self.scale / unscaled
            self.answer = float(self.objective.Value()) * self.scale, duals
            self.shares = [variable.solution_value() for variable in self.variables]
        return self.answer

    def paths(self) -> tuple[Column, ...]:
        """All columns, those with the greatest share first."""
        return tuple(self.columns[number] for number in np.argsort(-np.array(self.shares), kind="stable"))
