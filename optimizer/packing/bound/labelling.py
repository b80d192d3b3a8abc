"""The loops of a pricing over the grid: tables forwards in time, paths backwards through them, compiled."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimizer.packing.bound.cuts.rows import Gains
from optimizer.packing.bound.moves import Moves
from optimizer.packing.compiled import NEVER, Floats, Ints, compiled, inner


class Grid(NamedTuple):
    """The night in ticks; a set of goals is a number of bits, the rest as in `NightGraph`.

    `way_groups` [entries]: entries of a slot with the
    same ways are one group, of which `group_entries` [groups] has the first.
    """

    ticks: int
    pair_ticks: Ints
    pair_starts: Ints
    slot_starts: Ints
    sets: Ints  # of each slot: how many
    done_starts: Ints  # where the rows of each begin
    bits: Ints  # of each entry: its goal's, 0 where that is not remembered
    opens: Ints  # of each entry
    closes: Ints
    arrives: Ints
    ways: Ints  # [slots, entries]
    way_groups: Ints
    group_entries: Ints
    group_slots: Ints
    within: Ints
    refocused: Ints
    block: int  # so many ticks are filled at once
    group_lags: Ints  # [groups]: no run of the slot is shorter
    laps: Ints  # [slots]: from one run to the end of the next one of a goal that is not remembered, at least


class Priced(NamedTuple):
    """Worths of runs by the tick (or [pairs, 1]), their prices, and the most worth now less price [pairs]."""

    profits: Floats
    prices: Floats
    mosts: Floats


class Tables(NamedTuple):
    """Most priced worth by the tick, rows of ticks one after the other; none grows less with time.

    `done` [of each slot a row for each set]: the goals of the set have had their run in this visit, the last
    download is over; `free` [a row for each slot]: the same whatever the set; `arrived` [a row for each
    group]: a visit may begin with a run of the group, if its window is open.
    """

    cells: Floats  # all three
    done: Floats
    free: Floats
    arrived: Floats


@inner
def _raise_all(values: Floats, here: int, there: Floats, other: int, count: int, gain: float) -> None:
    """So many numbers from `here` on to those from `other` on and the gain, if more.

    With indices that cannot be negative the compiler takes several numbers at once; without the last sum it
    would store only those that grow, which some processors do slowly (3-4 times as long).
    """
    for place in range(count):
        at, value = np.uint64(here + place), there[np.uint64(other + place)] + gain
        values[at] = (value if value > values[at] else values[at]) + 0.0


@inner
def _raise_each(
    values: Floats, here: int, there: Floats, other: int, count: int, gains: Floats, first: int, gain: float
) -> None:
    """The same with a further gain for each, from `first` on."""
    for place in range(count):
        each = there[np.uint64(other + place)] + (gains[np.uint64(first + place)] + gain)
        at = np.uint64(here + place)
        values[at] = (each if each > values[at] else values[at]) + 0.0


@inner
def _keep(done: Floats, here: int, reached: float, free: Floats, into: int, count: int) -> None:
    """What was reached before stays so, for so many ticks from `here` on; and what is free from `into` on."""
    best = reached
    for tick in range(count):
        value = done[np.uint64(here + tick)]
        best = value if value > best else best
        done[np.uint64(here + tick)] = best
    _raise_all(free, into, done, here, count, 0.0)


@inner
def _fill_arrivals(grid: Grid, tables: Tables, of_ways: Floats, start: int, stop: int) -> None:
    """With what worth a visit may begin, so early that its first run may end from `start` to `stop`."""
    # names of their own: an array taken out of a tuple costs something at each turn
    free, arrived, ways, slots, ticks = tables.free, tables.arrived, grid.ways, len(grid.sets), grid.ticks
    group_entries, group_slots, group_lags = grid.group_entries, grid.group_slots, grid.group_lags
    for group in range(len(group_entries)):
        entry, here, slot, lag = group_entries[group], group * ticks, group_slots[group], group_lags[group]
        begin, end = max(0, start - lag), min(stop - lag, ticks)
        if begin >= end:
            continue
        reached = max(of_ways[slots, slot], arrived[here + begin - 1] if begin > 0 else NEVER)
        arrived[here + begin : here + end] = reached
        for other in range(slots):
            way = ways[other, entry]
            tick, there = max(begin, way), other * ticks - way
            # what is no more than what was reached before these ticks adds nothing
            if tick < end and free[there + end - 1] + of_ways[other, slot] > reached:
                _raise_all(arrived, here + tick, free, there + tick, end - tick, of_ways[other, slot])


@inner
def _fill_visits(
    grid: Grid, moves: Moves, tables: Tables, priced: Priced, of_refocus: Floats, start: int, stop: int
) -> None:
    """What visits are worth whose last run ends from `start` to `stop`.

    Sets of a slot in order, each from those with one goal less, whole. Runs of goals that are not remembered
    lead from a row to itself: they are put in by laps, none of which such a run goes back into.
    """
    cells, free, (profits, prices, mosts) = tables.cells, tables.free, priced
    pair_ticks, pair_starts, closes, laps = grid.pair_ticks, grid.pair_starts, grid.closes, grid.laps
    sets, ticks, by_tick, first = grid.sets, grid.ticks, profits.shape[1] > 1, 0
    kinds, entries, all_came, all_soonest, again = moves
    for slot in range(len(sets)):
        refocus, into_free, first = of_refocus[slot], slot * ticks, first + sets[slot]
        free[into_free + start : into_free + stop] = free[into_free + start - 1] if start > 0 else NEVER
        for number in range(first - sets[slot], first):
            row, here, raised = number * ticks, start, False
            cells[row + start : row + stop] = cells[row + start - 1] if start > 0 else NEVER
            focuses, last = kinds[2 * number + 1], kinds[2 * number + (2 if refocus > 0.0 else 1)]
            while here < stop:
                until = min(here + laps[slot], stop)
                # what is no more than what was reached before these ticks adds nothing
                reached = cells[row + here - 1] if here > 0 else NEVER
                for move in range(kinds[2 * number], last):
                    if here > start and not again[move]:
                        continue
                    entry, came, soonest = entries[move], all_came[move], all_soonest[move]
                    end = min(until if again[move] else stop, closes[entry] + 1)
                    gain = refocus if move >= focuses else 0.0
                    for pair in range(pair_starts[entry], pair_starts[entry + 1]):
                        length = pair_ticks[pair]
                        tick = max(here, soonest + length)
                        if tick >= end:
                            break
                        if cells[came + end - 1 - length] + (mosts[pair] + gain) <= reached:
                            continue
                        raised, into, left, count = True, row + tick, came + tick - length, end - tick
                        if by_tick:
                            more = gain - prices[pair]
                            _raise_each(cells, into, cells, left, count, profits[pair], tick, more)
                        else:
                            _raise_all(cells, into, cells, left, count, mosts[pair] + gain)
                if raised:
                    _keep(cells, row + here, reached, free, into_free + here, until - here)
                here = until


@compiled
def fill_tables(
    grid: Grid, moves: Moves, tables: Tables, profits: Floats, tops: Floats, gains: Gains
) -> None:
    """Fill the tables in place. `worths` [pairs, ticks] by the tick at which a run ends, or [pairs, 1].

    A block of ticks at once: the visit before one that ends within it was over before it. `tops` [blocks,
    pairs]: the most worth within each block, or [1, pairs].
    """
    ticks, block = grid.ticks, grid.block
    priced = Priced(profits, gains.pair_prices, np.empty(len(grid.pair_ticks)))
    for start in range(0, ticks, block):
        if start == 0 or len(tops) > 1:
            for pair in range(len(priced.mosts)):
                priced.mosts[pair] = tops[start // block, pair] - priced.prices[pair]
        stop = min(start + block, ticks)
        _fill_arrivals(grid, tables, gains.of_ways, start, stop)
        _fill_visits(grid, moves, tables, priced, gains.of_refocus, start, stop)
    _fill_arrivals(grid, tables, gains.of_ways, ticks, 2 * ticks)  # too late for a run, but looked up


@inner
def _ready_at(
    grid: Grid, tables: Tables, gains: Gains, slot: int, entry: int, before: int, begins: int
) -> float:
    """Most priced worth with which a run of an entry may begin, in a visit that has done these goals."""
    done, row, found = tables.done, grid.done_starts[slot] + before * grid.ticks, NEVER
    left = begins - grid.within[entry]
    if begins >= grid.opens[entry] and left >= 0:
        found = done[row + left]
    left = begins - grid.refocused[entry]
    if gains.of_refocus[slot] > 0.0 and begins >= grid.opens[entry] and left >= 0:
        found = max(found, done[row + left] + gains.of_refocus[slot])
    if before == 0 and begins >= grid.arrives[entry]:
        found = max(found, tables.arrived[grid.way_groups[entry] * grid.ticks + begins])
    return found


@inner
def _first_tick(values: Floats, row: int, last: int, least: float) -> int:
    """The first tick, up to the last, at which a row that grows with time is at least so much."""
    first = 0
    while first < last:
        middle = (first + last) // 2
        if values[row + middle] < least:
            first = middle + 1
        else:
            last = middle
    return first


@inner
def _run_that_ended(
    grid: Grid, tables: Tables, profits: Floats, gains: Gains, slot: int, chosen: int, tick: int
) -> tuple[int, int, float]:
    """Entry and pair of the best run that may end in a slot at a tick with a set done, and what it needs."""
    best, found = NEVER, (-1, -1, NEVER)
    by_tick = profits.shape[1] > 1
    for entry in range(grid.slot_starts[slot], grid.slot_starts[slot + 1]):
        bit = grid.bits[entry]
        if tick > grid.closes[entry] or (bit > 0 and not chosen & bit):
            continue
        for pair in range(grid.pair_starts[entry], grid.pair_starts[entry + 1]):
            begins = tick - grid.pair_ticks[pair]
            if begins < grid.opens[entry]:
                break
            ready = _ready_at(grid, tables, gains, slot, entry, chosen & ~bit, begins)
            value = ready + profits[pair, tick if by_tick else 0] - gains.pair_prices[pair]
            if value > best:
                best, found = value, (entry, pair, ready)
    return found


@inner
def _best_set(grid: Grid, tables: Tables, slot: int, tick: int) -> int:
    """The set of goals with which a slot is best left at a tick."""
    start, best = grid.done_starts[slot] + tick, 0
    for chosen in range(1, grid.sets[slot]):
        if tables.done[start + chosen * grid.ticks] > tables.done[start + best * grid.ticks]:
            best = chosen
    return best


@compiled
def trace_path(
    grid: Grid, tables: Tables, profits: Floats, gains: Gains, slot: int, slack: float, into: Ints
) -> int:
    """The way back from the best end in a slot; returns how many runs `into` [runs, 4] holds, the last first.

    Of each its pair, the first tick at which it may begin, whether it begins a visit, and whether it follows
    a focus run within one. Values that differ by no more than `slack` are the same.
    """
    _, done, free, arrived = tables
    count, ticks, tick = 0, grid.ticks, grid.ticks - 1
    profit, chosen = free[slot * ticks + tick], _best_set(grid, tables, slot, tick)
    while True:
        tick = _first_tick(done, grid.done_starts[slot] + chosen * ticks, tick, profit - slack)
        entry, pair, profit = _run_that_ended(grid, tables, profits, gains, slot, chosen, tick)
        latest = tick - grid.pair_ticks[pair]
        chosen &= ~grid.bits[entry]
        row, opens, least = grid.done_starts[slot] + chosen * ticks, grid.opens[entry], profit - slack
        begin, focuses, arrives = latest + 1, 0, 1
        for focused in range(2 if gains.of_refocus[slot] > 0.0 else 1):
            way = grid.refocused[entry] if focused else grid.within[entry]
            left, needed = latest - way, least - (gains.of_refocus[slot] if focused else 0.0)
            if left >= 0 and latest >= opens and done[row + left] >= needed:
                soonest = max(opens, way + _first_tick(done, row, left, needed))
                if soonest < begin:
                    begin, focuses, arrives = soonest, focused, 0
        visits = grid.way_groups[entry] * ticks
        if chosen == 0 and latest >= grid.arrives[entry] and arrived[visits + latest] >= least:
            soonest = max(grid.arrives[entry], _first_tick(arrived, visits, latest, least))
            if soonest < begin:
                begin, focuses, arrives = soonest, 0, 1
        into[count, 0], into[count, 1], into[count, 2], into[count, 3] = pair, latest, arrives, focuses
        count += 1
        if not arrives:
            tick = begin - (grid.refocused[entry] if focuses else grid.within[entry])
            profit = done[row + tick]
            continue
        came, best = -1, NEVER
        for other in range(len(grid.sets)):
            left = begin - grid.ways[other, entry]
            if left >= 0 and free[other * ticks + left] + gains.of_ways[other, slot] > best:
                came, best = other, free[other * ticks + left] + gains.of_ways[other, slot]
        if came < 0 or best < least or free[came * ticks + begin - grid.ways[came, entry]] <= slack:
            return count  # it came from home
        tick = begin - grid.ways[came, entry]
        slot, profit = came, free[came * ticks + tick]
        chosen = _best_set(grid, tables, slot, tick)
