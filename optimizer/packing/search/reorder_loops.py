"""The loops that take runs out of a night's sequence and put others in, compiled."""

from __future__ import annotations

import numpy as np

from optimizer.packing.compiled import NEVER, Bools, Floats, Ints, compiled, inner
from optimizer.packing.search.sequence_layout import (
    MOST_RUNS,
    Runs,
    Sequence,
    most_after,
    scheduled,
    way_between,
)

SCATTERED, NEARBY, NEAR = 0.3, 0.4, 4  # shares of the tries; places on either side
NOISE = 0.4  # most of its gain that a run may seem not to add


@inner
def _first_above(values: Floats, least: float) -> int:
    """The first place at which numbers that grow are above another one."""
    first, last = 0, len(values)
    while first < last:
        middle = (first + last) // 2
        if values[middle] > least:
            last = middle
        else:
            first = middle + 1
    return first


@inner
def _profit_with(
    runs: Runs, sequence: Sequence, place: int, entry: int, most: int, least: float, following: Floats
) -> float:
    """Most worth with a run of the entry put in before `place`; `NEVER` where it is not above `least`.

    Of the lengths that the run may have each is tried that is about twice the last; the layout finds the
    best. Worths before a place grow with time and those after it fall, so that only some ticks can be enough.
    """
    way, first = way_between(runs, sequence.entry[place - 1] if place > 0 else -1, entry)
    first, end = max(first, way), runs.closes[entry] + 1
    came, start = sequence.before[place], runs.option_starts[entry]
    shortest, stop = runs.option_ticks[start], min(start + most, runs.option_starts[entry + 1])
    if first + shortest >= end or came[end - 1 - shortest - way] == NEVER:
        return NEVER
    gap, opens, rest = 0, 0, 0.0
    if place < sequence.size[0]:
        gap, opens = way_between(runs, entry, sequence.entry[place])
        begins = max(opens, first + shortest + gap)
        rest = sequence.after[place, begins] if begins < runs.ticks else NEVER
    needed = least - runs.most[stop - 1]
    if came[end - 1 - shortest - way] + rest <= needed:
        return NEVER
    first = max(first, way + _first_above(came, needed - rest))
    most_after(runs, sequence, place, gap, opens, first + shortest, end, following)
    last_needed = needed - came[end - 1 - shortest - way]
    while end > first + shortest and following[end - 1] <= last_needed:
        end -= 1
    best, by_tick = NEVER, runs.profits.shape[1] > 1
    frames = 1
    while True:
        pair = start + min(frames, stop - start) - 1
        length = runs.option_ticks[pair]
        if first + length >= end:
            return best
        there, rests = came[first - way : end - length - way], following[first + length : end]
        if by_tick:
            gains = runs.profits[pair, first + length : end]
            for tick in range(len(rests)):
                value = there[tick] + gains[tick] + rests[tick]
                best = value if value > best else best
        else:
            most_here = NEVER
            for tick in range(len(rests)):
                value = there[tick] + rests[tick]
                most_here = value if value > most_here else most_here
            best = max(best, most_here + runs.profits[pair, 0])
        if frames >= stop - start:
            return best
        frames *= 2


@inner
def _fits_visit(runs: Runs, sequence: Sequence, place: int, entry: int) -> bool:
    """Whether the visit into which a run would be put at a place has none of its goal yet."""
    for towards in (-1, 1):
        other = place - 1 if towards < 0 else place
        while 0 <= other < sequence.size[0] and runs.slot[sequence.entry[other]] == runs.slot[entry]:
            if runs.task[sequence.entry[other]] == runs.task[entry]:
                return False
            other += towards
    return True


@inner
def _remove(sequence: Sequence, place: int) -> None:
    for other in range(place, sequence.size[0] - 1):
        sequence.entry[other] = sequence.entry[other + 1]
        sequence.limit[other] = sequence.limit[other + 1]
        sequence.frames[other] = sequence.frames[other + 1]
        sequence.extra[other] = sequence.extra[other + 1]
    sequence.size[0] -= 1


@inner
def _insert(sequence: Sequence, place: int, entry: int, limit: int) -> None:
    for other in range(sequence.size[0], place, -1):
        sequence.entry[other] = sequence.entry[other - 1]
        sequence.limit[other] = sequence.limit[other - 1]
        sequence.frames[other] = sequence.frames[other - 1]
        sequence.extra[other] = sequence.extra[other - 1]
    sequence.entry[place], sequence.limit[place], sequence.frames[place] = entry, limit, limit
    sequence.extra[place] = 0
    sequence.size[0] += 1


@inner
def _copy(source: Sequence, into: Sequence) -> None:
    into.size[0] = source.size[0]
    for place in range(source.size[0]):
        into.entry[place], into.limit[place] = source.entry[place], source.limit[place]
        into.frames[place], into.begins[place] = source.frames[place], source.begins[place]
        into.extra[place] = source.extra[place]


@inner
def _spread_limits(runs: Runs, sequence: Sequence, favoured: float) -> None:
    """Runs of one goal share its cap: one of them, drawn by `favoured`, may grow."""
    size = sequence.size[0]
    for place in range(size):
        task, others, mine, total = runs.task[sequence.entry[place]], 0, 0, 0
        for other in range(size):
            if runs.task[sequence.entry[other]] == task:
                mine += 1 if other < place else 0
                others += 1
                total += sequence.frames[other]
        grows = int(favoured * others) == mine
        sequence.limit[place] = sequence.frames[place] + (runs.caps[task] - total if grows else 0)


@inner
def _put_in(
    runs: Runs,
    sequence: Sequence,
    left: Ints,
    profit: float,
    draws: Floats,
    following: Floats,
    first: int,
    after: int,
) -> float:
    """Put in the run that adds most, with a little noise, until none adds anything; the most worth then.

    Before places from `first` on, but for the last `after`.
    """
    draw = 0
    while sequence.size[0] < MOST_RUNS - 1:
        best, best_place, best_entry = profit, -1, -1
        for entry in range(len(runs.slot)):
            most = left[runs.task[entry]]
            if most <= 0:
                continue
            for place in range(first, sequence.size[0] + 1 - after):
                if not _fits_visit(runs, sequence, place, entry):
                    continue
                value = _profit_with(runs, sequence, place, entry, most, best, following)
                if value > profit:
                    draw = (draw + 1) % len(draws)
                    value = profit + (value - profit) * (1.0 - NOISE * draws[draw])
                    if value > best:
                        best, best_place, best_entry = value, place, entry
        if best_place < 0:
            return profit
        for place in range(sequence.size[0]):
            if runs.task[sequence.entry[place]] == runs.task[best_entry]:
                sequence.limit[place] = sequence.frames[place]
        _insert(sequence, best_place, best_entry, left[runs.task[best_entry]])
        profit = scheduled(runs, sequence, left, following)
    return profit


@compiled
def reorder(
    runs: Runs, now: Sequence, trial: Sequence, best: Sequence, draws: Floats, bear: float, halt: Bools
) -> float:
    """Take some runs out and put others in, once for each row of `draws`; `best` is the best sequence met.

    A trial is gone on from where it is at most the share `bear` of the best worth below it. Begins with the
    sequence `best`; returns the worth of the last one. `halt` [1] ends it early.
    """
    left = np.empty_like(runs.caps)
    following = np.empty(runs.ticks)
    _copy(best, now)
    most = present = scheduled(runs, now, left, following)
    _copy(now, best)
    for row in range(len(draws)):
        if present == NEVER or halt[0]:
            return most
        draw = draws[row]
        _copy(now, trial)
        _spread_limits(runs, trial, draw[0])
        count = 1 + int(draw[1] * draw[1] * 6)
        place = int(draw[2] * trial.size[0])
        # some tries look only near the place at which they made room
        near = NEAR if draw[3] >= SCATTERED and draw[4] < NEARBY else trial.size[0]
        first, after = max(0, place - near), max(0, trial.size[0] - place - count - near)
        for taken in range(min(count, trial.size[0])):
            if draw[3] < SCATTERED:
                place = int(draw[4 + taken % 4] * trial.size[0])
            _remove(trial, min(place, trial.size[0] - 1))
        profit = scheduled(runs, trial, left, following)
        if profit == NEVER:
            continue
        profit = _put_in(runs, trial, left, profit, draw, following, first, after)
        if profit >= present or profit > most * (1.0 - bear * draw[3]):
            _copy(trial, now)
            present = profit
        if profit > most:
            most = profit
            _copy(trial, best)
    return most
