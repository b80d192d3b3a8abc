"""The loops that take runs out of a night's sequence and put others in, compiled."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimizer.packing.compiled import Floats, Ints, compiled, raise_by_run

MOST_RUNS = 150
SCATTERED, NEARBY, NEAR = 0.3, 0.4, 4  # shares of the tries; places on either side
NEVER = -np.inf


class Runs(NamedTuple):
    """What may stand in a sequence, on a grid of ticks; arrays as in `NightGraph`."""

    ticks: int
    pair_ticks: Ints
    pair_starts: Ints
    slot: Ints  # of each entry
    task: Ints
    opens: Ints
    closes: Ints
    arrives: Ints
    ways: Ints  # [slots, entries]
    within: Ints
    worths: Floats  # [pairs, ticks] or [pairs, 1]
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


@compiled
def _way(runs: Runs, former: int, entry: int) -> tuple[int, int]:
    """Ticks from the end of one run to the begin of the next, and the first tick at which that may begin."""
    if former < 0:
        return 0, max(runs.opens[entry], runs.arrives[entry])
    if runs.slot[former] == runs.slot[entry]:
        return runs.within[entry], runs.opens[entry]
    return runs.ways[runs.slot[former], entry], max(runs.opens[entry], runs.arrives[entry])


@compiled
def _pairs(runs: Runs, entry: int, most: int, room: int) -> range:
    """Runs of an entry, of at most so many frames, that with a fresh focus end before so many ticks are over."""
    start = stop = runs.pair_starts[entry]
    while stop < min(start + most, runs.pair_starts[entry + 1]) and runs.pair_ticks[stop] < room:
        stop += 1
    return range(start, stop)


@compiled
def _most_after(
    runs: Runs, sequence: Sequence, place: int, gap: int, opens: int, first: int, end: int, found: Floats
) -> None:
    """Of each tick from `first` to `end` at which a run ends: most worth of the runs from `place` on.

    The next run begins `gap` ticks later at the soonest, and not before `opens`.
    """
    if place == sequence.size[0]:
        found[first:end] = 0.0
        return
    row = sequence.after[place]
    for tick in range(first, end):
        begins = max(tick + gap, opens)
        found[tick] = row[begins] if begins < runs.ticks else NEVER


@compiled
def _fill_before(runs: Runs, sequence: Sequence, place: int) -> None:
    entry, row, came = sequence.entry[place], sequence.before[place + 1], sequence.before[place]
    way, first = _way(runs, sequence.entry[place - 1] if place > 0 else -1, entry)
    first, end = max(first, way), runs.closes[entry] + 1
    row[:] = NEVER
    extra = sequence.extra[place]
    for pair in _pairs(runs, entry, sequence.limit[place], end - first - extra):
        length = runs.pair_ticks[pair] + extra
        here, there = row[first + length : end], came[first - way : end - length - way]
        raise_by_run(here, there, runs.worths, pair, first + length, 0.0)
    for tick in range(1, runs.ticks):
        if row[tick - 1] > row[tick]:
            row[tick] = row[tick - 1]


@compiled
def _fill_after(runs: Runs, sequence: Sequence, place: int, following: Floats) -> None:
    entry, row = sequence.entry[place], sequence.after[place]
    gap, opens = _way(runs, entry, sequence.entry[place + 1]) if place + 1 < sequence.size[0] else (0, 0)
    first, end = runs.opens[entry], runs.closes[entry] + 1
    _most_after(runs, sequence, place + 1, gap, opens, first, end, following)
    row[:] = NEVER
    extra = sequence.extra[place]
    for pair in _pairs(runs, entry, sequence.limit[place], end - first - extra):
        length = runs.pair_ticks[pair] + extra
        here, there = row[first : end - length], following[first + length : end]
        raise_by_run(here, there, runs.worths, pair, first + length, 0.0)
    for tick in range(runs.ticks - 2, -1, -1):
        if row[tick + 1] > row[tick]:
            row[tick] = row[tick + 1]


@compiled
def _cuts(runs: Runs, entry: int, frames: int, first_ticks: float) -> int:
    """Focus runs before or inside a run where the last one serves so many ticks more."""
    frame, every = runs.frame_ticks[entry], runs.every_ticks
    first = int(first_ticks / frame)
    return 0 if frames <= first else -int(-(frames - first) // max(1, int(every / frame)))


@compiled
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
            pair = runs.pair_starts[entry] + frames - 1
            focused = begins + runs.pair_ticks[pair] + extra - last * runs.frame_ticks[entry]
        news = news or extra != sequence.extra[place]
        sequence.extra[place] = extra
    return news


@compiled
def _lay_out(runs: Runs, sequence: Sequence, left: Ints, following: Floats) -> float:
    """Fill both tables, frames and begins; what the goals have left. The most worth, or `NEVER`.

    Where a focus run is carried, once more with the ages that this leads to.
    """
    worth = _lay_out_once(runs, sequence, left, following)
    if worth > NEVER and runs.every_ticks < np.inf and _age(runs, sequence):
        aged = _lay_out_once(runs, sequence, left, following)
        if aged > NEVER:
            return aged
        sequence.extra[: sequence.size[0]] = 0
        return _lay_out_once(runs, sequence, left, following)
    return worth


@compiled
def _lay_out_once(runs: Runs, sequence: Sequence, left: Ints, following: Floats) -> float:
    size = sequence.size[0]
    for place in range(size):
        _fill_before(runs, sequence, place)
    for place in range(size - 1, -1, -1):
        _fill_after(runs, sequence, place, following)
    left[:] = runs.caps
    tick = runs.ticks - 1
    worth = float(sequence.before[size, tick])
    if worth == NEVER:
        return worth
    for place in range(size - 1, -1, -1):
        row, came, entry = sequence.before[place + 1], sequence.before[place], sequence.entry[place]
        while tick > 0 and row[tick - 1] == row[tick]:
            tick -= 1
        way, first = _way(runs, sequence.entry[place - 1] if place > 0 else -1, entry)
        start, best, at = runs.pair_starts[entry], NEVER, 0
        extra = sequence.extra[place]
        for pair in range(start, min(start + sequence.limit[place], runs.pair_starts[entry + 1])):
            begins = tick - runs.pair_ticks[pair] - extra
            if begins < max(first, way):
                break
            value = came[begins - way] + (
                runs.worths[pair, tick] if runs.worths.shape[1] > 1 else runs.worths[pair, 0]
            )
            if value > best:
                best, at = value, pair
        sequence.frames[place] = at - start + 1
        sequence.begins[place] = tick - runs.pair_ticks[at] - extra
        left[runs.task[entry]] -= sequence.frames[place]
        tick = sequence.begins[place] - way
    return worth


@compiled
def _worth_with(
    runs: Runs, sequence: Sequence, place: int, entry: int, most: int, least: float, following: Floats
) -> float:
    """Most worth with a run of the entry put in before `place`; `NEVER` where it is not above `least`.

    Of the lengths that the run may have each is tried that is about twice the last; the layout finds the
    best. Worths before a place grow with time and those after it fall, so that only some ticks can be enough.
    """
    way, first = _way(runs, sequence.entry[place - 1] if place > 0 else -1, entry)
    first, end = max(first, way), runs.closes[entry] + 1
    came, start = sequence.before[place], runs.pair_starts[entry]
    shortest, stop = runs.pair_ticks[start], min(start + most, runs.pair_starts[entry + 1])
    if first + shortest >= end or came[end - 1 - shortest - way] == NEVER:
        return NEVER
    gap, opens, rest = 0, 0, 0.0
    if place < sequence.size[0]:
        gap, opens = _way(runs, entry, sequence.entry[place])
        begins = max(opens, first + shortest + gap)
        rest = sequence.after[place, begins] if begins < runs.ticks else NEVER
    needed = least - runs.most[stop - 1]
    if came[end - 1 - shortest - way] + rest <= needed:
        return NEVER
    first = max(first, way + np.searchsorted(came, needed - rest, side="right"))
    _most_after(runs, sequence, place, gap, opens, first + shortest, end, following)
    last_needed = needed - came[end - 1 - shortest - way]
    while end > first + shortest and following[end - 1] <= last_needed:
        end -= 1
    best, by_tick = NEVER, runs.worths.shape[1] > 1
    frames = 1
    while True:
        pair = start + min(frames, stop - start) - 1
        length = runs.pair_ticks[pair]
        if first + length >= end:
            return best
        there, rests = came[first - way : end - length - way], following[first + length : end]
        if by_tick:
            gains = runs.worths[pair, first + length : end]
            for tick in range(len(rests)):
                value = there[tick] + gains[tick] + rests[tick]
                best = value if value > best else best
        else:
            most_here = NEVER
            for tick in range(len(rests)):
                value = there[tick] + rests[tick]
                most_here = value if value > most_here else most_here
            best = max(best, most_here + runs.worths[pair, 0])
        if frames >= stop - start:
            return best
        frames *= 2


@compiled
def _fits_visit(runs: Runs, sequence: Sequence, place: int, entry: int) -> bool:
    """Whether the visit into which a run would be put at a place has none of its goal yet."""
    for towards in (-1, 1):
        other = place - 1 if towards < 0 else place
        while 0 <= other < sequence.size[0] and runs.slot[sequence.entry[other]] == runs.slot[entry]:
            if runs.task[sequence.entry[other]] == runs.task[entry]:
                return False
            other += towards
    return True


@compiled
def _remove(sequence: Sequence, place: int) -> None:
    for other in range(place, sequence.size[0] - 1):
        sequence.entry[other] = sequence.entry[other + 1]
        sequence.limit[other] = sequence.limit[other + 1]
        sequence.frames[other] = sequence.frames[other + 1]
        sequence.extra[other] = sequence.extra[other + 1]
    sequence.size[0] -= 1


@compiled
def _insert(sequence: Sequence, place: int, entry: int, limit: int) -> None:
    for other in range(sequence.size[0], place, -1):
        sequence.entry[other] = sequence.entry[other - 1]
        sequence.limit[other] = sequence.limit[other - 1]
        sequence.frames[other] = sequence.frames[other - 1]
        sequence.extra[other] = sequence.extra[other - 1]
    sequence.entry[place], sequence.limit[place], sequence.frames[place] = entry, limit, limit
    sequence.extra[place] = 0
    sequence.size[0] += 1


@compiled
def _copy(source: Sequence, into: Sequence) -> None:
    into.size[0] = source.size[0]
    for place in range(source.size[0]):
        into.entry[place], into.limit[place] = source.entry[place], source.limit[place]
        into.frames[place], into.begins[place] = source.frames[place], source.begins[place]
        into.extra[place] = source.extra[place]


@compiled
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


@compiled
def _put_in(
    runs: Runs,
    sequence: Sequence,
    left: Ints,
    worth: float,
    noise: Floats,
    following: Floats,
    first: int,
    after: int,
) -> float:
    """Put in the run that adds most, with a little noise, until none adds anything; the most worth then.

    Before places from `first` on, but for the last `after`.
    """
    draw = 0
    while sequence.size[0] < MOST_RUNS - 1:
        best, best_place, best_entry = worth, -1, -1
        for entry in range(len(runs.slot)):
            most = left[runs.task[entry]]
            if most <= 0:
                continue
            for place in range(first, sequence.size[0] + 1 - after):
                if not _fits_visit(runs, sequence, place, entry):
                    continue
                value = _worth_with(runs, sequence, place, entry, most, best, following)
                if value > worth:
                    draw = (draw + 1) % len(noise)
                    value = worth + (value - worth) * noise[draw]
                    if value > best:
                        best, best_place, best_entry = value, place, entry
        if best_place < 0:
            return worth
        for place in range(sequence.size[0]):
            if runs.task[sequence.entry[place]] == runs.task[best_entry]:
                sequence.limit[place] = sequence.frames[place]
        _insert(sequence, best_place, best_entry, left[runs.task[best_entry]])
        worth = _lay_out(runs, sequence, left, following)
    return worth


@compiled
def reorder(runs: Runs, now: Sequence, trial: Sequence, best: Sequence, draws: Floats, bear: float) -> float:
    """Take some runs out and put others in, once for each row of `draws`; `best` is the best sequence met.

    A trial is gone on from where it is at most the share `bear` of the best worth below it. Begins with the
    sequence `best`; returns the worth of the last one.
    """
    left = runs.caps.copy()
    following = np.empty(runs.ticks)
    _copy(best, now)
    most = present = _lay_out(runs, now, left, following)
    _copy(now, best)
    for row in range(len(draws)):
        if present == NEVER:
            return most
        draw = draws[row]
        _copy(now, trial)
        _spread_limits(runs, trial, draw[0])
        count = 1 + int(draw[1] * draw[1] * 6)
        place = int(draw[2] * trial.size[0])
        # most tries look only near the place at which they made room
        near = NEAR if draw[3] >= SCATTERED and draw[4] < NEARBY else trial.size[0]
        first, after = max(0, place - near), max(0, trial.size[0] - place - count - near)
        for taken in range(min(count, trial.size[0])):
            if draw[3] < SCATTERED:
                place = int(draw[4 + taken % 4] * trial.size[0])
            _remove(trial, min(place, trial.size[0] - 1))
        worth = _lay_out(runs, trial, left, following)
        if worth == NEVER:
            continue
        worth = _put_in(runs, trial, left, worth, 1.0 - 0.4 * draw, following, first, after)
        if worth >= present or worth > most * (1.0 - bear * draw[3]):
            _copy(trial, now)
            present = worth
        if worth > most:
            most = worth
            _copy(trial, best)
    return most
