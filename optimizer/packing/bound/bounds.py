"""The bound that proves: duals of caps and cuts, improved until the best reduced column says no more.

Column generation: paths through the time-expanded graph are columns of a restricted master with the rows of
all cuts; its duals are the next ones. Every labelling gives a valid bound: the value of its best column. The
duals are smoothed towards the best so far, since raw ones jump about (README.md has the literature).

A coarse grid gives duals within a second; `tighter_bounds` goes on from them on finer ones.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from optimizer.packing.bound.ceiling import ceiling, rounded_down
from optimizer.packing.bound.columns import Column
from optimizer.packing.bound.cuts.cut_list import CutList
from optimizer.packing.bound.restricted_master import RestrictedMaster
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.subgradient import Subgradient
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.budget import Budget
from optimizer.packing.compiled import Floats
from optimizer.problem import Problem

Value = Callable[[], float]  # profit of the incumbent: it grows while the bound falls


@dataclass(frozen=True)
class NightBound:
    """No plan has more profit than `bound`; `columns` are all that gave it, those of greatest share first.

    `duals` are those that gave the bound, by the name of their cut, on a grid of `step_s` seconds (0: none).
    """

    bound: int
    columns: tuple[Column, ...] = ()
    duals: Mapping[str, Floats] = field(default_factory=dict)
    step_s: int = 0

    @classmethod
    def trivial(cls, problem: Problem) -> NightBound:
        """The bound by sums of all that is wanted and of the time that there is."""
        return cls(ceiling(problem))


def first_bounds(
    graph: RunGraph,
    budget: Budget,
    duals: Mapping[str, Floats] | None = None,
    incumbent: Value = lambda: 0.0,
) -> Iterator[NightBound]:
    """The bound after each labelling, within a budget; the first one is by sums.

    The second comes from a labelling without duals of paths that remember nothing: it takes some milliseconds
    and holds whatever else there is time for. `duals` of a night much like this one save the search for them.
    """
    bound = NightBound.trivial(graph.problem)
    if not graph.nodes:
        yield replace(bound, bound=0)
        return
    yield bound
    parameters, cuts = graph.parameters, CutList(graph)
    left = budget.work_left
    grid = _grid_within(graph.forgetting, parameters.coarse_steps_s, parameters.quick_share * left, left)
    if grid is not None:
        column, *_ = grid.best_columns(1, cuts.reduction(cuts.all_rows({})))
        budget.spend(grid.work + parameters.work_of_master)
        bound = replace(bound, bound=min(bound.bound, rounded_down(column.value)), columns=(column,))
        yield bound
    generation, graph = None, graph.lean
    if duals is None:
        work = parameters.coarse_share * budget.work_left
        grid = _grid_within(
            graph,
            parameters.coarse_steps_s,
            work / parameters.usual_rounds,
            work / parameters.fine_rounds,
        )
        if grid is None:
            return
        generation = _ColumnGeneration(grid, cuts, incumbent, parameters.close_at_first)
        for _ in range(parameters.most_rounds):
            settled = generation.step(budget)
            bound = generation.bound(bound)
            yield bound
            if settled or budget.spent_s > parameters.coarse_share * budget.seconds:
                break
    rounds = parameters.fine_rounds if duals is None else parameters.warm_rounds
    most = budget.work_left / rounds
    grid = _grid_within(graph, parameters.fine_steps_s, most, most)
    if grid is None:
        return
    start, columns = cuts.all_rows(duals or {}), tuple[Column, ...]()
    if generation is not None:
        start, columns = generation.best_duals, generation.master.columns_by_share()
    generation = _ColumnGeneration(grid, cuts, incumbent, parameters.close, start, columns)
    for number in range(rounds):
        before = generation.best
        settled = generation.step(budget)
        bound = generation.bound(bound)
        yield bound
        if settled or before - generation.best < generation.close * before < math.inf:
            break
        if budget.spent_s > budget.seconds and number > 0:
            break


def tighter_bounds(
    graph: RunGraph,
    bound: NightBound,
    budget: Budget,
    incumbent: Value = lambda: 0.0,
) -> Iterator[NightBound]:
    """The bound after each labelling on finer grids, from the duals of another one, within a budget.

    Paths remember at first only goals whose caps may bind, then, if there is time, the others as well. It
    ends early where the duals get no better.
    """
    if not bound.step_s:
        return
    parameters, cuts, lean = graph.parameters, CutList(graph), graph.lean
    for memory in (lean,) if lean is graph else (lean, graph):
        generation, settled = None, False
        for rounds, share in parameters.tight_stages:
            most = budget.work_left / rounds
            cells = parameters.most_tight_cells
            grid = _grid_within(memory, parameters.tight_steps_s, most, most, cells)
            if grid is not None and (generation is None or grid.step_s < generation.grid.step_s):
                generation = None  # the tables of the grid before are let go
                start = cuts.all_rows(bound.duals)
                generation = _ColumnGeneration(grid, cuts, incumbent, parameters.close, start, bound.columns)
                settled = False
            while (
                generation is not None
                and not settled
                and budget.spent_s <= share * budget.seconds
                and not budget.is_over
            ):
                settled = generation.step(budget)
                bound = generation.bound(bound)
                yield bound


def _grid_within(
    graph: RunGraph,
    steps_s: tuple[int, ...],
    wanted: float,
    most: float,
    cells: float | None = None,
) -> TimeExpandedGraph | None:
    """The finest grid of the list on which one labelling costs no more than `wanted`, else the coarsest.

    None where even that costs more than `most`.
    """
    cells = graph.parameters.most_cells if cells is None else cells
    for step_s in steps_s:
        grid = TimeExpandedGraph(graph, step_s, join_arcs=True)
        if grid.work + graph.parameters.work_of_master <= wanted and grid.cells <= cells:
            return grid
    return grid if grid.work <= most else None


class _ColumnGeneration:
    """The search for good duals on one grid, from those and the columns of another one, if there are any."""

    def __init__(
        self,
        grid: TimeExpandedGraph,
        cuts: CutList,
        incumbent: Value,
        close: float,
        duals: Floats | None = None,
        columns: tuple[Column, ...] = (),
    ) -> None:
        graph, parameters = grid.graph, grid.graph.parameters
        self.grid, self.cuts, self.incumbent, self.parameters = grid, cuts, incumbent, parameters
        self.master = RestrictedMaster(cuts, float(graph.ceiling))
        for column in columns:
            self.master.add(grid.regridded(column))
        self.subgradient: Subgradient | None = None
        if np.count_nonzero(graph.binding | graph.progress.in_set) >= parameters.many_tasks:
            profit = max(incumbent(), parameters.least_incumbent * graph.ceiling)
            self.subgradient = Subgradient(cuts, profit / graph.end_s)
        if duals is None:
            duals = cuts.all_rows({}) if self.subgradient is None else self.subgradient.first()
        self.best, self.duals, self.best_duals = math.inf, duals, duals
        self.idle, self.close = 0, max(close, parameters.close_of_gap * grid.problem.limits.gap)

    def step(self, budget: Budget) -> bool:
        """Label, then go down the slope or ask the master; whether the bound meets its value."""
        columns = self.grid.best_columns(self.parameters.columns_at_once, self.cuts.reduction(self.duals))
        bound = columns[0].value
        if bound < self.best:
            self.best, self.best_duals = bound, self.duals
        new, *_ = [self.master.add(column) for column in columns]
        if self.subgradient is None or self.subgradient.asks():
            self.master.solve()
            if self.subgradient is not None and self.subgradient.is_down(self.best, self.master.value):
                self.subgradient = None
        budget.spend(self.grid.work + self.parameters.work_of_master)
        value, duals = self.master.value, self.master.duals
        if self.subgradient is not None:
            target = max(value, self.incumbent())
            self.duals = self.subgradient.next(self.duals, columns[0], bound, target)
            return False
        smoothing = self.parameters.smoothing
        smooth = smoothing * self.best_duals + (1 - smoothing) * duals if new else duals
        self.idle = 0 if new else self.idle + 1
        stuck = self.idle == self.parameters.most_idle or (not new and np.allclose(self.duals, duals))
        self.duals = smooth
        return stuck or self.best - value <= self.close * max(1.0, value)

    def bound(self, known: NightBound) -> NightBound:
        """The bound as it stands, no higher than the one that is known."""
        least = min(known.bound, rounded_down(self.best))
        duals = self.cuts.by_name(self.best_duals)
        return NightBound(least, self.master.columns_by_share(), duals, self.grid.step_s)
