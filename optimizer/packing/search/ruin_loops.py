"""The compiled loops of ruin and recreate: runs are taken out of a sequence, others put in where they fit.

Each run of a sequence has the soonest second at which it may begin after those before it, and the latest at
which those after it still fit: whether another run fits between two of them takes a few comparisons.
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.compiled import Bools, Ints, compiled, copy_all, greatest, inner
from optimizer.packing.parameters import RuinTuning
from optimizer.packing.search.sequence_times import (
    Cadence,
    Sequence,
    SequenceNight,
    Times,
    aged_run_s,
    latest_end,
    lay,
    soonest_begin,
)
from optimizer.packing.search.set_loops import Standing, stand, worth, worth_of_more
from optimizer.packing.search.set_runs import frames_to_level, gather, trim
from optimizer.problem import VISITS_PER_SIDE


@inner
def _may_stand(slot: Ints, task: Ints, side: Ints, nodes: Ints, size: int, place: int, node: int) -> bool:
    """Whether the rules of order let a run of a node stand before a place.

    The visit that it joins has none of its goal yet, and no target is visited more often than is allowed.
    """
    joins = False
    for towards in (-1, 1):
        other = place - 1 if towards < 0 else place
        while 0 <= other < size and slot[nodes[other]] == slot[node]:
            if task[nodes[other]] == task[node]:
                return False
            joins = True
            other += towards
    if joins:
        return True
    splits = 0 < place < size and slot[nodes[place - 1]] == slot[nodes[place]]
    mine, theirs = 1, 1
    for other in range(size):
        if other == 0 or slot[nodes[other]] != slot[nodes[other - 1]]:
            mine += 1 if side[slot[nodes[other]]] == side[slot[node]] else 0
            theirs += 1 if splits and side[slot[nodes[other]]] == side[slot[nodes[place]]] else 0
    return mine <= VISITS_PER_SIDE and (not splits or theirs <= VISITS_PER_SIDE)


@inner
def _ruin(slot: Ints, sequence: Sequence, tuning: RuinTuning) -> None:
    """Take out some strings of runs, or of whole visits."""
    nodes, frames, drawn = sequence.node, sequence.frames, np.random.random()
    for _ in range(1 if drawn < tuning.one_string else 2 if drawn < tuning.two_strings else 3):
        size = sequence.size[0]
        if size == 0:
            return
        first = int(np.random.random() * size)
        after = min(size, first + 1 + int(np.random.random() ** 2 * tuning.longest_string))
        if np.random.random() < tuning.whole_visits:
            while first > 0 and slot[nodes[first - 1]] == slot[nodes[first]]:
                first -= 1
            while after < size and slot[nodes[after]] == slot[nodes[after - 1]]:
                after += 1
        for place in range(first, size - after + first):
            nodes[place], frames[place] = nodes[place + after - first], frames[place + after - first]
        sequence.size[0] = size - after + first


@inner
def _blinked(gain: float, blink_rate: float) -> float:
    """The gain, made to seem up to `blink_rate` of it worse, so that near ties fall differently each time."""
    return gain - abs(gain) * blink_rate * np.random.random()


@inner
def _best_run(
    night: SequenceNight,
    cadence: Cadence,
    sequence: Sequence,
    times: Times,
    standing: Standing,
    left: Ints,
    tabu: Bools,
    time_price: float,
    blink_rate: float,
    level_steps: int,
    part: float,
) -> tuple[float, int, int, int]:
    """The run that seems to add most: by how much, before which place, its node and frames (0: none fits)."""
    # names of their own: an array taken out of a tuple costs something at each turn
    slot, task, side, opens, closes = night.slot, night.task, night.side, night.opens, night.closes
    arcs, soonest, fresh = night.arcs, night.soonest, night.fresh
    hushed = night.quiet.is_any
    profits, step_s, by_tick = night.profits, night.step_s, night.profits.shape[1] > 1
    option_s, option_starts, nodes, size = (
        night.option_s,
        night.option_starts,
        sequence.node,
        sequence.size[0],
    )
    begins, ends, latest, focused = times
    sets, of_set = night.sets, night.sets.of_task
    home, carried = arcs.shape[1] - 1, cadence.every_s < greatest(closes) - min(0, night.focused_s)
    best = (-np.inf, 0, 0, 0)
    for node in range(len(slot)):
        start, mine = option_starts[node], slot[node]
        most = min(left[task[node]], option_starts[node + 1] - start)
        if most <= 0 or tabu[node]:
            continue
        if level_steps > 0:
            most = min(most, frames_to_level(night, standing, node, level_steps))
        most = max(1, int(part * most))
        shortest, first, last = option_s[start], opens[node], closes[node]
        for place in range(size + 1):
            if place < size and latest[place] < first + shortest:
                continue
            free, former = (ends[place - 1], slot[nodes[place - 1]]) if place > 0 else (0, home)
            if free + shortest > last:
                break
            begin, until, after, so_far = max(soonest[node, former], free + arcs[node, former]), last, 0, free
            if place < size:
                other = nodes[place]
                until = min(until, latest[place] - arcs[other, mine])
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
            if of_set[task[node]] >= 0:
                profit = worth_of_more(sets, standing, task[node], profit)
            if place < size:
                end = max(after, end + arcs[nodes[place], mine])
            gain = _blinked(profit - time_price * (end - so_far), blink_rate)
            if gain <= best[0] or not _may_stand(slot, task, side, nodes, size, place, node):
                continue
            if hushed:
                soonest_s, begin = begin, soonest_begin(night, node, former, free)
                if place < size:
                    until = min(until, latest_end(night, nodes[place], mine, latest[place]))
                gain -= time_price * (begin - soonest_s)
                if begin + shortest > until or gain <= best[0]:
                    continue
                while begin + option_s[start + frames - 1] > until:
                    frames -= 1
            if carried and not fresh[node, former]:
                age_s = begin - (focused[place - 1] if place > 0 else night.focused_s)
                while frames > 0:
                    length_s, _ = aged_run_s(cadence, node, frames, age_s)
                    if begin + length_s <= until:
                        break
                    frames -= 1
                if frames == 0:
                    continue
            best = (gain, place, node, frames)
    return best


@inner
def _best_growth(
    night: SequenceNight,
    sequence: Sequence,
    times: Times,
    standing: Standing,
    left: Ints,
    tabu: Bools,
    time_price: float,
    blink_rate: float,
    level_steps: int,
) -> tuple[float, int, int]:
    """The run that seems to add most by more frames: by how much, its place and how many (0: none grows)."""
    slot, task, closes, arcs = night.slot, night.task, night.closes, night.arcs
    profits, step_s, by_tick = night.profits, night.step_s, night.profits.shape[1] > 1
    option_s, option_starts, nodes, frames = (
        night.option_s,
        night.option_starts,
        sequence.node,
        sequence.frames,
    )
    best, size, hushed = (-np.inf, 0, 0), sequence.size[0], night.quiet.is_any
    for place in range(size):
        node = nodes[place]
        now = option_starts[node] + frames[place] - 1
        most = min(left[task[node]], option_starts[node + 1] - now - 1)
        if most <= 0 or tabu[node]:
            continue
        if level_steps > 0:
            most = min(most, frames_to_level(night, standing, node, level_steps))
        until = closes[node]
        if place + 1 < size:
            if hushed:
                until = min(until, latest_end(night, nodes[place + 1], slot[node], times.latest[place + 1]))
            else:
                until = min(until, times.latest[place + 1] - arcs[nodes[place + 1], slot[node]])
        more, room_s = 0, until - times.ends[place] + option_s[now]
        while more < most and option_s[now + more + 1] <= room_s:
            more += 1
        if more > 0:
            longer_s, end = option_s[now + more] - option_s[now], times.ends[place]
            profit = profits[now + more, (end + longer_s) // step_s if by_tick else 0]
            profit -= profits[now, end // step_s if by_tick else 0]
            profit = worth_of_more(night.sets, standing, task[node], profit)
            gain = _blinked(profit - time_price * longer_s, blink_rate)
            if gain > best[0]:
                best = (gain, place, more)
    return best


@inner
def _recreate(
    night: SequenceNight,
    cadence: Cadence,
    sequence: Sequence,
    times: Times,
    standing: Standing,
    left: Ints,
    tabu: Bools,
    time_price: float,
    blink_rate: float,
    level_steps: int,
    part: float,
) -> None:
    """Put in the run, or the frames of one that is there, that seem to add most, until nothing fits."""
    for node in range(len(tabu)):
        tabu[node] = False
    balanced = len(night.sets.half) > 0
    while sequence.size[0] < len(sequence.node):
        if balanced:
            gather(night, sequence, times, standing)
            stand(night.sets, standing)
        gain, place, node, frames = _best_run(
            night, cadence, sequence, times, standing, left, tabu, time_price, blink_rate, level_steps, part
        )
        part = 1.0
        growth, grown, more = _best_growth(
            night, sequence, times, standing, left, tabu, time_price, blink_rate, level_steps
        )
        if frames == 0 and more == 0:
            return
        if more > 0 and growth > gain:
            place, node, frames = grown, -1, more
        changed = sequence.node[place] if node < 0 else node
        _change(sequence, place, node, frames)
        if lay(night, cadence, sequence, times):
            left[night.task[changed]] -= frames
        else:  # it makes more focus runs due than there is time for
            _change_back(sequence, place, node, frames)
            lay(night, cadence, sequence, times)
            tabu[changed] = True


@inner
def _change(sequence: Sequence, place: int, node: int, count: int) -> None:
    """Put a run before a place, or so many frames more into the one there where the node is -1."""
    if node < 0:
        sequence.frames[place] += count
        return
    for other in range(sequence.size[0], place, -1):
        sequence.node[other], sequence.frames[other] = sequence.node[other - 1], sequence.frames[other - 1]
    sequence.node[place], sequence.frames[place] = node, count
    sequence.size[0] += 1


@inner
def _change_back(sequence: Sequence, place: int, node: int, count: int) -> None:
    """Undo that change."""
    if node < 0:
        sequence.frames[place] -= count
        return
    sequence.size[0] -= 1
    for other in range(place, sequence.size[0]):
        sequence.node[other], sequence.frames[other] = sequence.node[other + 1], sequence.frames[other + 1]


@inner
def _drop_short_visits(night: SequenceNight, sequence: Sequence) -> bool:
    """Take out the visits whose shutter would not be open for as long as they need; whether there are any."""
    nodes, frames, slot, kept, first = sequence.node, sequence.frames, night.slot, 0, 0
    while first < sequence.size[0]:
        after, open_s = first, 0.0
        while after < sequence.size[0] and slot[nodes[after]] == slot[nodes[first]]:
            open_s += frames[after] * night.frame_open_s[nodes[after]]
            after += 1
        if open_s >= night.least_open_s[slot[nodes[first]]]:
            for place in range(first, after):
                nodes[kept], frames[kept] = nodes[place], frames[place]
                kept += 1
        first = after
    dropped = kept < sequence.size[0]
    sequence.size[0] = kept
    return bool(dropped)


@inner
def _profit(
    night: SequenceNight, sequence: Sequence, times: Times, standing: Standing, waited: Ints
) -> float:
    """Worth of a laid sequence, each run put off to where the sky is best for it; `waited`: its begin then.

    From the last run to the first, none later than the next one allows.
    """
    profits, option_starts, nodes, step_s = night.profits, night.option_starts, sequence.node, night.step_s
    total, until, gathered = 0.0, greatest(night.closes), standing.gathered
    for number in range(len(gathered)):
        gathered[number] = 0.0
    for place in range(sequence.size[0] - 1, -1, -1):
        node = nodes[place]
        pair = option_starts[node] + sequence.frames[place] - 1
        begin, end = times.begins[place], times.ends[place]
        if profits.shape[1] == 1:
            total, waited[place] = total + profits[pair, 0], begin
            gathered[night.task[node]] += profits[pair, 0]
            continue
        former = night.slot[nodes[place - 1]] if place > 0 else night.arcs.shape[1] - 1
        loud_by, loud_from = night.quiet.focus_by[node, former], night.quiet.refocused[node]
        best, chosen = profits[pair, end // step_s], begin
        for tick in range(end // step_s + 1, min(until, night.closes[node]) // step_s + 1):
            if profits[pair, tick] >= best:  # the latest of equal ones: those before it have more room
                then = begin + tick * step_s - end
                if then <= loud_by or then >= loud_from:
                    best, chosen = profits[pair, tick], then
        total, waited[place] = total + best, chosen
        gathered[night.task[node]] += best
        if place > 0:
            until = latest_end(night, node, former, chosen)
    return total if len(night.sets.half) == 0 else worth(night.sets, standing)


@inner
def _copy(source: Sequence, into: Sequence) -> None:
    """Make one sequence like the other."""
    into.size[0] = source.size[0]
    for place in range(source.size[0]):
        into.node[place], into.frames[place] = source.node[place], source.frames[place]


@compiled
def ruin_and_recreate(
    night: SequenceNight,
    cadence: Cadence,
    tuning: RuinTuning,
    best: Sequence,
    waited: Ints,
    tries: int,
    threshold: float,
    seed: int,
    halt: Bools,
) -> float:
    """Ruin and recreate a sequence so many times; `best` is first the start, then the best one met.

    A trial is accepted where its profit is at most a drawn part of the share `threshold` below the present
    one; the share falls to nothing (threshold accepting: Dueck & Scheuer 1990, J. of Computational Physics
    90). Returns by how much the best is better than the start, which is left out where its runs do not fit;
    `waited`: when each run of the best begins. `halt` [1] ends it early.
    """
    np.random.seed(seed)
    room, sizes = np.zeros((8, len(best.node)), dtype=np.int64), np.zeros(2, dtype=np.int64)
    times = Times(room[4], room[5], room[6], room[7])
    now = Sequence(sizes[:1], room[0], room[1])
    trial = Sequence(sizes[1:], room[2], room[3])
    left, tabu, task = np.empty_like(night.caps), np.empty(len(night.slot), dtype=np.bool_), night.task
    of_tasks, balanced = np.zeros((2, len(night.caps))), len(night.sets.half) > 0
    standing = Standing(of_tasks[0], of_tasks[1], night.sets.members.copy())
    if not lay(night, cadence, best, times):
        best.size[0] = 0
    _copy(best, now)
    present = _profit(night, now, times, standing, waited)
    first = most = present
    night_s = float(greatest(night.closes))
    for number in range(tries):
        if halt[0]:
            break
        _copy(now, trial)
        _ruin(night.slot, trial, tuning)
        if not lay(night, cadence, trial, times):
            continue
        to_level = balanced and np.random.random() < tuning.to_level
        level_steps = tuning.level_steps if to_level else 0
        if balanced and np.random.random() < tuning.trims:
            gather(night, trial, times, standing)
            stand(night.sets, standing)
            trim(night, trial, standing)
            if not lay(night, cadence, trial, times):
                continue
        copy_all(night.caps, left)
        for place in range(trial.size[0]):
            left[task[trial.node[place]]] -= trial.frames[place]
        time_price = tuning.time_price * np.random.random() * most / night_s
        blinks = tuning.blink_rate
        part = np.random.random() if np.random.random() < tuning.begins_short else 1.0
        _recreate(night, cadence, trial, times, standing, left, tabu, time_price, blinks, level_steps, part)
        if _drop_short_visits(night, trial) and not lay(night, cadence, trial, times):
            continue
        profit = _profit(night, trial, times, standing, waited)
        if profit >= present - threshold * most * (1.0 - number / tries) * np.random.random():
            _copy(trial, now)
            present = profit
        if profit > most:
            most = profit
            _copy(trial, best)
    lay(night, cadence, best, times)
    _profit(night, best, times, standing, waited)
    return most - first
