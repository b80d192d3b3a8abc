"""The loops of a beam: nodes put before nodes, from the night's end on, compiled."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimizer.packing.compiled import Bools, Floats, Ints, compiled, inner
from optimizer.problem import VISITS_PER_SIDE

NO_NODE = -1


class Night(NamedTuple):
    """What the rules ask, in seconds from the graph's zero; arrays as in `NightGraph`."""

    end_s: int
    pair_s: Ints
    pair_frames: Ints
    pair_entry: Ints
    pair_starts: Ints
    slot_starts: Ints
    entry_slot: Ints
    entry_task: Ints
    open_s: Ints
    close_s: Ints
    arrive_s: Ints
    ways_s: Ints
    within_s: Ints
    bits: Ints
    focused_on_way: Ints
    focused_within: Ints
    download_s: Ints  # of each entry
    side: Ints  # of each slot: its target's side, as a number
    caps: Ints
    every_s: int
    focus_s: int


class Guide(NamedTuple):
    """What the night before a run may still give, on the tables' grid."""

    step_s: int
    ready: Floats
    ready_starts: Ints
    worths: Floats
    prices: Floats
    fitting: Ints  # [tasks, ticks]: most frames of each task before each tick
    allowed: Bools  # of each pair
    best_ends: Ints  # [pairs, ticks]: where the sky decides, the best tick to end at up to each tick


class How(NamedTuple):
    """How wide a beam is built."""

    width: int
    block_s: int
    least: float  # bounds up to this are not followed
    mark: Ints  # of each task and each entry, to tell states apart
    halt: Bools  # [1], ends it early


class Nodes(NamedTuple):
    """Ends of the night, each a run and the node it was put before; by block of seconds a heap.

    Numbers are block x width + place. The heap has the node of least bound on top.
    """

    came: Ints  # pair, second at which it begins, later node
    worth: Floats
    bound: Floats
    covers: Ints  # last shutter that still needs a focus run before it
    visited: Ints  # goals of the visit that the node begins in, as bits
    remembered: Ints  # those of them that the tables remember
    left: Ints  # frames by task
    visits: Ints  # by side
    state: Ints  # tells apart nodes with different goals left
    whole: Floats  # worth where it may be a whole plan, else -inf
    held: Ints  # nodes by block
    heap: Ints
    place_of: Ints


@compiled
def fill_best_ends(
    found: Ints, ready: Floats, worths: Floats, entry: Ints, pair_ticks: Ints, beside: Ints, closes: Ints
) -> None:
    """For each pair and tick, the tick up to it at which the run and the night before are worth most."""
    for pair in range(len(entry)):
        best, at = -np.inf, 0
        for tick in range(found.shape[1]):
            begins = tick - pair_ticks[pair]
            if begins >= 0 and tick <= closes[entry[pair]]:
                value = worths[pair, tick] + ready[beside[entry[pair]], begins]
                if value >= best:
                    best, at = value, tick
            found[pair, tick] = at


@inner
def _exchange(nodes: Nodes, one: int, other: int) -> None:
    heap, place_of = nodes.heap, nodes.place_of
    heap[one], heap[other] = heap[other], heap[one]
    place_of[heap[one]], place_of[heap[other]] = one, other


@inner
def _sink(nodes: Nodes, top: int, count: int, place: int) -> None:
    """Move a node away from the top of its heap, down to where its bound belongs."""
    heap, bound = nodes.heap, nodes.bound
    at = place - top
    while True:
        child = 2 * at + 1
        if child >= count:
            return
        if child + 1 < count and bound[heap[top + child + 1]] < bound[heap[top + child]]:
            child += 1
        if bound[heap[top + at]] <= bound[heap[top + child]]:
            return
        _exchange(nodes, top + at, top + child)
        at = child


@inner
def _rise(nodes: Nodes, top: int, place: int) -> None:
    """Move a node towards the top of its heap, where the least bound is."""
    heap, bound = nodes.heap, nodes.bound
    at = place - top
    while at > 0:
        parent = (at - 1) // 2
        if bound[heap[top + parent]] <= bound[heap[top + at]]:
            return
        _exchange(nodes, top + at, top + parent)
        at = parent


@inner
def _place_for(nodes: Nodes, into: int, width: int, mark: int, most: float) -> tuple[int, bool]:
    """The node to write a new one to, -1 where those there are better, and whether it displaces one."""
    top, count = into * width, nodes.held[into]
    for other in range(top, top + count):
        if nodes.state[other] == mark:
            return (-1, False) if nodes.bound[other] >= most else (other, True)
    if count == width:
        return nodes.heap[top], True
    new = top + count
    nodes.held[into] = count + 1
    nodes.heap[new], nodes.place_of[new] = new, new
    return new, False


@inner
def _over(night: Night, guide: Guide, nodes: Nodes, node: int, task: int, frames: int, tick: int) -> float:
    """Priced frames that no window before a tick can hold any more, once a run has had so many of a task."""
    found = 0.0
    for other in range(len(night.caps)):
        over = night.caps[other] if node < 0 else nodes.left[node, other]
        if other == task:
            over -= frames
        over -= guide.fitting[other, tick]
        if over > 0:
            found += guide.prices[other] * over
    return found


@inner
def _extend(
    night: Night,
    guide: Guide,
    nodes: Nodes,
    how: How,
    node: int,
    slot: int,
    latest_s: int,
    same: bool,
    priced_left: float,
) -> None:
    """Put before a node each run of a slot that may end at a second; `same`: in the visit of the node."""
    by_tick, step_s, width = guide.worths.shape[1] > 1, guide.step_s, how.width
    so_far, entry_after, focused = 0.0, -1, True
    if node >= 0:
        so_far, entry_after = nodes.worth[node], night.pair_entry[nodes.came[node, 0]]
        focused = (
            night.focused_within[entry_after] if same else night.focused_on_way[slot, entry_after]
        ) == 1
    for entry in range(night.slot_starts[slot], night.slot_starts[slot + 1]):
        task = night.entry_task[entry]
        if same and nodes.visited[node] & (1 << (entry - night.slot_starts[slot])):
            continue
        spare = night.caps[task] if node < 0 else nodes.left[node, task]
        beside = guide.ready_starts[entry] + night.bits[entry]
        if same:
            beside = guide.ready_starts[entry] + (nodes.remembered[node] | night.bits[entry])
        latest_end_s = min(latest_s, night.close_s[entry])
        for pair in range(night.pair_starts[entry], night.pair_starts[entry + 1]):
            frames, length_s = night.pair_frames[pair], night.pair_s[pair]
            if frames > spare or latest_end_s < length_s:
                break
            last = pair + 1 == night.pair_starts[entry + 1]
            if not (guide.allowed[pair] or last or frames == spare):
                longer = latest_end_s - night.pair_s[pair + 1]
                fills = longer < night.arrive_s[entry] <= latest_end_s - length_s
                if longer >= night.open_s[entry] and not fills:
                    continue
            for waits in range(2 if by_tick else 1):
                ends = latest_end_s
                if waits:  # under a better sky some time before, what follows is waited for
                    ends = guide.best_ends[pair, latest_end_s // step_s] * step_s
                    if ends >= latest_end_s - step_s:
                        continue
                cover = ends - night.download_s[entry]
                if not focused:
                    if nodes.covers[node] - (ends - length_s) <= night.every_s:
                        cover = nodes.covers[node]
                    else:
                        ends = min(ends, latest_s - night.focus_s)
                        cover = ends - night.download_s[entry]
                starts = ends - length_s
                if starts < 0:
                    continue
                tick, into = starts // step_s, starts // how.block_s
                total = so_far + (guide.worths[pair, ends // step_s] if by_tick else guide.worths[pair, 0])
                most = total + guide.ready[beside, tick] + priced_left - guide.prices[task] * frames
                full, top = nodes.held[into] == width, into * width
                if most <= how.least or (full and most <= nodes.bound[nodes.heap[top]]):
                    continue
                most -= _over(night, guide, nodes, node, task, frames, tick)
                if most <= how.least or (full and most <= nodes.bound[nodes.heap[top]]):
                    continue
                mine = how.mark[len(night.caps) + entry] + how.mark[task] * frames
                if node >= 0:
                    mine += nodes.state[node] - how.mark[len(night.caps) + entry_after]
                new, displaces = _place_for(nodes, into, width, mine, most)
                if new < 0:
                    continue
                nodes.came[new, 0], nodes.came[new, 1], nodes.came[new, 2] = pair, starts, node
                nodes.worth[new], nodes.bound[new] = total, most
                nodes.covers[new], nodes.state[new] = cover, mine
                _count(night, nodes, new, node, entry, frames, same)
                if displaces:
                    _sink(nodes, top, nodes.held[into], nodes.place_of[new])
                else:
                    _rise(nodes, top, new)


@inner
def _count(night: Night, nodes: Nodes, new: int, node: int, entry: int, frames: int, same: bool) -> None:
    """What a new node leaves of the goals and the visits."""
    slot = night.entry_slot[entry]
    # number by number: to copy whole rows takes numba two seconds more to compile
    for task in range(len(night.caps)):
        nodes.left[new, task] = nodes.left[node, task] if node >= 0 else night.caps[task]
    for side in range(nodes.visits.shape[1]):
        nodes.visits[new, side] = nodes.visits[node, side] if node >= 0 else 0
    nodes.left[new, night.entry_task[entry]] -= frames
    nodes.visited[new] = 1 << (entry - night.slot_starts[slot])
    nodes.remembered[new] = night.bits[entry]
    if same:
        nodes.visited[new] |= nodes.visited[node]
        nodes.remembered[new] |= nodes.remembered[node]
    else:
        nodes.visits[new, night.side[slot]] += 1


@compiled
def fill_nodes(night: Night, guide: Guide, nodes: Nodes, how: How) -> None:
    """Fill the nodes: first with last runs of the night, then, block by block, with runs before these."""
    slots = len(night.slot_starts) - 1
    priced = 0.0
    for task in range(len(night.caps)):
        priced += guide.prices[task] * night.caps[task]
    # int() and bool(): else numba compiles _extend once more for each of these constants
    no_node, same, another = int(NO_NODE), bool(1), bool(0)
    for slot in range(slots):
        _extend(night, guide, nodes, how, no_node, slot, night.end_s, another, priced)
    for block in range(len(nodes.held) - 1, -1, -1):
        if how.halt[0]:
            return
        for place in range(nodes.held[block]):
            node = block * how.width + place
            entry, begin_s = night.pair_entry[nodes.came[node, 0]], nodes.came[node, 1]
            priced = 0.0
            for task in range(len(night.caps)):
                priced += guide.prices[task] * nodes.left[node, task]
            arrives = begin_s >= night.arrive_s[entry]
            if arrives:
                nodes.whole[node] = nodes.worth[node]
            for slot in range(slots):
                latest_s = begin_s - night.ways_s[slot, entry]
                if arrives and latest_s >= 0 and nodes.visits[node, night.side[slot]] < VISITS_PER_SIDE:
                    _extend(night, guide, nodes, how, node, slot, latest_s, another, priced)
            latest_s = begin_s - night.within_s[entry]
            if latest_s >= 0 and begin_s >= night.open_s[entry]:
                slot = night.entry_slot[entry]
                _extend(night, guide, nodes, how, node, slot, latest_s, same, priced)
