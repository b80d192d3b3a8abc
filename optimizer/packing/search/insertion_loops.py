"""The loops that take runs out of a night and put others in where they fit, compiled.

Each run of a sequence has the soonest second at which it may begin after those before it, and the latest at
which those after it still fit: whether another run fits between two of them takes a few comparisons.
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.compiled import Bools, Ints, compiled, copy_all, greatest, inner
from optimizer.packing.search.insertion_times import Cadence, Night, Sequence, Times, aged_run_s, lay
from optimizer.problem import VISITS_PER_SIDE

MOST_TAKEN = 10  # runs in one stretch
STRETCHES = (0.6, 0.85)  # shares of the tries that take out one stretch, or up to two; the others three
BLINKS = 0.3  # by how much of its gain a run may seem worse, so that ties and near ties fall differently
DEAR = 1.5  # most that a second may cost, as a share of what the night brings on average


@inner
def _may_stand(slot: Ints, task: Ints, side: Ints, entries: Ints, size: int, place: int, entry: int) -> bool:
    """Whether the rules of order let a run of an entry stand before a place.

    The visit that it joins has none of its goal yet, and no target is visited more often than is allowed.
    """
    joins = False
    for towards in (-1, 1):
        other = place - 1 if towards < 0 else place
        while 0 <= other < size and slot[entries[other]] == slot[entry]:
            if task[entries[other]] == task[entry]:
                return False
            joins = True
            other += towards
    if joins:
        return True
    splits = 0 < place < size and slot[entries[place - 1]] == slot[entries[place]]
    mine, theirs = 1, 1
    for other in range(size):
        if other == 0 or slot[entries[other]] != slot[entries[other - 1]]:
            mine += 1 if side[slot[entries[other]]] == side[slot[entry]] else 0
            theirs += 1 if splits and side[slot[entries[other]]] == side[slot[entries[place]]] else 0
    return mine <= VISITS_PER_SIDE and (not splits or theirs <= VISITS_PER_SIDE)


@inner
def _take_out(slot: Ints, sequence: Sequence) -> None:
    """Some stretches of runs, or of whole visits."""
    entries, frames, drawn = sequence.entry, sequence.frames, np.random.random()
    for _ in range(1 if drawn < STRETCHES[0] else 2 if drawn < STRETCHES[1] else 3):
        size = sequence.size[0]
        if size == 0:
            return
        first = int(np.random.random() * size)
        after = min(size, first + 1 + int(np.random.random() ** 2 * MOST_TAKEN))
        if np.random.random() < 0.5:
            while first > 0 and slot[entries[first - 1]] == slot[entries[first]]:
                first -= 1
            while after < size and slot[entries[after]] == slot[entries[after - 1]]:
                after += 1
        for place in range(first, size - after + first):
            entries[place], frames[place] = entries[place + after - first], frames[place + after - first]
        sequence.size[0] = size - after + first


@inner
def _seeming(gain: float) -> float:
    return gain - abs(gain) * BLINKS * np.random.random()


@inner
def _best_run(
    night: Night, cadence: Cadence, sequence: Sequence, times: Times, left: Ints, barred: Bools, dear: float
) -> tuple[float, int, int, int]:
    """The run that seems to add most: by how much, before which place, its entry and frames (0: none)."""
    # names of their own: an array taken out of a tuple costs something at each turn
    slot, task, side, opens, closes = night.slot, night.task, night.side, night.opens, night.closes
    ways, soonest, fresh = night.ways, night.soonest, night.fresh
    profits, step_s, by_tick = night.profits, night.step_s, night.profits.shape[1] > 1
    option_s, option_starts, entries, size = night.option_s, night.option_starts, sequence.entry, sequence.size[0]
    begins, ends, latest, focused = times
    home, carried = ways.shape[1] - 1, cadence.every_s < greatest(closes)
    found = (-np.inf, 0, 0, 0)
    for entry in range(len(slot)):
        start, mine = option_starts[entry], slot[entry]
        most = min(left[task[entry]], option_starts[entry + 1] - start)
        if most <= 0 or barred[entry]:
            continue
        shortest, first, last = option_s[start], opens[entry], closes[entry]
        for place in range(size + 1):
            if place < size and latest[place] < first + shortest:
                continue
            free, former = (ends[place - 1], slot[entries[place - 1]]) if place > 0 else (0, home)
            if free + shortest > last:
                break
            begin, until, after, so_far = (
                max(soonest[entry, former], free + ways[entry, former]),
                last,
                0,
                free,
            )
            if place < size:
                other = entries[place]
                until = min(until, latest[place] - ways[other, mine])
                after, so_far = soonest[other, mine], begins[place]
                if after > latest[place]:
                    continue
            if begin + shortest > until:
                continue
            frames = 1
            while frames < most and begin + option_s[start + frames] <= until:
                frames += 1
            end = begin + option_s[start + frames - 1]
            profit = profits[start + frames - 1, end // step_s if by_tick else 0]
            if place < size:
                end = max(after, end + ways[entries[place], mine])
            gain = _seeming(profit - dear * (end - so_far))
            if gain <= found[0] or not _may_stand(slot, task, side, entries, size, place, entry):
                continue
            if carried and not fresh[entry, former]:
                age_s = begin - focused[place - 1]
                while frames > 0:
                    length_s, _ = aged_run_s(cadence, entry, frames, age_s)
                    if begin + length_s <= until:
                        break
                    frames -= 1
                if frames == 0:
                    continue
            found = (gain, place, entry, frames)
    return found


@inner
def _best_growth(
    night: Night, sequence: Sequence, times: Times, left: Ints, barred: Bools, dear: float
) -> tuple[float, int, int]:
    """The run that seems to add most by more frames: by how much, its place and how many (0: none)."""
    slot, task, closes, ways = night.slot, night.task, night.closes, night.ways
    profits, step_s, by_tick = night.profits, night.step_s, night.profits.shape[1] > 1
    option_s, option_starts, entries, frames = night.option_s, night.option_starts, sequence.entry, sequence.frames
    found, size = (-np.inf, 0, 0), sequence.size[0]
    for place in range(size):
        entry = entries[place]
        now = option_starts[entry] + frames[place] - 1
        most = min(left[task[entry]], option_starts[entry + 1] - now - 1)
        if most <= 0 or barred[entry]:
            continue
        until = closes[entry]
        if place + 1 < size:
            until = min(until, times.latest[place + 1] - ways[entries[place + 1], slot[entry]])
        more, room_s = 0, until - times.ends[place] + option_s[now]
        while more < most and option_s[now + more + 1] <= room_s:
            more += 1
        if more > 0:
            longer_s, end = option_s[now + more] - option_s[now], times.ends[place]
            profit = profits[now + more, (end + longer_s) // step_s if by_tick else 0]
            profit -= profits[now, end // step_s if by_tick else 0]
            gain = _seeming(profit - dear * longer_s)
            if gain > found[0]:
                found = (gain, place, more)
    return found


@inner
def _put_in(
    night: Night, cadence: Cadence, sequence: Sequence, times: Times, left: Ints, barred: Bools, dear: float
) -> None:
    """Put in the run, or the frames of one that is there, that seem to add most, until nothing fits."""
    for entry in range(len(barred)):
        barred[entry] = False
    while sequence.size[0] < len(sequence.entry):
        gain, place, entry, frames = _best_run(night, cadence, sequence, times, left, barred, dear)
        growth, grown, more = _best_growth(night, sequence, times, left, barred, dear)
        if frames == 0 and more == 0:
            return
        if more > 0 and growth > gain:
            place, entry, frames = grown, -1, more
        changed = sequence.entry[place] if entry < 0 else entry
        _change(sequence, place, entry, frames)
        if lay(night, cadence, sequence, times):
            left[night.task[changed]] -= frames
        else:  # it makes more focus runs due than there is time for
            _change_back(sequence, place, entry, frames)
            lay(night, cadence, sequence, times)
            barred[changed] = True


@inner
def _change(sequence: Sequence, place: int, entry: int, count: int) -> None:
    """Put a run before a place, or so many frames more into the one there where the entry is -1."""
    if entry < 0:
        sequence.frames[place] += count
        return
    for other in range(sequence.size[0], place, -1):
        sequence.entry[other], sequence.frames[other] = sequence.entry[other - 1], sequence.frames[other - 1]
    sequence.entry[place], sequence.frames[place] = entry, count
    sequence.size[0] += 1


@inner
def _change_back(sequence: Sequence, place: int, entry: int, count: int) -> None:
    if entry < 0:
        sequence.frames[place] -= count
        return
    sequence.size[0] -= 1
    for other in range(place, sequence.size[0]):
        sequence.entry[other], sequence.frames[other] = sequence.entry[other + 1], sequence.frames[other + 1]


@inner
def _profit(night: Night, sequence: Sequence, times: Times) -> float:
    """What a sequence is worth that is laid at its times."""
    profits, option_starts, found = night.profits, night.option_starts, 0.0
    for place in range(sequence.size[0]):
        pair = option_starts[sequence.entry[place]] + sequence.frames[place] - 1
        found += profits[pair, times.ends[place] // night.step_s if profits.shape[1] > 1 else 0]
    return found


@inner
def _copy(source: Sequence, into: Sequence) -> None:
    into.size[0] = source.size[0]
    for place in range(source.size[0]):
        into.entry[place], into.frames[place] = source.entry[place], source.frames[place]


@compiled
def search(
    night: Night,
    cadence: Cadence,
    now: Sequence,
    trial: Sequence,
    best: Sequence,
    tries: int,
    bear: float,
    seed: int,
    halt: Bools,
) -> float:
    """Take runs out and put others in, so many times; `best` is first the start, then the best one met.

    A trial is gone on from where it is at most a drawn part of the share `bear` below the present one; the
    share falls to nothing (threshold accepting: Dueck & Scheuer 1990, J. of Computational Physics 90).
    Returns by how much the best is better than the start, which is left out where its runs do not fit. `halt`
    [1] ends it early.
    """
    np.random.seed(seed)
    room = np.empty((4, len(best.entry)), dtype=np.int64)
    times = Times(room[0], room[1], room[2], room[3])
    left, barred, task = np.empty_like(night.caps), np.empty(len(night.slot), dtype=np.bool_), night.task
    if not lay(night, cadence, best, times):
        best.size[0] = 0
    _copy(best, now)
    present = _profit(night, now, times)
    first = most = present
    night_s = float(greatest(night.closes))
    for number in range(tries):
        if halt[0]:
            break
        _copy(now, trial)
        _take_out(night.slot, trial)
        if not lay(night, cadence, trial, times):
            continue
        copy_all(night.caps, left)
        for place in range(trial.size[0]):
            left[task[trial.entry[place]]] -= trial.frames[place]
        dear = DEAR * np.random.random() * most / night_s
        _put_in(night, cadence, trial, times, left, barred, dear)
        profit = _profit(night, trial, times)
        if profit >= present - bear * most * (1.0 - number / tries) * np.random.random():
            _copy(trial, now)
            present = profit
        if profit > most:
            most = profit
            _copy(trial, best)
    return most - first
