"""When the runs of a sequence lie at the soonest and the latest, by the second, with focus runs; compiled."""

from __future__ import annotations

from typing import NamedTuple

from optimizer.packing.compiled import Floats, Ints, inner
from optimizer.packing.search.set_loops import Sets


class Quiet(NamedTuple):
    """What the quiet time of a node's target forbids; `far` seconds where it forbids nothing.

    `leave_by`, `focus_by`: [nodes, slots and home]: a slew from there that begins later would end after the
    quiet time began; before a run that begins later the focus run would lie in it.
    """

    is_any: bool  # whether the night has any
    until: Ints  # of each node: when such slews may begin again; 0 where there is no quiet time
    leave_by: Ints
    refocused: Ints  # of each node: when such runs may begin again; 0 the same
    focus_by: Ints


class SequenceNight(NamedTuple):
    """What may stand in a sequence, in seconds from the graph's zero; arrays as in `RunGraph`."""

    option_s: Ints
    option_starts: Ints
    slot: Ints  # of each node
    task: Ints
    opens: Ints
    closes: Ints
    side: Ints  # of each slot: its target's pier side, as a number
    least_open_s: Floats  # of each slot: open shutter that a visit of it needs
    frame_open_s: Floats  # of each node: open shutter of a frame
    # [nodes, slots and home]: from the end of a run there, the soonest begin after it, and 1 where a focus
    # run must lie between the two
    arcs: Ints
    soonest: Ints
    fresh: Ints
    quiet: Quiet
    focused_s: int  # when the focus run ended that serves as the plan begins
    profits: Floats  # [pairs, ticks of `step_s`] by when they end, or [pairs, 1]: at any time
    step_s: int
    caps: Ints
    frame_profit: Floats  # of each task, that of its best frame
    sets: Sets


class Cadence(NamedTuple):
    """How long a focus run serves, and what a run takes with those that fall due in it; arrays by node."""

    every_s: int  # more than a night where no cadence is asked for
    focus_s: int
    pause_s: int  # a focus run inside a run, with its dither
    dither_s: int
    dither_every: int  # frames; 0: never
    frame_s: Ints
    tail_s: Ints
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
    """Nodes in the order of time with their frames; `size` has one number: how many there are."""

    size: Ints
    node: Ints
    frames: Ints


@inner
def _segment_s(cadence: Cadence, node: int, frames: int) -> int:
    """Length of an unbroken segment with its last tail."""
    every = cadence.dither_every
    dithers = (frames - 1) // every if every > 0 else 0
    return int(frames * cadence.frame_s[node] + dithers * cadence.dither_s)


@inner
def aged_run_s(cadence: Cadence, node: int, frames: int, age_s: int) -> tuple[int, int]:
    """Length of a run whose focus run is so old as it begins, and how long before its end the last one ended.

    Each focus run comes as late as it may. -1: the one before the run serves it all.
    """
    left_s = cadence.every_s - age_s + cadence.tail_s[node]
    first = max(0, left_s // cadence.frame_s[node])
    while first > 0 and _segment_s(cadence, node, first) > left_s:
        first -= 1
    if frames <= first:
        return _segment_s(cadence, node, frames), -1
    if first > 0:
        length_s, last = _segment_s(cadence, node, first), first
    else:
        last = min(frames, cadence.first_most[node])
        length_s = cadence.focus_s + _segment_s(cadence, node, last)
    left, dither_s = frames - last, 0
    while left > 0:
        last, dither_s = min(left, max(1, cadence.later_most[node])), cadence.pause_s - cadence.focus_s
        length_s += cadence.pause_s + _segment_s(cadence, node, last)
        left -= last
    return length_s, dither_s + _segment_s(cadence, node, last)


@inner
def may_begin_at(quiet: Quiet, node: int, former: int, second: int) -> bool:
    """Whether the focus run that must lie before such a run of a node, if one must, may lie there."""
    return bool(second >= quiet.refocused[node] or second <= quiet.focus_by[node, former])


@inner
def soonest_begin(night: SequenceNight, node: int, former: int, free: int) -> int:
    """When a run of a node may begin at the soonest after one in the slot `former` that ends at `free`."""
    quiet, leaves = night.quiet, free
    if quiet.leave_by[node, former] < free < quiet.until[node]:
        leaves = quiet.until[node]
    begin = max(night.soonest[node, former], leaves + night.arcs[node, former])
    return int(begin if may_begin_at(quiet, node, former, begin) else quiet.refocused[node])


@inner
def latest_end(night: SequenceNight, node: int, former: int, begin: int) -> int:
    """When a run in the slot `former` must have ended, for one of a node to follow that begins by `begin`."""
    end, quiet = begin - night.arcs[node, former], night.quiet
    return int(end if end >= quiet.until[node] else min(end, quiet.leave_by[node, former]))


@inner
def lay(night: SequenceNight, cadence: Cadence, sequence: Sequence, times: Times) -> bool:
    """Fill the times; whether all runs fit."""
    size, nodes, frames = sequence.size[0], sequence.node, sequence.frames
    slot, arcs, soonest, fresh, closes = night.slot, night.arcs, night.soonest, night.fresh, night.closes
    hushed = night.quiet.is_any
    option_s, option_starts, every_s = night.option_s, night.option_starts, cadence.every_s
    begins, ends, latest, focused = times
    home = arcs.shape[1] - 1
    former, free, focused_at = home, 0, night.focused_s
    for place in range(size):
        node = nodes[place]
        begin = max(soonest[node, former], free + arcs[node, former])
        if hushed:
            begin = soonest_begin(night, node, former, free)
        focused_at = begin if fresh[node, former] else focused_at
        free = begin + option_s[option_starts[node] + frames[place] - 1]
        if free - focused_at > every_s:
            length_s, since_s = aged_run_s(cadence, node, frames[place], begin - focused_at)
            free = begin + length_s
            focused_at = free - since_s if since_s >= 0 else focused_at
        if free > closes[node]:
            return False
        begins[place], ends[place], focused[place], former = begin, free, focused_at, slot[node]
    until = closes[nodes[size - 1]] if size > 0 else 0
    for place in range(size - 1, -1, -1):
        node = nodes[place]
        latest[place] = min(closes[node], until) - (ends[place] - begins[place])
        former = slot[nodes[place - 1]] if place > 0 else home
        if hushed and not may_begin_at(night.quiet, node, former, latest[place]):
            latest[place] = night.quiet.focus_by[node, former]
        until = latest[place] - arcs[node, former]
        if hushed:
            until = latest_end(night, node, former, latest[place])
    return True
