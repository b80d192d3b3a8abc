"""Plans built backwards from the night's end, the best few of each short while kept (beam search).

The priced tables of the relaxation say, for the begin of each run, the most that the night before it can
still give; with what the goals' caps leave at their prices that is a bound on every plan which ends in these
runs, and the beam keeps those of the highest bound (Lowerre 1976; the bound as a guide: Ow & Morton 1988,
Int. J. of Production Research 26, both cited from memory). Caps, visits per side, one run a visit of
each window of a goal and the age of a carried focus are kept here, which the relaxation leaves out. Times are
whole seconds: on the tables' grid the rounding of some dozen ways would cost frames.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimizer.packing.compiled import Bools, Floats, Ints, compiled
from optimizer.packing.relaxation import Path, PathRun, Relaxation
from optimizer.problem import VISITS_PER_SIDE

NO_NODE = -1
WORK_OF_CHILD = 20  # in the unit of a pricing's work


class _Night(NamedTuple):
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


class _Guide(NamedTuple):
    """What the night before a run may still give, on the tables' grid."""

    step_s: int
    ready: Floats
    ready_starts: Ints
    worths: Floats
    prices: Floats
    fitting: Ints  # [tasks, ticks]: most frames of each task before each tick
    allowed: Bools  # of each pair
    best_ends: Ints  # [pairs, ticks]: where the sky decides, the best tick to end at up to each tick


class _How(NamedTuple):
    """How wide a beam is built."""

    width: int
    block_s: int
    least: float  # bounds up to this are not followed
    mark: Ints  # of each task and each entry, to tell states apart


class _Nodes(NamedTuple):
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


def beam_work(grid: Relaxation, width: int) -> float:
    """About what a beam takes, in the unit of a pricing's work."""
    graph = grid.graph
    return graph.end_s / int(graph.pair_s.min()) * width * len(graph.pair_s) * WORK_OF_CHILD


def beam_paths(
    grid: Relaxation,
    prices: Floats,
    width: int,
    least: float,
    most_paths: int,
    allowed: Bools | None = None,
) -> list[Path]:
    """Paths that keep the caps, best first; `width` are kept for each length of the shortest run.

    Only paths whose bound exceeds `least` (in units of worth) are followed. Where `allowed` [pairs] is false,
    a run may be so long only if it is all that is left of its goal or fills its window.
    """
    night = _night(grid)
    ready = grid.ready_beside(prices)
    guide = _Guide(
        grid.step_s,
        ready,
        grid.graph.ready_starts,
        grid.worths,
        prices,
        _fitting(grid),
        np.ones(len(grid.graph.pair_s), dtype=np.bool_) if allowed is None else allowed,
        _best_ends(grid, ready),
    )
    tasks, entries = len(night.caps), len(night.open_s)
    # so that sums of frames by task tell states apart; any numbers would do, these are always the same
    mark = np.random.default_rng(1).integers(1, 2**62, tasks + entries)
    nodes = _no_nodes(night, width, int(night.pair_s.min()))
    _search(night, guide, nodes, _How(width, int(night.pair_s.min()), least, mark))
    done = np.flatnonzero(nodes.whole > least)
    best = done[np.argsort(-nodes.whole[done], kind="stable")][:most_paths]
    return [_path(grid, nodes.came, int(node), float(nodes.whole[node])) for node in best]


def _night(grid: Relaxation) -> _Night:
    graph, problem = grid.graph, grid.problem
    names = [(slot.target.name, slot.side or "") for slot in graph.slots]
    sides = sorted(set(names))
    return _Night(
        end_s=graph.end_s,
        pair_s=graph.pair_s,
        pair_frames=graph.pair_frames,
        pair_entry=graph.pair_entry,
        pair_starts=graph.pair_starts,
        slot_starts=graph.slot_starts,
        entry_slot=graph.entry_slot,
        entry_task=graph.entry_task,
        open_s=graph.open_s,
        close_s=graph.close_s,
        arrive_s=graph.arrive_s,
        ways_s=graph.ways_s,
        within_s=graph.within_s,
        bits=graph.bits,
        focused_on_way=graph.focused_on_way,
        focused_within=graph.focused_within,
        download_s=np.array([entry.task.download_s for entry in graph.entries]),
        side=np.array([sides.index(name) for name in names]),
        caps=np.array([task.frames_left for task in problem.tasks], dtype=np.int64),
        every_s=graph.end_s if problem.every_s is None else problem.every_s,
        focus_s=problem.lengths.focus,
    )


def _fitting(grid: Relaxation) -> Ints:
    """Most frames of each task that fit in before each tick, [tasks, ticks]."""
    ticks = np.arange(grid.ticks + 1)
    found = np.zeros((len(grid.problem.tasks), grid.ticks + 1), dtype=np.int64)
    for number, entry in enumerate(grid.entries):
        lengths = np.array(entry.lengths_s) // grid.step_s
        inside = np.minimum(ticks, grid.close_ticks[number]) - grid.open_ticks[number]
        found[entry.task.index] += np.searchsorted(lengths, inside, side="right")
    return found


def _best_ends(grid: Relaxation, ready: Floats) -> Ints:
    """The tick up to each tick at which a run and the night before it are worth most, [pairs, ticks]."""
    if not grid.problem.by_depth:
        return np.zeros((1, 1), dtype=np.int64)
    graph = grid.graph
    found = np.zeros((len(graph.pair_s), grid.ticks), dtype=np.int64)
    _fill_best_ends(
        found,
        ready,
        grid.worths,
        graph.pair_entry,
        grid.pair_ticks,
        graph.ready_starts + graph.bits,
        grid.close_ticks,
    )
    return found


def _no_nodes(night: _Night, width: int, block_s: int) -> _Nodes:
    blocks = night.end_s // block_s + 1
    size = blocks * width
    return _Nodes(
        came=np.full((size, 3), NO_NODE, dtype=np.int64),
        worth=np.zeros(size),
        bound=np.full(size, -np.inf),
        covers=np.zeros(size, dtype=np.int64),
        visited=np.zeros(size, dtype=np.int64),
        remembered=np.zeros(size, dtype=np.int64),
        left=np.zeros((size, len(night.caps)), dtype=np.int64),
        visits=np.zeros((size, int(night.side.max()) + 1), dtype=np.int64),
        state=np.zeros(size, dtype=np.int64),
        whole=np.full(size, -np.inf),
        held=np.zeros(blocks, dtype=np.int64),
        heap=np.zeros(size, dtype=np.int64),
        place_of=np.zeros(size, dtype=np.int64),
    )


def _path(grid: Relaxation, came: Ints, node: int, value: float) -> Path:
    """The runs of a node and of those that it was built on, in the order of time."""
    graph, runs = grid.graph, []
    while node != NO_NODE:
        pair, begin_s, node = (int(part) for part in came[node])
        entry = graph.entries[int(graph.pair_entry[pair])]
        slot, frames = graph.slots[entry.slot].index, int(graph.pair_frames[pair])
        runs.append(PathRun(slot, entry.task.index, entry.span, frames, graph.zero_s + begin_s))
    return Path(value, value, tuple(runs))


@compiled
def _fill_best_ends(
    found: Ints, ready: Floats, worths: Floats, entry: Ints, pair_ticks: Ints, beside: Ints, closes: Ints
) -> None:
    for pair in range(len(entry)):
        best, at = -np.inf, 0
        for tick in range(found.shape[1]):
            begins = tick - pair_ticks[pair]
            if begins >= 0 and tick <= closes[entry[pair]]:
                value = worths[pair, tick] + ready[beside[entry[pair]], begins]
                if value >= best:
                    best, at = value, tick
            found[pair, tick] = at


@compiled
def _exchange(nodes: _Nodes, one: int, other: int) -> None:
    heap, place_of = nodes.heap, nodes.place_of
    heap[one], heap[other] = heap[other], heap[one]
    place_of[heap[one]], place_of[heap[other]] = one, other


@compiled
def _sink(nodes: _Nodes, top: int, count: int, place: int) -> None:
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


@compiled
def _rise(nodes: _Nodes, top: int, place: int) -> None:
    """Move a node towards the top of its heap, where the least bound is."""
    heap, bound = nodes.heap, nodes.bound
    at = place - top
    while at > 0:
        parent = (at - 1) // 2
        if bound[heap[top + parent]] <= bound[heap[top + at]]:
            return
        _exchange(nodes, top + at, top + parent)
        at = parent


@compiled
def _place_for(nodes: _Nodes, into: int, width: int, mark: int, most: float) -> tuple[int, bool]:
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


@compiled
def _over(night: _Night, guide: _Guide, nodes: _Nodes, node: int, task: int, frames: int, tick: int) -> float:
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


@compiled
def _extend(
    night: _Night,
    guide: _Guide,
    nodes: _Nodes,
    how: _How,
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
            if not guide.allowed[pair] and frames != spare:
                last = pair + 1 == night.pair_starts[entry + 1]
                if not last and latest_end_s - night.pair_s[pair + 1] >= night.open_s[entry]:
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


@compiled
def _count(night: _Night, nodes: _Nodes, new: int, node: int, entry: int, frames: int, same: bool) -> None:
    """What a new node leaves of the goals and the visits."""
    slot = night.entry_slot[entry]
    if node >= 0:
        nodes.left[new] = nodes.left[node]
        nodes.visits[new] = nodes.visits[node]
    else:
        nodes.left[new] = night.caps
        nodes.visits[new] = 0
    nodes.left[new, night.entry_task[entry]] -= frames
    nodes.visited[new] = 1 << (entry - night.slot_starts[slot])
    nodes.remembered[new] = night.bits[entry]
    if same:
        nodes.visited[new] |= nodes.visited[node]
        nodes.remembered[new] |= nodes.remembered[node]
    else:
        nodes.visits[new, night.side[slot]] += 1


@compiled
def _search(night: _Night, guide: _Guide, nodes: _Nodes, how: _How) -> None:
    """Fill the nodes: first with last runs of the night, then, block by block, with runs before these."""
    slots = len(night.slot_starts) - 1
    priced = 0.0
    for task in range(len(night.caps)):
        priced += guide.prices[task] * night.caps[task]
    for slot in range(slots):
        _extend(night, guide, nodes, how, -1, slot, night.end_s, False, priced)
    for block in range(len(nodes.held) - 1, -1, -1):
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
                    _extend(night, guide, nodes, how, node, slot, latest_s, False, priced)
            latest_s = begin_s - night.within_s[entry]
            if latest_s >= 0 and begin_s >= night.open_s[entry]:
                slot = night.entry_slot[entry]
                _extend(night, guide, nodes, how, node, slot, latest_s, True, priced)
