"""The loops of a pricing over the grid: tables forwards in time, paths backwards through them, compiled."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimizer.packing.compiled import NEVER, Floats, Ints, compiled
from optimizer.packing.path_rows import Gains


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


class Tables(NamedTuple):
    """Most priced worth by the tick, rows of ticks one after the other; none grows less with time.

    `done` [of each slot a row for each set]: the goals of the set have had their run in this visit, the last
    download is over; `free` [a row for each slot]: the same whatever the set; `arrived` [a row for each
    group]: a visit may begin with a run of the group, if its window is open.
    """

    done: Floats
    free: Floats
    arrived: Floats


@compiled
def _raise_all(values: Floats, here: int, there: Floats, other: int, count: int, gain: float) -> None:
    """So many numbers from `here` on to those from `other` on and the gain, if more.

    With indices that cannot be negative the compiler takes several numbers at once; without the last sum it
    would store only those that grow, which some processors do slowly (3-4 times as long).
    """
    for place in range(count):
        at, value = np.uint64(here + place), there[np.uint64(other + place)] + gain
        values[at] = (value if value > values[at] else values[at]) + 0.0


@compiled
def _raise_each(
    values: Floats, here: int, there: Floats, other: int, count: int, gains: Floats, first: int, gain: float
) -> None:
    """The same with a further gain for each, from `first` on."""
    for place in range(count):
        each = there[np.uint64(other + place)] + (gains[np.uint64(first + place)] + gain)
        at = np.uint64(here + place)
        values[at] = (each if each > values[at] else values[at]) + 0.0


@compiled
def _keep(done: Floats, here: int, free: Floats, into: int, count: int) -> None:
    """What was reached stays so, for so many ticks from `here` on; and what is free from `into` on."""
    best = done[here]
    for tick in range(count):
        value = done[np.uint64(here + tick)]
        best = value if value > best else best
        done[np.uint64(here + tick)] = best
    _raise_all(free, into, done, here, count, 0.0)


@compiled
def fill_tables(grid: Grid, tables: Tables, worths: Floats, tops: Floats, gains: Gains) -> None:
    """Fill the tables in place. `worths` [pairs, ticks] by the tick at which a run ends, or [pairs, 1].

    As many ticks at once as the shortest run lasts: what ends within them began before them. `tops` [blocks,
    pairs]: the most worth within each such block of ticks, or [1, pairs].
    """
    # names of their own: an array taken out of a tuple costs something at each turn
    done, free, arrived = tables
    pair_ticks, pair_starts, slot_starts = grid.pair_ticks, grid.pair_starts, grid.slot_starts
    all_sets, done_starts, bits = grid.sets, grid.done_starts, grid.bits
    all_opens, all_closes, all_arrives = grid.opens, grid.closes, grid.arrives
    ways, all_within, all_refocused = grid.ways, grid.within, grid.refocused
    way_groups, group_entries, group_slots = grid.way_groups, grid.group_entries, grid.group_slots
    pair_prices, of_ways, of_refocus = gains
    ticks, slots, block, by_tick = grid.ticks, len(all_sets), pair_ticks.min(), worths.shape[1] > 1
    mosts, raised = np.empty(len(pair_ticks)), np.empty(all_sets.max(), dtype=np.bool_)
    for start in range(0, ticks, block):
        stop = min(start + block, ticks)
        if by_tick or start == 0:
            mosts[:] = tops[start // block] - pair_prices
        for slot in range(slots):
            sets, first, refocus = all_sets[slot], done_starts[slot], of_refocus[slot]
            for row in range(first, first + sets * ticks, ticks):
                done[row + start : row + stop] = done[row + start - 1] if start > 0 else NEVER
            raised[:] = False
            for entry in range(slot_starts[slot], slot_starts[slot + 1]):
                visits, bit = way_groups[entry] * ticks, bits[entry]
                opens, arrives = all_opens[entry], all_arrives[entry]
                end = min(stop, all_closes[entry] + 1)
                # what is no more than what was reached before these ticks adds nothing
                reached = done[first + bit * ticks + start - 1] if start > 0 else NEVER
                for pair in range(pair_starts[entry], pair_starts[entry + 1]):
                    length = pair_ticks[pair]
                    tick = max(start, arrives + length)
                    if tick >= end:
                        break
                    if arrived[visits + end - 1 - length] + mosts[pair] <= reached:
                        continue
                    raised[bit] = True
                    here, other = first + bit * ticks + tick, visits + tick - length
                    if by_tick:
                        gain = -pair_prices[pair]
                        _raise_each(done, here, arrived, other, end - tick, worths[pair], tick, gain)
                    else:
                        _raise_all(done, here, arrived, other, end - tick, mosts[pair])
                for focuses in range(2 if refocus > 0.0 else 1):
                    way, gain = (all_refocused[entry], refocus) if focuses else (all_within[entry], 0.0)
                    soonest = max(opens, way)
                    for before in range(sets):
                        if before & bit:
                            continue
                        into, came = first + (before | bit) * ticks, first + before * ticks - way
                        reached = done[into + start - 1] if start > 0 else NEVER
                        for pair in range(pair_starts[entry], pair_starts[entry + 1]):
                            length = pair_ticks[pair]
                            tick = max(start, soonest + length)
                            if tick >= end:
                                break
                            if done[came + end - 1 - length] + (mosts[pair] + gain) <= reached:
                                continue
                            raised[before | bit] = True
                            here, other = into + tick, came + tick - length
                            if by_tick:
                                more = gain - pair_prices[pair]
                                _raise_each(done, here, done, other, end - tick, worths[pair], tick, more)
                            else:
                                _raise_all(done, here, done, other, end - tick, mosts[pair] + gain)
            into = slot * ticks + start
            free[into : into + stop - start] = free[into - 1] if start > 0 else NEVER
            for chosen in range(sets):
                if raised[chosen]:
                    _keep(done, first + chosen * ticks + start, free, into, stop - start)
        for group in range(len(group_entries)):
            entry, here, slot = group_entries[group], group * ticks, group_slots[group]
            reached = max(of_ways[slots, slot], arrived[here + start - 1] if start > 0 else NEVER)
            arrived[here + start : here + stop] = reached
            for other in range(slots):
                way = ways[other, entry]
                tick, there = max(start, way), other * ticks - way
                # what is no more than what was reached before these ticks adds nothing
                if tick < stop and free[there + stop - 1] + of_ways[other, slot] > reached:
                    _raise_all(arrived, here + tick, free, there + tick, stop - tick, of_ways[other, slot])


@compiled
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


@compiled
def _first_tick(values: Floats, row: int, last: int, least: float) -> int:
    """The first tick, up to the last, at which a row that grows with time is at least so much."""
    return min(last, int(np.searchsorted(values[row : row + last], least)))


@compiled
def _run_that_ended(
    grid: Grid, tables: Tables, worths: Floats, gains: Gains, slot: int, chosen: int, tick: int
) -> tuple[int, int, float]:
    """Entry and pair of the best run that may end in a slot at a tick with a set done, and what it needs."""
    best, found = NEVER, (-1, -1, NEVER)
    by_tick = worths.shape[1] > 1
    for entry in range(grid.slot_starts[slot], grid.slot_starts[slot + 1]):
        bit = grid.bits[entry]
        if tick > grid.closes[entry] or (bit > 0 and not chosen & bit):
            continue
        for pair in range(grid.pair_starts[entry], grid.pair_starts[entry + 1]):
            begins = tick - grid.pair_ticks[pair]
            if begins < grid.opens[entry]:
                break
            ready = _ready_at(grid, tables, gains, slot, entry, chosen & ~bit, begins)
            value = ready + worths[pair, tick if by_tick else 0] - gains.pair_prices[pair]
            if value > best:
                best, found = value, (entry, pair, ready)
    return found


@compiled
def _best_set(grid: Grid, tables: Tables, slot: int, tick: int) -> int:
    """The set of goals with which a slot is best left at a tick."""
    start, ticks = grid.done_starts[slot] + tick, grid.ticks
    return int(np.argmax(tables.done[start : start + grid.sets[slot] * ticks : ticks]))


@compiled
def trace_path(
    grid: Grid, tables: Tables, worths: Floats, gains: Gains, slot: int, slack: float, into: Ints
) -> int:
    """The way back from the best end in a slot; returns how many runs `into` [runs, 4] holds, the last first.

    Of each its pair, the first tick at which it may begin, whether it begins a visit, and whether it follows
    a focus run within one. Values that differ by no more than `slack` are the same.
    """
    done, free, arrived = tables
    count, ticks, tick = 0, grid.ticks, grid.ticks - 1
    worth, chosen = free[slot * ticks + tick], _best_set(grid, tables, slot, tick)
    while True:
        tick = _first_tick(done, grid.done_starts[slot] + chosen * ticks, tick, worth - slack)
        entry, pair, worth = _run_that_ended(grid, tables, worths, gains, slot, chosen, tick)
        latest = tick - grid.pair_ticks[pair]
        chosen &= ~grid.bits[entry]
        row, opens, least = grid.done_starts[slot] + chosen * ticks, grid.opens[entry], worth - slack
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
            worth = done[row + tick]
            continue
        came, best = -1, NEVER
        for other in range(len(grid.sets)):
            left = begin - grid.ways[other, entry]
            if left >= 0 and free[other * ticks + left] + gains.of_ways[other, slot] > best:
                came, best = other, free[other * ticks + left] + gains.of_ways[other, slot]
        if came < 0 or best < least or free[came * ticks + begin - grid.ways[came, entry]] <= slack:
            return count  # it came from home
        tick = begin - grid.ways[came, entry]
        slot, worth = came, free[came * ticks + tick]
        chosen = _best_set(grid, tables, slot, tick)
