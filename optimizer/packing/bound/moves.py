"""What leads where in the tables of labelling, and how many ticks may be filled at once."""

from __future__ import annotations

import numpy as np

from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.tables import Grid, Moves
from optimizer.packing.compiled import Ints

MORE_THAN_A_NIGHT = 10**9  # ticks


def moves_between(graph: RunGraph, grid: Grid) -> Moves:
    """All moves of a night on a grid."""
    rows, tables = int(graph.sets.sum()), list[Ints]()

    def collect(kinds: Ints, node: int, came: Ints, soonest: int, *, again: bool) -> None:
        tables.append(np.stack(np.broadcast_arrays(kinds, node, came, soonest, int(again))))

    for node, (slot, bit) in enumerate(zip(graph.node_slot.tolist(), graph.bits.tolist(), strict=True)):
        sets = np.arange(graph.sets[slot])
        into = int(grid.done_starts[slot]) // grid.ticks + sets[(sets & bit) == bit]
        arrived = (rows + len(graph.slots) + grid.arc_groups[node]) * grid.ticks
        collect(2 * into[:1], node, arrived, grid.arrives[node], again=False)
        for refocuses, lags in enumerate((grid.within, grid.refocused)):
            came, soonest = (into - bit) * grid.ticks - lags[node], max(grid.opens[node], lags[node])
            collect(2 * into + refocuses, node, came, soonest, again=bit == 0)
    table = np.hstack(tables)
    kinds, nodes, came, soonest, again = table[:, np.argsort(table[0], kind="stable")]
    return Moves(np.searchsorted(kinds, np.arange(2 * rows + 1)), nodes, came, soonest, again > 0)


def least_runs(graph: RunGraph, option_ticks: Ints, within: Ints) -> tuple[Ints, Ints]:
    """[slots] each: ticks of the shortest run, and of that of a goal not remembered with the change to it."""
    lags, laps = np.full((2, len(graph.slots)), MORE_THAN_A_NIGHT)
    np.minimum.at(lags, graph.option_slot, option_ticks)
    again = graph.bits[graph.option_node] == 0
    np.minimum.at(laps, graph.option_slot[again], (option_ticks + within[graph.option_node])[again])
    return lags, laps


def arc_groups(arcs: Ints, slots: Ints) -> tuple[Ints, Ints]:
    """The group of each node, and the first node of each group: the same arcs lead to all of it in one slot.

    `arcs` [slots, nodes] are in ticks, `slots` [nodes].
    """
    groups: dict[tuple[int, bytes], int] = {}
    firsts, of_node = list[int](), list[int]()
    for node, (slot, column) in enumerate(zip(slots.tolist(), arcs.T, strict=True)):
        group = groups.setdefault((slot, column.tobytes()), len(groups))
        if group == len(firsts):
            firsts.append(node)
        of_node.append(group)
    return np.array(of_node), np.array(firsts)
