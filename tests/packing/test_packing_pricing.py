"""The compiled pricing against the same recursion written out tick by tick, in plain Python."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.packing import graph as graph_module
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from tests.support.packing_nights import under_sky
from tests.support.packing_random import random_problem

STEPS_S = (7, 20, 40)
REMEMBERED = (graph_module.MOST_REMEMBERED, 1, 0)  # goals of a slot


def _most_profit(grid: TimeExpandedGraph, prices: np.ndarray) -> float:
    """The most priced worth of a path: every run, set of goals and way at every tick."""
    graph, gains = grid.graph, grid.graph.rows.gains(prices)
    slots, ticks, profits = range(len(graph.slots)), grid.ticks, grid.profits
    done = [[[-np.inf] * ticks for _ in range(graph.sets[slot])] for slot in slots]
    free = [[-np.inf] * ticks for _ in slots]
    arrives: dict[tuple[int, int], float] = {}

    def ready(entry: int, chosen: int, begin: int) -> float:
        slot = int(graph.node_slot[entry])
        found = [-np.inf]
        if begin >= grid.open_ticks[entry]:
            if begin >= grid.within[entry]:
                found.append(done[slot][chosen][begin - grid.within[entry]])
            if begin >= grid.refocused[entry] and gains.of_refocus[slot] > 0:
                found.append(done[slot][chosen][begin - grid.refocused[entry]] + gains.of_refocus[slot])
        if chosen == 0 and begin >= grid.arrive_ticks[entry]:
            if (entry, begin) not in arrives:
                ways = [(other, begin - int(grid.ways[other, entry])) for other in slots]
                came = [free[other][left] + gains.of_ways[other, slot] for other, left in ways if left >= 0]
                arrives[entry, begin] = max([gains.of_ways[len(slots), slot], *came])
            found.append(arrives[entry, begin])
        return max(found)

    for tick in range(ticks):
        for slot in slots:
            for row in done[slot]:
                row[tick] = row[tick - 1] if tick else -np.inf
        for pair, entry in enumerate(graph.option_node.tolist()):
            begin = tick - int(grid.option_ticks[pair])
            if begin < grid.open_ticks[entry] or tick > grid.close_ticks[entry]:
                continue
            slot, bit = int(graph.node_slot[entry]), int(graph.bits[entry])
            profit = profits[pair, tick if profits.shape[1] > 1 else 0] - gains.option_costs[pair]
            for chosen in range(graph.sets[slot]):
                if not chosen & bit:
                    row = done[slot][chosen | bit]
                    row[tick] = max(row[tick], ready(entry, chosen, begin) + profit)
        for slot in slots:
            free[slot][tick] = max(row[tick] for row in done[slot])
    return max(row[-1] for row in free)


@pytest.mark.parametrize("seed", range(60))
@pytest.mark.parametrize("by_depth", [False, True])
def test_the_best_path_is_that_of_the_recursion(
    seed: int, by_depth: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At drawn prices, and it is worth by its own runs and their prices what the tables say."""
    monkeypatch.setattr(graph_module, "MOST_REMEMBERED", REMEMBERED[seed // 6 % 3])
    problem = random_problem(seed + 2500)
    rng = np.random.default_rng(seed)
    if by_depth:
        problem = under_sky(random_problem(seed + 2500, value="depth"), rng.integers(1, 60_000, 9000))
    graph = RunGraph(problem)
    if not graph.nodes:
        pytest.skip("nothing can be done on this night")
    grid = TimeExpandedGraph(graph, STEPS_S[seed % len(STEPS_S)], join_arcs=seed % 2 == 0)
    prices = rng.random(len(problem.tasks) + len(graph.rows.sizes)) * 30_000
    prices[rng.random(len(prices)) < 0.4] = 0.0
    path = grid.best_columns(prices, 1)[0]
    assert path.value == pytest.approx(max(0.0, _most_profit(grid, prices)), rel=1e-9, abs=1e-6)
    frames = np.zeros(len(problem.tasks))
    for run in path.runs:
        frames[run.task] += run.frames
    priced = prices[: len(frames)] @ frames + prices[len(frames) :] @ graph.rows.balance(path.walk)
    assert path.profit - priced == pytest.approx(path.value, rel=1e-9, abs=1e-6)
