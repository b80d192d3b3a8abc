"""The bound that proves: prices on the goals' caps, improved until the best priced path says no more.

Column generation (Dantzig & Wolfe 1960, Operations Research 8): paths of the relaxation are columns of a
small linear programme with one row for each goal's cap; its duals are the next prices. Every pricing is a
valid bound: priced worth of the best path + prices x caps. The prices are smoothed towards the best so far
(Wentges 1997, Int. Trans. in Operational Research 4), since raw duals jump about.

A coarse grid gives prices within a second; `tighter_bounds` goes on from them on finer ones.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer.packing.bound.ceiling import ceiling
from optimizer.packing.bound.columns import Column
from optimizer.packing.bound.cuts.rows import lasting_prices
from optimizer.packing.bound.restricted_master import RestrictedMaster
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.subgradient import MANY_TASKS, Subgradient
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.budget import WORK_PER_SECOND, Budget
from optimizer.packing.compiled import Floats
from optimizer.problem import Problem

COARSE_STEPS_S = (10, 20, 40, 60)  # finer ones are slower to come near the bound
FINE_STEPS_S = (1, 2, 5, 10, 20, 40, 60)
TIGHT_STEPS_S = FINE_STEPS_S[:4]  # coarser ones say hardly more than is known by then
SMOOTHING = 0.8
PATHS_OF_PRICING = 4  # columns from each: the programme's prices settle in half as many rounds as with one
# Near enough to the best prices: a share of the linear programme's value, and of the gap asked for.
CLOSE, CLOSE_OF_GAP = 1e-5, 0.1
CLOSE_AT_FIRST = 3e-4  # on a coarse grid, whose rounding costs more
MOST_ROUNDS, USUAL_ROUNDS, FINE_ROUNDS, KNOWN_ROUNDS = 250, 400, 4, 2
# So much of a pricing's work takes about a second (measured on one core); a linear programme counts as more.
WORK_OF_PROGRAMME = 2.5e6
MOST_CELLS, MOST_TIGHT_CELLS = 2e7, 4e7  # of the tables of a pricing, 8 bytes each
MOST_IDLE = 5  # pricings on end that bring no new column
LEAST_REACHED = 0.1  # of what sums say, for what a second of the night may bring
QUICK_SHARE = 0.02  # of the time, for a pricing without prices
COARSE_SHARE = 0.7  # of the time, for good prices; the rest makes a bound of them on a finer grid
# Pricings that there should be time for on each finer grid, and by when of the time its search ends.
TIGHT_STAGES = ((120, 0.5), (40, 0.8), (8, 1.0))


@dataclass(frozen=True)
class NightBound:
    """No plan is worth more than `bound`; `paths` are all columns, those of greatest share first.

    `prices` of a frame of each task and of each row (`path_rows`) gave the bound, on a grid of `step_s`;
    `frame_prices` [tasks]: what a frame takes from others, of its cap and of its stay's. `work_per_s`: how
    fast pricings went.
    """

    bound: int
    paths: tuple[Column, ...]
    prices: Floats
    frame_prices: Floats
    step_s: int = 0
    work_per_s: float = WORK_PER_SECOND

    @classmethod
    def trivial(cls, problem: Problem) -> NightBound:
        """What sums say of all that is wanted and of the time that there is."""
        tasks = len(problem.tasks)
        return cls(ceiling(problem), (), np.zeros(lasting_prices(tasks)), np.zeros(tasks))


def first_bounds(
    graph: RunGraph,
    budget: Budget,
    prices: Floats | None = None,
    reached: Callable[[], float] = lambda: 0.0,
) -> Iterator[NightBound]:
    """The bound after each pricing, for about so many seconds; the first is what sums say.

    The second is that of a pricing without prices in which paths remember nothing: it takes some milliseconds
    and holds whatever else there is time for.

    `prices` of a night much like this one save the search for them. `reached`: what the best plan so far is
    worth. `counted`: by counted work, else by the clock.
    """
    problem = graph.problem
    found = NightBound.trivial(problem)
    if not graph.entries:
        yield replace(found, bound=0)
        return
    yield found
    if (quick := _quick(graph, found, budget)) is not None:
        found = quick
        yield found
    search, graph = None, graph.lean
    if prices is None:
        work = COARSE_SHARE * budget.work_left
        grid = _grid_within(graph, COARSE_STEPS_S, work / USUAL_ROUNDS, work / FINE_ROUNDS)
        if grid is None:
            return
        search = _Prices(grid, prices, reached=reached, close=CLOSE_AT_FIRST)
        for _ in range(MOST_ROUNDS):
            settled = search.step()
            budget.spend(grid.work + WORK_OF_PROGRAMME)
            found = search.found(found.bound, budget.work_per_s)
            yield found
            if settled or budget.spent_s > COARSE_SHARE * budget.seconds:
                break
    rounds = FINE_ROUNDS if prices is None else KNOWN_ROUNDS
    most = budget.work_left / rounds
    grid = _grid_within(graph, FINE_STEPS_S, most, most)
    if grid is None:
        return
    search = _Prices(grid, prices, reached=reached) if search is None else search.on(grid)
    for number in range(rounds):
        before = search.best_bound
        settled = search.step()
        budget.spend(grid.work + WORK_OF_PROGRAMME)
        found = search.found(found.bound, budget.work_per_s)
        yield found
        if settled or before - search.best_bound < search.close * before < math.inf:
            break
        if budget.spent_s > budget.seconds and number > 0:
            break


def tighter_bounds(
    graph: RunGraph,
    found: NightBound,
    budget: Budget,
    reached: Callable[[], float] = lambda: 0.0,
) -> Iterator[NightBound]:
    """The bound after each pricing on finer grids, from the prices found, for about so many seconds.

    First of paths that remember only goals whose caps may bind, then, if there is time, of the others.
    `reached`, `counted` as in `first_bounds`. Ends early where the prices get no better.
    """
    if not found.step_s:
        return
    lean = graph.lean
    for memory in (lean,) if lean is graph else (lean, graph):
        search, settled = None, False
        for rounds, share in TIGHT_STAGES:
            most = budget.work_left / rounds
            grid = _grid_within(memory, TIGHT_STEPS_S, most, most, MOST_TIGHT_CELLS)
            if grid is not None and (search is None or grid.step_s < search.grid.step_s):
                search = None  # the tables of the grid before are let go
                search, settled = _Prices(grid, found.prices, found.paths, reached), False
            while (
                search is not None
                and not settled
                and budget.spent_s <= share * budget.seconds
                and not budget.is_over
            ):
                settled = search.step()
                budget.spend(search.grid.work + WORK_OF_PROGRAMME)
                found = search.found(found.bound, budget.work_per_s)
                yield found


def _quick(graph: RunGraph, found: NightBound, budget: Budget) -> NightBound | None:
    """The bound by one pricing without prices, of paths that remember nothing; None where it is too dear."""
    left = budget.work_left
    grid = _grid_within(graph.forgetting, COARSE_STEPS_S, QUICK_SHARE * left, left)
    if grid is None:
        return None
    path, *_ = grid.best_paths(np.zeros(len(graph.problem.tasks)), 1)
    budget.spend(grid.work + WORK_OF_PROGRAMME)
    return replace(found, bound=min(found.bound, _whole(path.value)), paths=(path,))


def _whole(bound: float) -> int:
    """Down to whole units, with room for what sums of floating numbers lose."""
    return math.floor(bound * (1 + 1e-12) + 1e-6)


def _grid_within(
    graph: RunGraph, steps_s: tuple[int, ...], wanted: float, most: float, cells: float = MOST_CELLS
) -> TimeExpandedGraph | None:
    """The finest grid of the list on which one pricing costs no more than `wanted`, else the coarsest.

    None where even that costs more than `most`.
    """
    for step_s in steps_s:
        relaxation = TimeExpandedGraph(graph, step_s, join_ways=True)
        if relaxation.work + WORK_OF_PROGRAMME <= wanted and relaxation.cells <= cells:
            return relaxation
    return relaxation if relaxation.work <= most else None


class _Prices:
    """The search for good prices on one grid; `paths` of another one are put on it first."""

    def __init__(
        self,
        grid: TimeExpandedGraph,
        prices: Floats | None,
        paths: tuple[Column, ...] = (),
        reached: Callable[[], float] = lambda: 0.0,
        close: float = CLOSE,
    ) -> None:
        problem, graph = grid.problem, grid.graph
        self.grid = grid
        self.caps = np.array([float(task.frames_left) for task in problem.tasks])
        self.programme = RestrictedMaster(self.caps, float(graph.ceiling), graph.rows)
        for path in paths:
            self.programme.add(grid.moved(path))
        self.best_bound = math.inf
        self.prices: Floats = np.zeros(len(self.caps) + len(graph.rows.sizes))
        self.descent: Subgradient | None = None
        if np.count_nonzero(graph.binding) >= MANY_TASKS:
            profits = np.array([float(task.profit) for task in problem.tasks])
            second = max(reached(), LEAST_REACHED * graph.ceiling) / float(graph.rows.elapsed.given[0])
            self.descent = Subgradient(graph.rows, self.caps, profits, second)
        if prices is not None:
            self.prices[: len(prices)] = prices
        elif self.descent is not None:
            self.prices = self.descent.first()
        self.best_prices = self.prices
        self.idle, self.reached = 0, reached
        self.close = max(close, CLOSE_OF_GAP * problem.limits.gap)

    def on(self, grid: TimeExpandedGraph) -> _Prices:
        """The search gone on with on another grid."""
        return _Prices(grid, self.best_prices, self.paths(), self.reached)

    def step(self) -> bool:
        """Price, then go down the slope, or solve the linear programme and smooth.

        Whether the bound meets the programme's value.
        """
        paths = self.grid.best_paths(self.prices, PATHS_OF_PRICING)
        bound = paths[0].value + float(self.prices[: len(self.caps)] @ self.caps)
        if bound < self.best_bound:
            self.best_bound, self.best_prices = bound, self.prices
        new, *_ = [self.programme.add(path) for path in paths]
        if self.descent is None or self.descent.asks():
            self.programme.solve()
            if self.descent is not None and self.descent.is_down(self.best_bound, self.programme.answer[0]):
                self.descent = None
        value, duals = self.programme.answer
        if self.descent is not None:
            self.prices = self.descent.next(self.prices, paths[0], bound, max(value, self.reached()))
            return False
        smooth = SMOOTHING * self.best_prices + (1 - SMOOTHING) * duals if new else duals
        self.idle = 0 if new else self.idle + 1
        stuck = self.idle == MOST_IDLE or (not new and np.allclose(self.prices, duals))
        self.prices = smooth
        return stuck or self.best_bound - value <= self.close * max(1.0, value)

    def paths(self) -> tuple[Column, ...]:
        """All columns, those with the greatest share first."""
        return self.programme.paths()

    def found(self, known: int, work_per_s: float) -> NightBound:
        """The bound as it stands; `known` is another one."""
        bound = _whole(self.best_bound) if self.best_bound < math.inf else known
        of_frames = self.grid.graph.rows.frame_prices(self.best_prices)
        step_s = self.grid.step_s
        return NightBound(min(known, bound), self.paths(), self.best_prices, of_frames, step_s, work_per_s)
