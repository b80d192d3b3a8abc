"""Compiled labelling against the same recursion written out tick by tick, in plain Python."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.packing.bound.cuts.cut_list import CutList
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.tables import Reduction
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.parameters import BoundParameters
from tests.support.packing_nights import under_sky
from tests.support.packing_random import random_problem
from tests.support.packing_sets import in_sets

STEPS_S = (7, 20, 40)
REMEMBERED = (BoundParameters().most_remembered, 1, 0)  # goals of a slot


def _most_profit(time: TimeExpandedGraph, reduction: Reduction) -> float:
    """The most reduced profit of a path: every run, set of goals and arc at every tick."""
    graph, grid = time.graph, time.grid
    slots, ticks, profits = range(len(graph.slots)), grid.ticks, time.profits
    done = [[[-np.inf] * ticks for _ in range(graph.sets[slot])] for slot in slots]
    free = [[-np.inf] * ticks for _ in slots]
    arrives: dict[tuple[int, int], float] = {}

    def ready(node: int, chosen: int, begin: int) -> float:
        slot = int(graph.node_slot[node])
        found = [-np.inf]
        if begin >= grid.opens[node]:
            if begin >= grid.within[node]:
                found.append(done[slot][chosen][begin - grid.within[node]])
            if begin >= grid.refocused[node] and reduction.refocus_gains[slot] > 0:
                found.append(done[slot][chosen][begin - grid.refocused[node]] + reduction.refocus_gains[slot])
        if chosen == 0 and begin >= grid.arrives[node]:
            if (node, begin) not in arrives:
                ways = [(other, begin - int(grid.arcs[other, node])) for other in slots]
                came = [
                    free[other][left] + reduction.arc_gains[other, slot] for other, left in ways if left >= 0
                ]
                arrives[node, begin] = max([reduction.arc_gains[len(slots), slot], *came])
            found.append(arrives[node, begin])
        return max(found)

    for tick in range(ticks):
        for slot in slots:
            for row in done[slot]:
                row[tick] = row[tick - 1] if tick else -np.inf
        for option, node in enumerate(graph.option_node.tolist()):
            begin = tick - int(grid.option_ticks[option])
            if begin < grid.opens[node] or tick > grid.closes[node]:
                continue
            slot, bit = int(graph.node_slot[node]), int(graph.bits[node])
            profit = profits[option, tick if profits.shape[1] > 1 else 0] * reduction.option_shares[option]
            profit -= reduction.option_costs[option]
            for chosen in range(graph.sets[slot]):
                if not chosen & bit:
                    row = done[slot][chosen | bit]
                    row[tick] = max(row[tick], ready(node, chosen, begin) + profit)
        for slot in slots:
            free[slot][tick] = max(row[tick] for row in done[slot])
    return max(row[-1] for row in free)


@pytest.mark.parametrize("seed", range(60))
@pytest.mark.parametrize("by_time", [False, True])
@pytest.mark.parametrize("sets", [False, True])
def test_the_best_column_is_that_of_the_recursion(seed: int, by_time: bool, sets: bool) -> None:
    """At drawn duals; and by its own runs and their duals it has the profit that the tables say."""
    problem = random_problem(seed + 2500)
    rng = np.random.default_rng(seed)
    if by_time:
        problem = under_sky(random_problem(seed + 2500, value="depth"), rng.integers(1, 60_000, 9000))
    problem = in_sets(problem, seed) if sets else problem
    graph = RunGraph(problem, BoundParameters(most_remembered=REMEMBERED[seed // 6 % 3]))
    if not graph.nodes:
        pytest.skip("nothing can be done on this night")
    grid = TimeExpandedGraph(graph, STEPS_S[seed % len(STEPS_S)], join_arcs=seed % 2 == 0)
    cuts = CutList(graph)
    duals = rng.random(len(cuts.rhs)) * 30_000
    duals[rng.random(len(duals)) < 0.4] = 0.0
    others, given = np.ones(len(duals), dtype=np.bool_), 0.0
    if "progress" in cuts.rows:  # there duals have another size, and y takes a part beside the columns
        rows = cuts.rows["progress"]
        others[rows], duals[rows] = False, rng.random(len(problem.tasks)) * cuts.most[rows]
        given = graph.progress.given(duals[rows])
    reduction = cuts.reduction(duals)
    column = grid.best_columns(1, reduction)[0]
    assert column.value == pytest.approx(max(0.0, _most_profit(grid, reduction)), rel=1e-9, abs=1e-6)
    taken = cuts.coefficients(column.runs)
    reduced = column.profit + given - duals @ taken + duals[others] @ cuts.rhs[others]
    assert reduced == pytest.approx(column.value, rel=1e-9, abs=1e-6)
