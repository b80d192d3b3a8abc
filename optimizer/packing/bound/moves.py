"""What leads where in the tables of a pricing."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from optimizer.packing.compiled import Bools, Ints

if TYPE_CHECKING:
    from optimizer.packing.bound.labelling import Grid
    from optimizer.packing.bound.run_graph import RunGraph


MORE_THAN_A_NIGHT = 10**9  # ticks


class Moves(NamedTuple):
    """Of each row of `done` the runs that lead to it, first those with no focus run just before them."""

    starts: Ints  # [2 rows + 1], of both kinds
    entries: Ints
    came: Ints  # where in `cells` stands with what worth the run begins, if it begins at tick 0
    soonest: Ints  # the first tick at which it may
    again: Bools  # it comes from the same row


def moves_between(graph: RunGraph, grid: Grid) -> Moves:
    """All of a night on a grid."""
    rows = int(graph.sets.sum())
    found = []
    for entry, (slot, bit) in enumerate(zip(graph.entry_slot.tolist(), graph.bits.tolist(), strict=True)):
        sets = np.arange(graph.sets[slot])
        into = int(grid.done_starts[slot]) // grid.ticks + sets[(sets & bit) == bit]
        arrived = (rows + len(graph.slots) + grid.way_groups[entry]) * grid.ticks
        found.append(_table(2 * into[:1], entry, arrived, grid.arrives[entry], again=False))
        for refocuses, ways in enumerate((grid.within, grid.refocused)):
            came, soonest = (into - bit) * grid.ticks - ways[entry], max(grid.opens[entry], ways[entry])
            found.append(_table(2 * into + refocuses, entry, came, soonest, again=bit == 0))
    table = np.hstack(found)
    kinds, entries, came, soonest, again = table[:, np.argsort(table[0], kind="stable")]
    return Moves(np.searchsorted(kinds, np.arange(2 * rows + 1)), entries, came, soonest, again > 0)


def _table(kinds: Ints, entry: int, came: Ints, soonest: int, *, again: bool) -> Ints:
    return np.stack(np.broadcast_arrays(kinds, entry, came, soonest, int(again)))


def least_runs(graph: RunGraph, pair_ticks: Ints, within: Ints) -> tuple[Ints, Ints]:
    """[slots] each: ticks of the shortest run, and of that of a goal not remembered with the change to it."""
    lags, laps = np.full((2, len(graph.slots)), MORE_THAN_A_NIGHT)
    np.minimum.at(lags, graph.pair_slot, pair_ticks)
    again = graph.bits[graph.pair_entry] == 0
    np.minimum.at(laps, graph.pair_slot[again], (pair_ticks + within[graph.pair_entry])[again])
    return lags, laps


def alike(ways: Ints, slots: Ints) -> tuple[Ints, list[int]]:
    """The group of each entry, with the same ways as others of its slot, and the first one of each group.

    `ways` [slots, entries] in ticks.
    """
    groups: dict[tuple[int, bytes], int] = {}
    firsts: list[int] = []
    found = []
    for entry, (slot, column) in enumerate(zip(slots.tolist(), ways.T, strict=True)):
        group = groups.setdefault((slot, column.tobytes()), len(groups))
        if group == len(firsts):
            firsts.append(entry)
        found.append(group)
    return np.array(found), firsts
