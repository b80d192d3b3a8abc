"""How long each run of a given sequence is and when, at its best on a grid: dynamic programming, compiled."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimizer.packing.compiled import NEVER, Floats, Ints, copy_all, fill_all, inner

MOST_RUNS = 150


class Runs(NamedTuple):
    """What may stand in a sequence, on a grid of ticks; arrays as in `NightGraph`."""

    ticks: int
    option_ticks: Ints
    option_starts: Ints
    slot: Ints  # of each entry
    task: Ints
    opens: Ints
    closes: Ints
    arrives: Ints
    ways: Ints  # [slots, entries]
    within: Ints
    profits: Floats  # [pairs, ticks] or [pairs, 1]
    most: Floats  # [pairs]: of these, at any time
    caps: Ints
    frame_ticks: Floats  # of each entry, not rounded
    every_ticks: float  # how long a focus run serves that is carried from run to run; infinite: it is not
    pause_ticks: float  # a focus run inside a run, with its dither


class Sequence(NamedTuple):
    """Entries in the order of time; `limit` frames each at most, `frames` and `begins` as last laid out.

    `before` [i, tick]: most worth of the first i runs, all ended by the tick; `after` [i, tick]: of the runs
    from i on, where run i begins at the tick or later. `size` has one number: how many there are. `extra`
    ticks each takes longer than with a fresh focus.
    """

    size: Ints
    entry: Ints
    limit: Ints
    frames: Ints
    begins: Ints
    extra: Ints
    before: Floats
    after: Floats


@inner
def way_between(runs: Runs, former: int, entry: int) -> tuple[int, int]:
    """Ticks from the end of one run to the begin of the next, and the first tick at which that may begin."""
    if former < 0:
        return 0, max(runs.opens[entry], runs.arrives[entry])
    if runs.slot[former] == runs.slot[entry]:
        return runs.within[entry], runs.opens[entry]
    return runs.ways[runs.slot[former], entry], max(runs.opens[entry], runs.arrives[entry])


@inner
def _pairs(runs: Runs, entry: int, most: int, room: int) -> range:
    """Runs of an entry, of at most so many frames, that with a fresh focus take less than so many ticks."""
    start = stop = runs.option_starts[entry]
    while stop < min(start + most, runs.option_starts[entry + 1]) and runs.option_ticks[stop] < room:
        stop += 1
    return range(start, stop)


@inner
def most_after(
    runs: Runs, sequence: Sequence, place: int, gap: int, opens: int, first: int, end: int, found: Floats
) -> None:
    """Of each tick from `first` to `end` at which a run ends: most worth of the runs from `place` on.

    The next run begins `gap` ticks later at the soonest, and not before `opens`.
    """
    if place == sequence.size[0]:
        fill_all(found[first:end], 0.0)
        return
    row = sequence.after[place]
    for tick in range(first, end):
        begins = max(tick + gap, opens)
        found[tick] = row[begins] if begins < runs.ticks else NEVER


@inner
def _raise_by_run(here: Floats, there: Floats, profits: Floats, pair: int, tick: int) -> None:
    """Each number to the other one and the worth of a run that ends at the tick, or so much later, if more.

    `worths` [pairs, ticks], or [pairs, 1] where they are the same at any time.
    """
    by_tick, gain = profits.shape[1] > 1, profits[pair, 0]
    if by_tick:
        gains = profits[pair, tick : tick + len(here)]
        for place in range(len(here)):
            value = there[place] + gains[place]
            here[place] = value if value > here[place] else here[place]
    else:
        for place in range(len(here)):
            value = there[place] + gain
            here[place] = value if value > here[place] else here[place]


@inner
def _fill_before(runs: Runs, sequence: Sequence, place: int) -> None:
    entry, row, came = sequence.entry[place], sequence.before[place + 1], sequence.before[place]
    way, first = way_between(runs, sequence.entry[place - 1] if place > 0 else -1, entry)
    first, end = max(first, way), runs.closes[entry] + 1
    fill_all(row, NEVER)
    extra = sequence.extra[place]
    for pair in _pairs(runs, entry, sequence.limit[place], end - first - extra):
        length = runs.option_ticks[pair] + extra
        here, there = row[first + length : end], came[first - way : end - length - way]
        _raise_by_run(here, there, runs.profits, pair, first + length)
    for tick in range(1, runs.ticks):
        if row[tick - 1] > row[tick]:
            row[tick] = row[tick - 1]


@inner
def _fill_after(runs: Runs, sequence: Sequence, place: int, following: Floats) -> None:
    entry, row = sequence.entry[place], sequence.after[place]
    gap, opens = (
        way_between(runs, entry, sequence.entry[place + 1]) if place + 1 < sequence.size[0] else (0, 0)
    )
    first, end = runs.opens[entry], runs.closes[entry] + 1
    most_after(runs, sequence, place + 1, gap, opens, first, end, following)
    fill_all(row, NEVER)
    extra = sequence.extra[place]
    for pair in _pairs(runs, entry, sequence.limit[place], end - first - extra):
        length = runs.option_ticks[pair] + extra
        here, there = row[first : end - length], following[first + length : end]
        _raise_by_run(here, there, runs.profits, pair, first + length)
    for tick in range(runs.ticks - 2, -1, -1):
        if row[tick + 1] > row[tick]:
            row[tick] = row[tick + 1]


@inner
def _cuts(runs: Runs, entry: int, frames: int, first_ticks: float) -> int:
    """Focus runs before or inside a run where the last one serves so many ticks more."""
    frame, every = runs.frame_ticks[entry], runs.every_ticks
    first = int(first_ticks / frame)
    return 0 if frames <= first else -int(-(frames - first) // max(1, int(every / frame)))


@inner
def _age(runs: Runs, sequence: Sequence) -> bool:
    """What each run takes for focus runs that a carried one makes due in it; whether any of it is new."""
    news, focused = False, 0.0
    for place in range(sequence.size[0]):
        entry, frames, begins = sequence.entry[place], sequence.frames[place], float(sequence.begins[place])
        if place == 0 or runs.slot[sequence.entry[place - 1]] != runs.slot[entry]:
            focused = begins
        left = max(0.0, runs.every_ticks - (begins - focused))
        cuts = _cuts(runs, entry, frames, left)
        more = cuts - _cuts(runs, entry, frames, runs.every_ticks)
        extra = int(more * runs.pause_ticks + 0.5)
        if cuts > 0:
            most = max(1, int(runs.every_ticks / runs.frame_ticks[entry]))
            last = frames - int(left / runs.frame_ticks[entry]) - (cuts - 1) * most
            pair = runs.option_starts[entry] + frames - 1
            focused = begins + runs.option_ticks[pair] + extra - last * runs.frame_ticks[entry]
        news = news or extra != sequence.extra[place]
        sequence.extra[place] = extra
    return news


@inner
def scheduled(runs: Runs, sequence: Sequence, left: Ints, following: Floats) -> float:
    """Fill both tables, frames and begins; what the goals have left. The most worth, or `NEVER`.

    Where a focus run is carried, once more with the ages that this leads to.
    """
    profit = _lay_out_once(runs, sequence, left, following)
    if profit > NEVER and runs.every_ticks < np.inf and _age(runs, sequence):
        aged = _lay_out_once(runs, sequence, left, following)
        if aged > NEVER:
            return aged
        for place in range(sequence.size[0]):
            sequence.extra[place] = 0
        return _lay_out_once(runs, sequence, left, following)
    return profit


@inner
def _lay_out_once(runs: Runs, sequence: Sequence, left: Ints, following: Floats) -> float:
    size = sequence.size[0]
    for place in range(size):
        _fill_before(runs, sequence, place)
    for place in range(size - 1, -1, -1):
        _fill_after(runs, sequence, place, following)
    copy_all(runs.caps, left)
    tick = runs.ticks - 1
    profit = float(sequence.before[size, tick])
    if profit == NEVER:
        return profit
    for place in range(size - 1, -1, -1):
        row, came, entry = sequence.before[place + 1], sequence.before[place], sequence.entry[place]
        while tick > 0 and row[tick - 1] == row[tick]:
            tick -= 1
        way, first = way_between(runs, sequence.entry[place - 1] if place > 0 else -1, entry)
        start, best, at = runs.option_starts[entry], NEVER, 0
        extra = sequence.extra[place]
        for pair in range(start, min(start + sequence.limit[place], runs.option_starts[entry + 1])):
            begins = tick - runs.option_ticks[pair] - extra
            if begins < max(first, way):
                break
            value = came[begins - way] + (
                runs.profits[pair, tick] if runs.profits.shape[1] > 1 else runs.profits[pair, 0]
            )
            if value > best:
                best, at = value, pair
        sequence.frames[place] = at - start + 1
        sequence.begins[place] = tick - runs.option_ticks[at] - extra
        left[runs.task[entry]] -= sequence.frames[place]
        tick = sequence.begins[place] - way
    return profit
