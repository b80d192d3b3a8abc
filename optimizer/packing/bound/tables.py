"""What the compiled loops of labelling work on: the grid, the moves between its rows, tables and reduction.

A set of goals of a slot is a number of bits, as in `RunGraph`; instants and lengths are in ticks.
"""

from __future__ import annotations

from typing import NamedTuple

from optimizer.packing.compiled import Bools, Floats, Ints


class Reduction(NamedTuple):
    """What duals make of profits: they charge runs, and arcs and focus runs earn (or cost, below 0)."""

    option_shares: Floats  # [options]: so much of a run's profit counts, before its costs
    option_costs: Floats  # [options]
    arc_gains: Floats  # [slots + 1, slots], the last row from home, with all that the night gives
    refocus_gains: Floats  # [slots], for a focus run between two runs of a visit


class Grid(NamedTuple):
    """The night in ticks; nodes of a slot to which all arcs are the same are one group."""

    ticks: int
    option_ticks: Ints  # [options]
    option_starts: Ints  # [nodes + 1]
    slot_starts: Ints  # [slots + 1]
    sets: Ints  # [slots]: how many sets of goals each has
    done_starts: Ints  # [slots]: where the rows of each begin
    bits: Ints  # [nodes]: the goal's bit, 0 where it is not remembered
    opens: Ints  # [nodes]
    closes: Ints  # [nodes]
    arrives: Ints  # [nodes]: a run opens no sooner after an arrival
    arcs: Ints  # [slots, nodes]
    arc_groups: Ints  # [nodes]
    group_nodes: Ints  # [groups]: the first node of each
    group_slots: Ints  # [groups]
    within: Ints  # [nodes]: between another run of the visit and one of the node
    refocused: Ints  # [nodes]: the same with a focus run
    block: int  # so many ticks are filled at once
    group_lags: Ints  # [groups]: no run of the slot is shorter
    laps: Ints  # [slots]: from one run to the end of the next one of a goal that is not remembered, at least


class Moves(NamedTuple):
    """The runs that lead to each row of `done`, first those without a focus run just before them."""

    starts: Ints  # [2 rows + 1], of both kinds
    nodes: Ints
    came: Ints  # where in `cells` the profit stands with which the run begins, if it begins at tick 0
    soonest: Ints  # the first tick at which it may begin
    again: Bools  # it comes from the same row


class OptionProfits(NamedTuple):
    """Profits of runs [options, ticks] (or [options, 1]); shares, costs and the most now, [options]."""

    profits: Floats
    shares: Floats
    costs: Floats
    mosts: Floats


class Tables(NamedTuple):
    """Most reduced profit by the tick, rows of ticks one after the other; none grows less with time.

    `done` has for each slot a row for each set: the goals of the set have had their run in this visit, and
    the last tail is over. `free` has a row for each slot: the same, whatever the set. `arrived` has a row
    for each group: a visit may begin with a run of the group, if its window is open.
    """

    cells: Floats  # all three
    done: Floats
    free: Floats
    arrived: Floats
