"""The bound that proves: prices on the goals' caps, improved until the best priced path says no more.

Column generation (Dantzig & Wolfe 1960, Operations Research 8): paths of the relaxation are columns of a
small linear programme with one row for each goal's cap; its duals are the next prices. Every pricing is a
valid bound: priced worth of the best path + prices x caps. The prices are smoothed towards the best so far
(Wentges 1997, Int. Trans. in Operational Research 4), since raw duals jump about. Both cited from memory.

A coarse grid gives prices within a second; `tighter_bounds` goes on from them on finer ones.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer.packing.compiled import Floats
from optimizer.packing.graph import NightGraph
from optimizer.packing.programme import Programme
from optimizer.packing.relaxation import Path, Relaxation

COARSE_STEPS_S = (5, 10, 20, 40, 60)
FINE_STEPS_S = (1, 2, 5, 10, 20, 40, 60)
SMOOTHING = 0.8
PATHS_OF_PRICING = 4  # columns from each: the programme's prices settle in half as many rounds as with one
# Near enough to the best prices: a share of the linear programme's value, and of the gap asked for.
CLOSE, CLOSE_OF_GAP = 1e-5, 0.1
MOST_ROUNDS, USUAL_ROUNDS, FINE_ROUNDS, KNOWN_ROUNDS = 150, 60, 4, 2
# So much of a pricing's work takes about a second (measured on one core); a linear programme counts as more.
WORK_PER_SECOND, WORK_OF_PROGRAMME = 7e8, 5e6
MOST_CELLS, MOST_TIGHT_CELLS = 1.6e7, 2.6e7  # of the tables of a pricing, 8 bytes each
MOST_IDLE = 5  # pricings on end that bring no new column
TIGHT_ROUNDS = (50, 6)  # pricings that there should be time for, on the first and on the second finer grid
TIGHT_SHARE = 0.7  # of the time, for the first of them


@dataclass(frozen=True)
class NightBound:
    """No plan is worth more than `bound`; `paths` are all columns, those of greatest share first.

    `prices` of a frame of each task gave the bound, on a grid of `step_s`, with those of a second of each
    slot's focus age.
    """

    bound: int
    paths: tuple[Path, ...]
    prices: Floats
    step_s: int = 0
    ages: Floats | None = None


def bound_night(graph: NightGraph, seconds: float, prices: Floats | None = None) -> NightBound:
    """The bound within about so many seconds of work: counted, not timed, so that all runs give the same.

    `prices` of a night much like this one save the search for them.
    """
    problem = graph.problem
    trivial = NightBound(problem.most_worth, (), np.zeros(len(problem.tasks)))
    if not graph.entries:
        return replace(trivial, bound=0)
    work = seconds * WORK_PER_SECOND
    coarse = _grid_within(graph, COARSE_STEPS_S, work / USUAL_ROUNDS, work / FINE_ROUNDS)
    rounds = FINE_ROUNDS if prices is None else KNOWN_ROUNDS
    fine = _grid_within(graph, FINE_STEPS_S, work / rounds, work / rounds)
    if coarse is None or fine is None:
        return trivial
    search = _Prices(coarse if prices is None else fine, prices)
    if prices is None:
        for _ in range(max(1, min(MOST_ROUNDS, int(work / (coarse.work + WORK_OF_PROGRAMME))))):
            if search.step():
                break
        search = search.on(fine)
    for _ in range(rounds):
        before = search.best_bound
        if search.step() or before - search.best_bound < search.close * before < math.inf:
            break
    return search.found(trivial.bound)


def tighter_bounds(
    graph: NightGraph, found: NightBound, seconds: float, *, counted: bool
) -> Iterator[NightBound]:
    """The bound after each pricing on finer grids, from the prices found, for about so many seconds.

    `counted`: by counted work, else by the clock. Ends early where the prices get no better.
    """
    if not found.step_s:
        return
    began, done = time.monotonic(), 0.0
    before = None
    for rounds, share in zip(TIGHT_ROUNDS, (TIGHT_SHARE, 1.0), strict=True):
        most = seconds * WORK_PER_SECOND / rounds
        grid = _grid_within(graph, FINE_STEPS_S, most, most, MOST_TIGHT_CELLS)
        if grid is None or (before is not None and grid.step_s >= before.step_s):
            continue
        before = grid
        search = _Prices(grid, found.prices, found.ages, found.paths)
        settled = False
        while not settled:
            spent = done / WORK_PER_SECOND if counted else time.monotonic() - began
            if spent > share * seconds:
                break
            settled = search.step()
            done += grid.work + WORK_OF_PROGRAMME
            latest = search.found(found.bound)
            yield latest
        found = latest


def _grid_within(
    graph: NightGraph, steps_s: tuple[int, ...], wanted: float, most: float, cells: float = MOST_CELLS
) -> Relaxation | None:
    """The finest grid of the list on which one pricing costs no more than `wanted`, else the coarsest.

    None where even that costs more than `most`.
    """
    for step_s in steps_s:
        relaxation = Relaxation(graph, step_s)
        if relaxation.work + WORK_OF_PROGRAMME <= wanted and relaxation.cells <= cells:
            return relaxation
    return relaxation if relaxation.work <= most else None


class _Prices:
    """The search for good prices on one grid; `paths` of another one are put on it first."""

    def __init__(
        self,
        grid: Relaxation,
        prices: Floats | None,
        ages: Floats | None = None,
        paths: tuple[Path, ...] = (),
    ) -> None:
        problem, graph = grid.problem, grid.graph
        self.grid = grid
        self.caps = np.array([float(task.frames_left) for task in problem.tasks])
        self.programme = Programme(self.caps, float(problem.most_worth), graph.focus_age)
        for path in paths:
            self.programme.add(grid.moved(path))
        self.best_bound = math.inf
        self.prices: Floats = np.zeros(len(self.caps) + len(graph.slots))
        if prices is not None:
            self.prices[: len(prices)] = prices
        if ages is not None:
            self.prices[len(self.caps) :] = ages
        self.best_prices = self.prices
        self.idle = 0
        self.close = max(CLOSE, CLOSE_OF_GAP * problem.request.aim.gap)

    def on(self, grid: Relaxation) -> _Prices:
        """The search gone on with on another grid."""
        split = len(self.caps)
        return _Prices(grid, self.best_prices[:split], self.best_prices[split:], self.paths())

    def step(self) -> bool:
        """Price, solve the linear programme, smooth; whether the bound meets the programme's value."""
        paths = self.grid.best_paths(self.prices, PATHS_OF_PRICING)
        bound = paths[0].value + float(self.prices[: len(self.caps)] @ self.caps)
        if bound < self.best_bound:
            self.best_bound, self.best_prices = bound, self.prices
        new, *_ = [self.programme.add(path) for path in paths]
        value, duals = self.programme.solve()
        smooth = SMOOTHING * self.best_prices + (1 - SMOOTHING) * duals if new else duals
        self.idle = 0 if new else self.idle + 1
        stuck = self.idle == MOST_IDLE or (not new and np.allclose(self.prices, duals))
        self.prices = smooth
        return stuck or self.best_bound - value <= self.close * max(1.0, value)

    def paths(self) -> tuple[Path, ...]:
        """All columns, those with the greatest share first."""
        return self.programme.paths()

    def found(self, known: int) -> NightBound:
        """The bound as it stands; `known` is another one."""
        bound = math.floor(self.best_bound * (1 + 1e-12) + 1e-6)
        prices, ages = np.split(self.best_prices, [len(self.caps)])
        return NightBound(min(known, bound), self.paths(), prices, self.grid.step_s, ages)
