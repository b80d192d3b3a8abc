"""The bound that proves: prices on the goals' caps, improved until the best priced path says no more.

Column generation (Dantzig & Wolfe 1960, Operations Research 8): paths of the relaxation are columns of a
small linear programme with one row for each goal's cap; its duals are the next prices. Every pricing is a
valid bound: priced worth of the best path + prices x caps. The prices are smoothed towards the best so far
(Wentges 1997, Int. Trans. in Operational Research 4), since raw duals jump about. Both cited from memory.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import numpy as np

from optimizer.packing.compiled import Floats
from optimizer.packing.graph import NightGraph
from optimizer.packing.relaxation import Path, Relaxation
from optimizer.problem import Problem

COARSE_STEPS_S = (5, 10, 20, 40, 60)
FINE_STEPS_S = (1, 2, 5, 10, 20, 40, 60)
SMOOTHING = 0.5
# Near enough to the best prices: a share of the linear programme's value, and of the gap asked for.
CLOSE, CLOSE_OF_GAP = 1e-5, 0.1
MOST_ROUNDS, USUAL_ROUNDS, FINE_ROUNDS, KNOWN_ROUNDS = 150, 60, 4, 2
# So much of a pricing's work takes about a second (measured on one core); a linear programme counts as more.
WORK_PER_SECOND, WORK_OF_PROGRAMME = 7e8, 5e6
MOST_CELLS = 1.6e7  # of the tables of a pricing, 8 bytes each


@dataclass(frozen=True)
class NightBound:
    """No plan is worth more than `bound`; `paths` are all columns, those of greatest share first.

    `prices` of a frame of each task gave the bound.
    """

    bound: int
    paths: tuple[Path, ...]
    prices: Floats


def bound_night(graph: NightGraph, seconds: float, prices: Floats | None = None) -> NightBound:
    """The bound within about so many seconds of work: counted, not timed, so that all runs give the same.

    `prices` of a night much like this one save the search for them.
    """
    problem = graph.problem
    caps = np.array([float(task.frames_left) for task in problem.tasks])
    trivial = problem.most_worth
    work = seconds * WORK_PER_SECOND
    coarse = _grid_within(graph, COARSE_STEPS_S, work / USUAL_ROUNDS, work / FINE_ROUNDS)
    rounds = FINE_ROUNDS if prices is None else KNOWN_ROUNDS
    fine = _grid_within(graph, FINE_STEPS_S, work / rounds, work / rounds)
    if coarse is None or fine is None:
        return NightBound(trivial, (), np.zeros(len(caps)))
    if not coarse.entries:
        return NightBound(0, (), np.zeros(len(caps)))
    search = _Prices(problem, caps)
    if prices is None:
        search.improve(coarse, max(1, min(MOST_ROUNDS, int(work / (coarse.work + WORK_OF_PROGRAMME)))))
    else:
        search.best_prices = prices
    search.refine(fine, rounds)
    bound = math.floor(search.best_bound * (1 + 1e-12) + 1e-6)
    return NightBound(min(trivial, bound), search.paths(), search.best_prices)


def _grid_within(
    graph: NightGraph, steps_s: tuple[int, ...], wanted: float, most: float
) -> Relaxation | None:
    """The finest grid of the list on which one pricing costs no more than `wanted`, else the coarsest.

    None where even that costs more than `most`.
    """
    for step_s in steps_s:
        relaxation = Relaxation(graph, step_s)
        if relaxation.work + WORK_OF_PROGRAMME <= wanted and relaxation.cells <= MOST_CELLS:
            return relaxation
    return relaxation if relaxation.work <= most else None


class _Prices:
    """The search for good prices."""

    def __init__(self, problem: Problem, caps: Floats) -> None:
        self.problem, self.caps = problem, caps
        self.columns: list[Path] = []
        self.frames: list[Floats] = []
        self.shares: list[float] = []
        self.best_bound = math.inf
        self.best_prices: Floats = np.zeros(len(caps))
        self.value, self.duals = 0.0, self.best_prices
        self.close = max(CLOSE, CLOSE_OF_GAP * problem.request.aim.gap)

    def improve(self, relaxation: Relaxation, rounds: int) -> None:
        """Price, solve the linear programme, smooth, until the bound meets its value."""
        prices: Floats = np.zeros(len(self.caps))
        for _ in range(rounds):
            new = self._price(relaxation, prices)
            self._solve_programme()
            if self.best_bound - self.value <= self.close * max(1.0, self.value):
                return
            if not new:
                if np.allclose(prices, self.duals):
                    return
                prices = self.duals
                continue
            prices = SMOOTHING * self.best_prices + (1 - SMOOTHING) * self.duals

    def refine(self, relaxation: Relaxation, rounds: int) -> None:
        """The same on a finer grid, from the prices found; only its bounds are near the truth."""
        prices = self.best_prices
        self.best_bound = math.inf
        for _ in range(rounds):
            before = self.best_bound
            new = self._price(relaxation, prices)
            self._solve_programme()
            if not new or self.best_bound - self.value <= self.close * max(1.0, self.value):
                return
            if before < math.inf and before - self.best_bound < self.close * before:
                return
            prices = SMOOTHING * self.best_prices + (1 - SMOOTHING) * self.duals

    def paths(self) -> tuple[Path, ...]:
        """All columns, those with the greatest share first."""
        order = sorted(range(len(self.columns)), key=lambda number: -self.shares[number])
        return tuple(self.columns[number] for number in order)

    def _price(self, relaxation: Relaxation, prices: Floats) -> bool:
        """One pricing: its bound, and its path as a column; whether that column is new."""
        path = relaxation.best_path(prices)
        bound = path.value + float(prices @ self.caps)
        if bound < self.best_bound:
            self.best_bound, self.best_prices = bound, prices
        frames: Counter[int] = Counter()
        for run in path.runs:
            frames[run.task] += run.frames
        column = np.array([float(frames[index]) for index in range(len(self.caps))])
        for number, other in enumerate(self.frames):
            if np.array_equal(column, other) and path.worth <= self.columns[number].worth * (1 + 1e-12):
                return False
        self.columns.append(path)
        self.frames.append(column)
        return True

    def _solve_programme(self) -> None:
        """Most worth of a mixture of columns within the caps; duals of the caps."""
        from ortools.linear_solver import pywraplp

        solver = pywraplp.Solver.CreateSolver("GLOP")
        scale = float(self.problem.most_worth) or 1.0  # the solver likes numbers near one
        shares = [solver.NumVar(0.0, 1.0, "") for _ in self.columns]
        solver.Add(sum(shares) <= 1)
        rows = []
        columns = list(zip(shares, self.frames, strict=True))
        for index, cap in enumerate(self.caps):
            used = [share * float(frames[index]) for share, frames in columns if frames[index]]
            rows.append(solver.Add(sum(used) <= float(cap)) if used else None)
        worths = [path.worth / scale for path in self.columns]
        solver.Maximize(sum(share * worth for share, worth in zip(shares, worths, strict=True)))
        solver.Solve()
        self.value = float(solver.Objective().Value()) * scale
        self.duals = np.array([0.0 if row is None else max(0.0, row.dual_value()) * scale for row in rows])
        self.shares = [float(share.solution_value()) for share in shares]
