"""The loops of a pricing over the grid: tables forwards in time, paths backwards through them, compiled."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimizer.packing.compiled import NEVER, Floats, Ints, compiled
from optimizer.packing.path_rows import Gains

SIDE_BY_SIDE = 4  # sets that a loop takes together


class Grid(NamedTuple):
    """The night in ticks; a set of goals is a number of bits, the rest as in `NightGraph`.

    A run of an entry may begin in the sets `befores` [entries, places], of which `widths` [entries] count,
    some twice to fill up. `done_starts` and `ready_starts` say where in `Tables` the slots and entries begin.
    `way_groups` [entries]: the first entry of the slot with the same ways.
    """

    ticks: int
    pair_ticks: Ints
    pair_starts: Ints
    slot_starts: Ints
    sets: Ints  # of each slot: how many
    bits: Ints  # of each entry: its goal's, 0 where that is not remembered
    befores: Ints
    widths: Ints
    done_starts: Ints
    ready_starts: Ints
    opens: Ints  # of each entry
    closes: Ints
    arrives: Ints
    ways: Ints  # [slots, entries]
    way_groups: Ints
    within: Ints
    refocused: Ints


class Tables(NamedTuple):
    """Most priced worth by the tick. Sets lie side by side, since a run does the same to all.

    `done` [flat: of each slot ticks x sets]: the goals of the set have had their run in this visit, the last
    download is over; `free` [slots, ticks]: the same whatever the set; `ready` [flat: of each entry ticks x
    places]: a run of the entry may begin.
    """

    done: Floats
    free: Floats
    ready: Floats


@compiled
def _best_of_four(
    ready: Floats, place: int, width: int, pair_ticks: Ints, gains: Floats, first: int, last: int
) -> tuple[float, float, float, float]:
    """Of four sets side by side: the most that the runs `first` to `last` make, ending where `place` is."""
    one = two = three = four = NEVER
    for pair in range(first, last):
        at, gain = place - pair_ticks[pair] * width, gains[pair]
        value = ready[at] + gain
        one = value if value > one else one
        value = ready[at + 1] + gain
        two = value if value > two else two
        value = ready[at + 2] + gain
        three = value if value > three else three
        value = ready[at + 3] + gain
        four = value if value > four else four
    return one, two, three, four


@compiled
def _raise_at(values: Floats, place: int, value: float) -> None:
    if value > values[place]:
        values[place] = value


@compiled
def fill_tables(grid: Grid, tables: Tables, worths: Floats, gains: Gains) -> None:
    """Fill the tables in place. `worths` [ticks, pairs] by the tick at which a run ends, or [1, pairs]."""
    done, free, ready = tables
    # names of their own: an array taken out of a tuple costs something at each turn
    pair_ticks, pair_starts, slot_starts = grid.pair_ticks, grid.pair_starts, grid.slot_starts
    sets, bits, befores, widths = grid.sets, grid.bits, grid.befores, grid.widths
    done_starts, ready_starts = grid.done_starts, grid.ready_starts
    opens, closes, arrives = grid.opens, grid.closes, grid.arrives
    ways, way_groups, within, refocused = grid.ways, grid.way_groups, grid.within, grid.refocused
    pair_prices, of_ways, of_refocus = gains
    slots = len(sets)
    fitting = pair_starts[:-1].copy()  # runs from here on do not fit in before the tick
    arrived = np.empty(len(opens))  # most worth of an arrival at the tick, by the first of each group
    adds = worths[0] - pair_prices
    for tick in range(grid.ticks):
        if worths.shape[0] > 1:
            for pair in range(len(adds)):
                adds[pair] = worths[tick, pair] - pair_prices[pair]
        for slot in range(slots):
            count = sets[slot]
            here = done_starts[slot] + tick * count
            for chosen in range(here, here + count):
                done[chosen] = done[chosen - count] if tick > 0 else NEVER
            for entry in range(slot_starts[slot], slot_starts[slot + 1]):
                first, last, end = pair_starts[entry], fitting[entry], pair_starts[entry + 1]
                while last < end and opens[entry] + pair_ticks[last] <= tick:
                    last += 1
                fitting[entry] = last
                if tick > closes[entry] or last == first:
                    continue
                width, bit = widths[entry], bits[entry]
                into = ready_starts[entry] + tick * width
                for place in range(0, width, SIDE_BY_SIDE):
                    four = _best_of_four(ready, into + place, width, pair_ticks, adds, first, last)
                    _raise_at(done, here + (befores[entry, place] | bit), four[0])
                    _raise_at(done, here + (befores[entry, place + 1] | bit), four[1])
                    _raise_at(done, here + (befores[entry, place + 2] | bit), four[2])
                    _raise_at(done, here + (befores[entry, place + 3] | bit), four[3])
            best = NEVER
            for chosen in range(here, here + count):
                best = done[chosen] if done[chosen] > best else best
            free[slot, tick] = best
        for slot in range(slots):
            refocuses, gain = of_refocus[slot] > 0.0, of_refocus[slot]
            for entry in range(slot_starts[slot], slot_starts[slot + 1]):
                width = widths[entry]
                into = ready_starts[entry] + tick * width
                for place in range(into, into + width):
                    ready[place] = ready[place - width] if tick > 0 else NEVER
                if way_groups[entry] == entry:
                    best = of_ways[slots, slot]
                    for other in range(slots):
                        left = tick - ways[other, entry]
                        if left >= 0:
                            value = free[other, left] + of_ways[other, slot]
                            best = value if value > best else best
                    arrived[entry] = best
                if tick >= arrives[entry]:
                    _raise_at(ready, into, arrived[way_groups[entry]])
                if tick < opens[entry]:
                    continue
                left = tick - within[entry]
                if left >= 0:
                    there = done_starts[slot] + left * sets[slot]
                    for place in range(width):
                        _raise_at(ready, into + place, done[there + befores[entry, place]])
                left = tick - refocused[entry]
                if refocuses and left >= 0:
                    there = done_starts[slot] + left * sets[slot]
                    for place in range(width):
                        _raise_at(ready, into + place, done[there + befores[entry, place]] + gain)


@compiled
def _first_tick(values: Floats, start: int, width: int, last: int, least: float) -> int:
    """The first tick, up to the last, at which a row that grows with time is at least so much."""
    low, high = 0, last
    while low < high:
        middle = (low + high) // 2
        if values[start + middle * width] >= least:
            high = middle
        else:
            low = middle + 1
    return low


@compiled
def _run_that_ended(
    grid: Grid, tables: Tables, worths: Floats, gains: Gains, slot: int, chosen: int, tick: int
) -> tuple[int, int, int]:
    """Entry, pair and place of the best run that may end in a slot at a tick with a set done."""
    best, found = NEVER, (-1, -1, -1)
    row = tick if worths.shape[0] > 1 else 0
    for entry in range(grid.slot_starts[slot], grid.slot_starts[slot + 1]):
        bit, width = grid.bits[entry], grid.widths[entry]
        if tick > grid.closes[entry] or (bit > 0 and not chosen & bit):
            continue
        before = chosen - bit
        # its place: the sets in order, without those that hold the goal's own bit
        place = ((before & (bit - 1)) | ((before >> 1) & ~(bit - 1))) if bit > 0 else before
        for pair in range(grid.pair_starts[entry], grid.pair_starts[entry + 1]):
            begins = tick - grid.pair_ticks[pair]
            if begins < grid.opens[entry]:
                break
            value = tables.ready[grid.ready_starts[entry] + begins * width + place]
            value += worths[row, pair] - gains.pair_prices[pair]
            if value > best:
                best, found = value, (entry, pair, place)
    return found


@compiled
def _best_set(grid: Grid, tables: Tables, slot: int, tick: int) -> int:
    """The set of goals with which a slot is best left at a tick."""
    start = grid.done_starts[slot] + tick * grid.sets[slot]
    return int(np.argmax(tables.done[start : start + grid.sets[slot]]))


@compiled
def trace_path(
    grid: Grid, tables: Tables, worths: Floats, gains: Gains, slot: int, slack: float, into: Ints
) -> int:
    """The way back from the best end in a slot; returns how many runs `into` [runs, 4] holds, the last first.

    Of each its pair, the first tick at which it may begin, whether it begins a visit, and whether it follows
    a focus run within one. Values that differ by no more than `slack` are the same.
    """
    done, free, ready = tables
    count, tick = 0, grid.ticks - 1
    worth, chosen = free[slot, tick], _best_set(grid, tables, slot, tick)
    while True:
        start, sets = grid.done_starts[slot], grid.sets[slot]
        tick = _first_tick(done, start + chosen, sets, tick, worth - slack)
        entry, pair, place = _run_that_ended(grid, tables, worths, gains, slot, chosen, tick)
        begin = tick - grid.pair_ticks[pair]
        into[count, 0], into[count, 1], into[count, 2], into[count, 3] = pair, begin, 0, 0
        count += 1
        row, width = grid.ready_starts[entry] + place, grid.widths[entry]
        worth, chosen = ready[row + begin * width], grid.befores[entry, place]
        begin = _first_tick(ready, row, width, begin, worth - slack)
        goes_on = False
        for focuses in range(2 if gains.of_refocus[slot] > 0.0 else 1):
            left = begin - (grid.refocused[entry] if focuses else grid.within[entry])
            gain = gains.of_refocus[slot] if focuses else 0.0
            if (
                left >= 0
                and begin >= grid.opens[entry]
                and done[start + left * sets + chosen] + gain >= worth - slack
            ):
                into[count - 1, 3] = focuses
                tick, worth, goes_on = left, done[start + left * sets + chosen], True
                break
        if goes_on:
            continue
        into[count - 1, 2] = 1
        came, best = -1, NEVER
        for other in range(len(grid.sets)):
            left = begin - grid.ways[other, entry]
            if left >= 0 and free[other, left] + gains.of_ways[other, slot] > best:
                came, best = other, free[other, left] + gains.of_ways[other, slot]
        if came < 0 or best < worth - slack or free[came, begin - grid.ways[came, entry]] <= slack:
            return count  # it came from home
        tick = begin - grid.ways[came, entry]
        slot, worth = came, free[came, tick]
        chosen = _best_set(grid, tables, slot, tick)
