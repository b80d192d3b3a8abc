"""The pricing problem solved by labelling: tables filled forwards in time, columns traced back through them.

A label is the most reduced profit with which a state (slot, set of goals that have had their run, tick) can
be reached. All loops are compiled.
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.bound.tables import Grid, Moves, OptionProfits, Reduction, Tables
from optimizer.packing.compiled import NEVER, Floats, Ints, compiled, inner


@inner
def _raise_all(values: Floats, here: int, there: Floats, other: int, count: int, gain: float) -> None:
    """Raise so many numbers from `here` on to those from `other` on plus the gain, where that is more.

    With indices that cannot be negative the compiler takes several numbers at once; without the last sum it
    would store only those that grow, which some processors do slowly (3-4 times as long).
    """
    for place in range(count):
        at, value = np.uint64(here + place), there[np.uint64(other + place)] + gain
        values[at] = (value if value > values[at] else values[at]) + 0.0


@inner
def _raise_each(
    values: Floats,
    here: int,
    there: Floats,
    other: int,
    count: int,
    gains: Floats,
    first: int,
    share: float,
    gain: float,
) -> None:
    """Do the same with a share of a further gain for each number, taken from `first` on."""
    for place in range(count):
        each = there[np.uint64(other + place)] + (share * gains[np.uint64(first + place)] + gain)
        at = np.uint64(here + place)
        values[at] = (each if each > values[at] else values[at]) + 0.0


@inner
def _keep(done: Floats, here: int, kept: float, free: Floats, into: int, count: int) -> None:
    """Keep what was reached before for so many ticks from `here` on, and raise `free` from `into` on."""
    best = kept
    for tick in range(count):
        value = done[np.uint64(here + tick)]
        best = value if value > best else best
        done[np.uint64(here + tick)] = best
    _raise_all(free, into, done, here, count, 0.0)


@inner
def _fill_arrivals(grid: Grid, tables: Tables, arc_gains: Floats, start: int, stop: int) -> None:
    """Fill in the profit with which visits may begin whose first run ends from `start` to `stop`."""
    # names of their own: an array taken out of a tuple costs something at each turn
    free, arrived, arcs, slots, ticks = tables.free, tables.arrived, grid.arcs, len(grid.sets), grid.ticks
    group_nodes, group_slots, group_lags = grid.group_nodes, grid.group_slots, grid.group_lags
    for group in range(len(group_nodes)):
        node, here, slot, lag = group_nodes[group], group * ticks, group_slots[group], group_lags[group]
        begin, end = max(0, start - lag), min(stop - lag, ticks)
        if begin >= end:
            continue
        kept = max(arc_gains[slots, slot], arrived[here + begin - 1] if begin > 0 else NEVER)
        arrived[here + begin : here + end] = kept
        for other in range(slots):
            arc = arcs[other, node]
            tick, there = max(begin, arc), other * ticks - arc
            # what is no more than what was reached before these ticks adds nothing
            if tick < end and free[there + end - 1] + arc_gains[other, slot] > kept:
                _raise_all(arrived, here + tick, free, there + tick, end - tick, arc_gains[other, slot])


@inner
def _fill_visits(
    grid: Grid,
    moves: Moves,
    tables: Tables,
    runs: OptionProfits,
    refocus_gains: Floats,
    start: int,
    stop: int,
) -> None:
    """Fill in the profit of visits whose last run ends from `start` to `stop`.

    The sets of a slot come in order, each whole, from those with one goal less. Runs of goals that are not
    remembered lead from a row to itself: they are put in by laps, none of which such a run goes back into.
    """
    cells, free, (profits, shares, costs, mosts) = tables.cells, tables.free, runs
    option_ticks, option_starts, closes, laps = grid.option_ticks, grid.option_starts, grid.closes, grid.laps
    sets, ticks, by_tick, first = grid.sets, grid.ticks, profits.shape[1] > 1, 0
    kinds, nodes, all_came, all_soonest, again = moves
    for slot in range(len(sets)):
        refocus, into_free, first = refocus_gains[slot], slot * ticks, first + sets[slot]
        free[into_free + start : into_free + stop] = free[into_free + start - 1] if start > 0 else NEVER
        for number in range(first - sets[slot], first):
            row, here, raised = number * ticks, start, False
            cells[row + start : row + stop] = cells[row + start - 1] if start > 0 else NEVER
            focuses, last = kinds[2 * number + 1], kinds[2 * number + (2 if refocus > 0.0 else 1)]
            while here < stop:
                until = min(here + laps[slot], stop)
                # what is no more than what was reached before these ticks adds nothing
                kept = cells[row + here - 1] if here > 0 else NEVER
                for move in range(kinds[2 * number], last):
                    if here > start and not again[move]:
                        continue
                    node, came, soonest = nodes[move], all_came[move], all_soonest[move]
                    end = min(until if again[move] else stop, closes[node] + 1)
                    gain = refocus if move >= focuses else 0.0
                    for option in range(option_starts[node], option_starts[node + 1]):
                        length = option_ticks[option]
                        tick = max(here, soonest + length)
                        if tick >= end:
                            break
                        if cells[came + end - 1 - length] + (mosts[option] + gain) <= kept:
                            continue
                        raised, into, left, count = True, row + tick, came + tick - length, end - tick
                        if by_tick:
                            share, more = shares[option], gain - costs[option]
                            _raise_each(cells, into, cells, left, count, profits[option], tick, share, more)
                        else:
                            _raise_all(cells, into, cells, left, count, mosts[option] + gain)
                if raised:
                    _keep(cells, row + here, kept, free, into_free + here, until - here)
                here = until


@compiled
def fill_tables(
    grid: Grid, moves: Moves, tables: Tables, profits: Floats, tops: Floats, reduction: Reduction
) -> None:
    """Fill the tables in place, by `profits` [options, ticks] at the tick of a run's end, or [options, 1].

    A block of ticks is filled at once: the visit before one that ends within it was over before it. `tops`
    [blocks, options] holds the most profit within each block, or [1, options].
    """
    ticks, block = grid.ticks, grid.block
    shares, costs = reduction.option_shares, reduction.option_costs
    runs = OptionProfits(profits, shares, costs, np.empty(len(grid.option_ticks)))
    for start in range(0, ticks, block):
        if start == 0 or len(tops) > 1:
            for option in range(len(runs.mosts)):
                runs.mosts[option] = shares[option] * tops[start // block, option] - costs[option]
        stop = min(start + block, ticks)
        _fill_arrivals(grid, tables, reduction.arc_gains, start, stop)
        _fill_visits(grid, moves, tables, runs, reduction.refocus_gains, start, stop)
    _fill_arrivals(grid, tables, reduction.arc_gains, ticks, 2 * ticks)  # too late for a run, but looked up


@inner
def _ready_at(
    grid: Grid, tables: Tables, reduction: Reduction, slot: int, node: int, before: int, begins: int
) -> float:
    """Most reduced profit with which a run of a node may begin, in a visit that has done these goals."""
    done, row, best = tables.done, grid.done_starts[slot] + before * grid.ticks, NEVER
    left = begins - grid.within[node]
    if begins >= grid.opens[node] and left >= 0:
        best = done[row + left]
    left = begins - grid.refocused[node]
    if reduction.refocus_gains[slot] > 0.0 and begins >= grid.opens[node] and left >= 0:
        best = max(best, done[row + left] + reduction.refocus_gains[slot])
    if before == 0 and begins >= grid.arrives[node]:
        best = max(best, tables.arrived[grid.arc_groups[node] * grid.ticks + begins])
    return best


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
    grid: Grid, tables: Tables, profits: Floats, reduction: Reduction, slot: int, chosen: int, tick: int
) -> tuple[int, int, float]:
    """Node and option of the best run that may end in a slot at a tick with a set done, and what it needs."""
    most, best = NEVER, (-1, -1, NEVER)
    by_tick = profits.shape[1] > 1
    for node in range(grid.slot_starts[slot], grid.slot_starts[slot + 1]):
        bit = grid.bits[node]
        if tick > grid.closes[node] or (bit > 0 and not chosen & bit):
            continue
        for option in range(grid.option_starts[node], grid.option_starts[node + 1]):
            begins = tick - grid.option_ticks[option]
            if begins < grid.opens[node]:
                break
            ready = _ready_at(grid, tables, reduction, slot, node, chosen & ~bit, begins)
            profit = reduction.option_shares[option] * profits[option, tick if by_tick else 0]
            value = ready + profit - reduction.option_costs[option]
            if value > most:
                most, best = value, (node, option, ready)
    return best


@inner
def _best_set(grid: Grid, tables: Tables, slot: int, tick: int) -> int:
    """The set of goals with which a slot is best left at a tick."""
    start, best = grid.done_starts[slot] + tick, 0
    for chosen in range(1, grid.sets[slot]):
        if tables.done[start + chosen * grid.ticks] > tables.done[start + best * grid.ticks]:
            best = chosen
    return best


@compiled
def trace_column(
    grid: Grid, tables: Tables, profits: Floats, reduction: Reduction, slot: int, slack: float, into: Ints
) -> int:
    """Trace the best column that ends in a slot, last run first; return how many runs `into` [runs, 4] holds.

    Each has its option, the first tick at which it may begin, whether it begins a visit, and whether it
    follows a focus run within one. Values that differ by no more than `slack` are the same.
    """
    _, done, free, arrived = tables
    count, ticks, tick = 0, grid.ticks, grid.ticks - 1
    profit, chosen = free[slot * ticks + tick], _best_set(grid, tables, slot, tick)
    while True:
        tick = _first_tick(done, grid.done_starts[slot] + chosen * ticks, tick, profit - slack)
        node, option, profit = _run_that_ended(grid, tables, profits, reduction, slot, chosen, tick)
        latest = tick - grid.option_ticks[option]
        chosen &= ~grid.bits[node]
        row, opens, least = grid.done_starts[slot] + chosen * ticks, grid.opens[node], profit - slack
        begin, focuses, arrives = latest + 1, 0, 1
        for focused in range(2 if reduction.refocus_gains[slot] > 0.0 else 1):
            arc = grid.refocused[node] if focused else grid.within[node]
            left, needed = latest - arc, least - (reduction.refocus_gains[slot] if focused else 0.0)
            if left >= 0 and latest >= opens and done[row + left] >= needed:
                soonest = max(opens, arc + _first_tick(done, row, left, needed))
                if soonest < begin:
                    begin, focuses, arrives = soonest, focused, 0
        visits = grid.arc_groups[node] * ticks
        if chosen == 0 and latest >= grid.arrives[node] and arrived[visits + latest] >= least:
            soonest = max(grid.arrives[node], _first_tick(arrived, visits, latest, least))
            if soonest < begin:
                begin, focuses, arrives = soonest, 0, 1
        into[count, 0], into[count, 1], into[count, 2], into[count, 3] = option, latest, arrives, focuses
        count += 1
        if not arrives:
            tick = begin - (grid.refocused[node] if focuses else grid.within[node])
            profit = done[row + tick]
            continue
        came, best = -1, NEVER
        for other in range(len(grid.sets)):
            left = begin - grid.arcs[other, node]
            if left >= 0 and free[other * ticks + left] + reduction.arc_gains[other, slot] > best:
                came, best = other, free[other * ticks + left] + reduction.arc_gains[other, slot]
        if came < 0 or best < least or free[came * ticks + begin - grid.arcs[came, node]] <= slack:
            return count  # it came from home
        tick = begin - grid.arcs[came, node]
        slot, profit = came, free[came * ticks + tick]
        chosen = _best_set(grid, tables, slot, tick)
