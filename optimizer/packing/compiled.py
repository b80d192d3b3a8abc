"""Loops over time that array calls cannot express well, compiled on their first use and kept on disk.

Where the package's folder cannot be written, numba keeps them in the user's cache folder; where neither can,
they are compiled anew in each process (some seconds).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """The function as machine code, kept on disk where that is possible; threads run it side by side."""
    try:
        return njit(function, cache=True, nogil=True)  # type: ignore[no-any-return]
    except RuntimeError:  # numba's word for no folder that can be written
        return njit(function, nogil=True)  # type: ignore[no-any-return]


@compiled
def _raise(here: Floats, other: Floats, gain: float) -> None:
    """Each number to the other one plus a gain where that is more; on slices it takes several at a time."""
    for place in range(len(here)):
        value = other[place] + gain
        here[place] = value if value > here[place] else here[place]


@compiled
def raise_by_run(here: Floats, came: Floats, worths: Floats, pair: int, tick: int, price: float) -> None:
    """Each number, from a tick at which a run ends, to what came before it and its priced worth, if more.

    `worths` [pairs, ticks], or [pairs, 1] where they are the same at any time.
    """
    if worths.shape[1] > 1:
        gains = worths[pair, tick : tick + len(here)]
        for place in range(len(here)):
            value = came[place] + (gains[place] - price)
            here[place] = value if value > here[place] else here[place]
    else:
        _raise(here, came, worths[pair, 0] - price)


@compiled
def fill_tables(
    done: Floats,
    free: Floats,
    ready: Floats,
    worths: Floats,
    pair_prices: Floats,
    pair_ticks: Ints,
    pair_starts: Ints,
    slot_starts: Ints,
    sets: Ints,
    done_starts: Ints,
    ready_starts: Ints,
    bits: Ints,
    open_ticks: Ints,
    close_ticks: Ints,
    arrive_ticks: Ints,
    ways: Ints,
    within: Ints,
    refocused: Ints,
    arrival_gains: Floats,
    refocus_gains: Floats,
    block: int,
) -> None:
    """Most priced worth by the tick, filled in place from `-inf`; a set of goals is a number of bits.

    `done` [done_starts[slot] + set, ticks]: the goals of the set have had their run in this visit, the last
    download is over; `free` [slots, ticks]: the same whatever the set; `ready` [ready_starts[entry] + set,
    ticks]: a run of the entry may begin, the set is done in this visit. `bits[entry]` is 0 where the goal is
    not remembered, `sets[slot]` the number of sets. `worths` of each pair by the tick at which it ends, or in
    one column. `arrival_gains` and `refocus_gains` [slots]: what a visit's begin and a focus run between two
    of its runs earn; such a one takes `refocused` [entries] instead of `within`. No block is longer than the
    shortest run: what it needs of `ready` lies in earlier blocks.
    """
    ticks, slots = free.shape[1], len(slot_starts) - 1
    for first in range(0, ticks, block):
        last = min(first + block, ticks)
        for slot in range(slots):
            for entry in range(slot_starts[slot], slot_starts[slot + 1]):
                end = min(last, close_ticks[entry] + 1)
                if end <= max(first, open_ticks[entry]):
                    continue
                for before in range(sets[slot]):
                    if before & bits[entry]:
                        continue
                    source = ready_starts[entry] + before
                    into = done_starts[slot] + (before | bits[entry])
                    if ready[source, max(first - 1, 0)] == -np.inf:
                        continue
                    for pair in range(pair_starts[entry], pair_starts[entry + 1]):
                        length = pair_ticks[pair]
                        start = max(first, open_ticks[entry] + length)
                        if start >= end:
                            break  # and so are all longer runs
                        here, came = done[into, start:end], ready[source, start - length : end - length]
                        raise_by_run(here, came, worths, pair, start, pair_prices[pair])
            for into in range(done_starts[slot], done_starts[slot] + sets[slot]):
                for tick in range(max(first, 1), last):
                    if done[into, tick - 1] > done[into, tick]:
                        done[into, tick] = done[into, tick - 1]
                _raise(free[slot, first:last], done[into, first:last], 0.0)
        for slot in range(slots):
            for entry in range(slot_starts[slot], slot_starts[slot + 1]):
                into, gain = ready_starts[entry], arrival_gains[slot]
                for other in range(slots):
                    way = ways[other, entry]
                    start = max(first, way, arrive_ticks[entry])
                    if start < last:
                        _raise(ready[into, start:last], free[other, start - way : last - way], gain)
                for tick in range(max(first, arrive_ticks[entry]), last):
                    if ready[into, tick] < gain:
                        ready[into, tick] = gain
                for before in range(sets[slot]):
                    if before & bits[entry]:
                        continue
                    into, source = ready_starts[entry] + before, done_starts[slot] + before
                    for focuses in range(2 if refocus_gains[slot] > 0.0 else 1):
                        way = refocused[entry] if focuses else within[entry]
                        start = max(first, way, open_ticks[entry])
                        if start < last:
                            there = done[source, start - way : last - way]
                            _raise(ready[into, start:last], there, refocus_gains[slot] if focuses else 0.0)
                    for tick in range(max(first, 1), last):
                        if ready[into, tick - 1] > ready[into, tick]:
                            ready[into, tick] = ready[into, tick - 1]


@compiled
def widen_to_subsets(ready: Floats, ready_starts: Ints, entry_sets: Ints) -> None:
    """Of each entry and set, in place: the most over all sets that share no goal with it."""
    for entry in range(len(ready_starts)):
        count, start = entry_sets[entry], ready_starts[entry]
        # first the most over all subsets of a set, then the set's complement is looked up
        bit = 1
        while bit < count:
            for one in range(count):
                if one & bit:
                    for tick in range(ready.shape[1]):
                        if ready[start + one - bit, tick] > ready[start + one, tick]:
                            ready[start + one, tick] = ready[start + one - bit, tick]
            bit *= 2
        for one in range(count // 2):
            for tick in range(ready.shape[1]):
                other = start + count - 1 - one
                ready[start + one, tick], ready[other, tick] = ready[other, tick], ready[start + one, tick]
