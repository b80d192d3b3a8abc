"""When the runs of a night lie at the soonest and at the latest, by the second, with focus runs; compiled."""

from __future__ import annotations

from typing import NamedTuple

from optimizer.packing.compiled import Floats, Ints, inner


class Night(NamedTuple):
    """What may stand in a sequence, in seconds from the graph's zero; arrays as in `NightGraph`."""

    option_s: Ints
    option_starts: Ints
    slot: Ints  # of each entry
    task: Ints
    opens: Ints
    closes: Ints
    side: Ints  # of each slot: its target's side, as a number
    # [entries, slots and home]: from the end of a run there, the soonest begin after it, and 1 where a focus
    # run must lie between the two
    ways: Ints
    soonest: Ints
    fresh: Ints
    profits: Floats  # [pairs, ticks of `step_s`] by when they end, or [pairs, 1]: at any time
    step_s: int
    caps: Ints


class Cadence(NamedTuple):
    """What a focus run serves; arrays by entry."""

    every_s: int  # more than a night where none is asked for
    focus_s: int
    pause_s: int  # a focus run inside a run, with its dither
    dither_s: int
    dither_every: int  # frames; 0: never
    frame_s: Ints
    download_s: Ints
    first_most: Ints  # frames of a first segment after a fresh focus run
    later_most: Ints


class Times(NamedTuple):
    """Of each run of a sequence, in seconds.

    `begins`, `ends`: at the soonest; `latest`: the latest begin; `focused`: when the focus run ended that
    serves what follows.
    """

    begins: Ints
    ends: Ints
    latest: Ints
    focused: Ints


class Sequence(NamedTuple):
    """Entries in the order of time with their frames; `size` has one number: how many there are."""

    size: Ints
    entry: Ints
    frames: Ints


@inner
def _segment_s(cadence: Cadence, entry: int, frames: int) -> int:
    """An unbroken segment with its last download."""
    every = cadence.dither_every
    dithers = (frames - 1) // every if every > 0 else 0
    return int(frames * cadence.frame_s[entry] + dithers * cadence.dither_s)


@inner
def aged_run_s(cadence: Cadence, entry: int, frames: int, age_s: int) -> tuple[int, int]:
    """Length of a run whose focus run is so old as it begins, and how long before its end the last one ended.

    Each focus run comes as late as it may. -1: the one before the run serves it all.
    """
    left_s = cadence.every_s - age_s + cadence.download_s[entry]
    first = max(0, left_s // cadence.frame_s[entry])
    while first > 0 and _segment_s(cadence, entry, first) > left_s:
        first -= 1
    if frames <= first:
        return _segment_s(cadence, entry, frames), -1
    if first > 0:
        length_s, last = _segment_s(cadence, entry, first), first
    else:
        last = min(frames, cadence.first_most[entry])
        length_s = cadence.focus_s + _segment_s(cadence, entry, last)
    left = frames - last
    while left > 0:
        last = min(left, max(1, cadence.later_most[entry]))
        length_s += cadence.pause_s + _segment_s(cadence, entry, last)
        left -= last
    return length_s, _segment_s(cadence, entry, last)


@inner
def lay(night: Night, cadence: Cadence, sequence: Sequence, times: Times) -> bool:
    """Fill the times; whether all runs fit."""
    size, entries, frames = sequence.size[0], sequence.entry, sequence.frames
    slot, ways, soonest, fresh, closes = night.slot, night.ways, night.soonest, night.fresh, night.closes
    option_s, option_starts, every_s = night.option_s, night.option_starts, cadence.every_s
    begins, ends, latest, focused = times
    home = ways.shape[1] - 1
    former, free, focused_at = home, 0, 0
    for place in range(size):
        entry = entries[place]
        begin = max(soonest[entry, former], free + ways[entry, former])
        focused_at = begin if fresh[entry, former] else focused_at
        free = begin + option_s[option_starts[entry] + frames[place] - 1]
        if free - focused_at > every_s:
            length_s, since_s = aged_run_s(cadence, entry, frames[place], begin - focused_at)
            free = begin + length_s
            focused_at = free - since_s if since_s >= 0 else focused_at
        if free > closes[entry]:
            return False
        begins[place], ends[place], focused[place], former = begin, free, focused_at, slot[entry]
    until = closes[entries[size - 1]] if size > 0 else 0
    for place in range(size - 1, -1, -1):
        entry = entries[place]
        latest[place] = min(closes[entry], until) - (ends[place] - begins[place])
        if place > 0:
            until = latest[place] - ways[entry, slot[entries[place - 1]]]
    return True
