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
def _best_of_four(
    ready: Floats, place: int, width: int, pair_ticks: Ints, gains: Floats, first: int, last: int
) -> tuple[float, float, float, float]:
    """Of four sets side by side: the most that the runs `first` to `last` make, ending where `place` is."""
    one = two = three = four = -np.inf
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
    widths: Ints,
    befores: Ints,
    bits: Ints,
    open_ticks: Ints,
    close_ticks: Ints,
    arrive_ticks: Ints,
    ways: Ints,
    within: Ints,
    refocused: Ints,
    way_gains: Floats,
    refocus_gains: Floats,
) -> None:
    """Most priced worth by the tick, all filled in place; a set of goals is a number of bits.

    `done` [flat: of each slot ticks x `sets[slot]`, from `done_starts[slot]`]: the goals of the set have had
    their run in this visit, the last download is over; `free` [slots, ticks]: the same whatever the set;
    `ready` [flat: of each entry ticks x `widths[entry]`]: a run of the entry may begin, the set
    `befores[entry, place]` is done in this visit. Sets lie side by side since a run does the same to all.
    `bits[entry]` is 0 where the goal is not remembered. `worths` [ticks, pairs] by the tick at which a run
    ends, or [1, pairs]. `way_gains` [slots + 1, slots] (the last from home) and `refocus_gains` [slots]: what
    a way to a slot and a focus run between two runs of a visit earn; such a one takes `refocused` [entries]
    instead of `within`.
    """
    ticks, slots = free.shape[1], len(slot_starts) - 1
    fitting = pair_starts[:-1].copy()  # runs from here on do not fit in before the tick
    gains = worths[0] - pair_prices
    for tick in range(ticks):
        if worths.shape[0] > 1:
            for pair in range(len(gains)):
                gains[pair] = worths[tick, pair] - pair_prices[pair]
        for slot in range(slots):
            count = sets[slot]
            here = done_starts[slot] + tick * count
            for chosen in range(count):
                done[here + chosen] = done[here + chosen - count] if tick > 0 else -np.inf
            for entry in range(slot_starts[slot], slot_starts[slot + 1]):
                first, last, end = pair_starts[entry], fitting[entry], pair_starts[entry + 1]
                while last < end and open_ticks[entry] + pair_ticks[last] <= tick:
                    last += 1
                fitting[entry] = last
                if tick > close_ticks[entry] or last == first:
                    continue
                width = widths[entry]
                into = ready_starts[entry] + tick * width
                for place in range(0, width, 4):
                    four = _best_of_four(ready, into + place, width, pair_ticks, gains, first, last)
                    _raise_at(done, here + (befores[entry, place] | bits[entry]), four[0])
                    _raise_at(done, here + (befores[entry, place + 1] | bits[entry]), four[1])
                    _raise_at(done, here + (befores[entry, place + 2] | bits[entry]), four[2])
                    _raise_at(done, here + (befores[entry, place + 3] | bits[entry]), four[3])
            free[slot, tick] = done[here : here + count].max()
        for slot in range(slots):
            for entry in range(slot_starts[slot], slot_starts[slot + 1]):
                width = widths[entry]
                into = ready_starts[entry] + tick * width
                for place in range(into, into + width):
                    ready[place] = ready[place - width] if tick > 0 else -np.inf
                if tick >= arrive_ticks[entry]:
                    best = way_gains[slots, slot]
                    for other in range(slots):
                        left = tick - ways[other, entry]
                        if left >= 0:
                            best = max(best, free[other, left] + way_gains[other, slot])
                    _raise_at(ready, into, best)
                if tick < open_ticks[entry]:
                    continue
                for focuses in range(2 if refocus_gains[slot] > 0.0 else 1):
                    left = tick - (refocused[entry] if focuses else within[entry])
                    gain = refocus_gains[slot] if focuses else 0.0
                    if left >= 0:
                        there = done_starts[slot] + left * sets[slot]
                        for place in range(width):
                            _raise_at(ready, into + place, done[there + befores[entry, place]] + gain)


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
