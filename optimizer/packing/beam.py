"""Plans built backwards from the night's end, the best few of each short while kept (beam search).

The priced tables of the relaxation say, for the begin of each run, the most that the night before it can
still give; with what the goals' caps leave at their prices that is a bound on every plan which ends in these
runs, and the beam keeps those of the highest bound (Lowerre 1976; the bound as a guide: Ow & Morton 1988,
Int. J. of Production Research 26, both cited from memory). Caps, visits per side, one run a visit of
each window of a goal and the age of a carried focus are kept here, which the relaxation leaves out.
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.compiled import Floats, Ints, compiled
from optimizer.packing.relaxation import Path, PathRun, Relaxation
from optimizer.problem import VISITS_PER_SIDE

NO_NODE = -1
WORK_OF_CHILD = 20  # in the unit of a pricing's work


def beam_work(grid: Relaxation, width: int) -> float:
    """About what a beam takes, in the unit of a pricing's work."""
    return grid.ticks / grid.block * width * len(grid.pair_ticks) * WORK_OF_CHILD


def beam_paths(grid: Relaxation, prices: Floats, width: int, least: float, most_paths: int) -> list[Path]:
    """Paths that keep the caps, best first; `width` of each block of ticks are kept.

    Only paths whose bound exceeds `least` (in units of worth) are followed.
    """
    problem = grid.problem
    ready = grid.ready_beside(prices)
    caps = np.array([task.frames_left for task in problem.tasks], dtype=np.int64)
    sides = sorted({(slot.target.name, slot.side or "") for slot in grid.slots})
    side_of = np.array([sides.index((slot.target.name, slot.side or "")) for slot in grid.slots])
    every_ticks = grid.ticks if problem.every_s is None else problem.every_s // grid.step_s
    nodes, value = _search(
        ready,
        grid.worths,
        prices,
        grid.pair_ticks,
        grid.pair_frames,
        grid.pair_entry,
        grid.pair_starts,
        grid.slot_starts,
        grid.entry_slot,
        grid.open_ticks,
        grid.close_ticks,
        grid.arrive_ticks,
        grid.ways,
        grid.within,
        grid.ready_starts,
        grid.bits,
        np.array([entry.task.index for entry in grid.entries]),
        np.array([-(-entry.task.download_s // grid.step_s) for entry in grid.entries]),
        side_of,
        len(sides),
        grid.focused_on_way,
        grid.focused_within,
        caps,
        np.random.default_rng(1).integers(1, 2**62, len(caps) + len(grid.entries)),
        _fitting(grid),
        int(every_ticks),
        -(-problem.lengths.focus // grid.step_s),
        width,
        grid.block,
        least,
    )
    done = np.flatnonzero(value > least)
    best = done[np.argsort(-value[done], kind="stable")][:most_paths]
    return [_path(grid, nodes, int(node), float(value[node])) for node in best]


def _fitting(grid: Relaxation) -> Ints:
    """Most frames of each task that fit in before each tick, [tasks, ticks]."""
    ticks = np.arange(grid.ticks + 1)
    found = np.zeros((len(grid.problem.tasks), grid.ticks + 1), dtype=np.int64)
    for number, entry in enumerate(grid.entries):
        lengths = np.array(entry.lengths_s) // grid.step_s
        inside = np.minimum(ticks, grid.close_ticks[number]) - grid.open_ticks[number]
        found[entry.task.index] += np.searchsorted(lengths, inside, side="right")
    return found


def _path(grid: Relaxation, nodes: Ints, node: int, value: float) -> Path:
    """The runs of a node and of those that it was built on, in the order of time."""
    runs = []
    while node != NO_NODE:
        pair, begin, node = (int(part) for part in nodes[node])
        entry = grid.entries[int(grid.pair_entry[pair])]
        frames = int(grid.pair_frames[pair])
        begins_s = grid.zero_s + begin * grid.step_s
        runs.append(PathRun(grid.slots[entry.slot].index, entry.task.index, entry.span, frames, begins_s))
    return Path(value, value, tuple(runs))


@compiled
def _exchange(heap: Ints, place_of: Ints, one: int, other: int) -> None:
    heap[one], heap[other] = heap[other], heap[one]
    place_of[heap[one]], place_of[heap[other]] = one, other


@compiled
def _sink(heap: Ints, place_of: Ints, bound: Floats, top: int, count: int, place: int) -> None:
    """Move a node away from the top of its heap, down to where its bound belongs."""
    at = place - top
    while True:
        child = 2 * at + 1
        if child >= count:
            return
        if child + 1 < count and bound[heap[top + child + 1]] < bound[heap[top + child]]:
            child += 1
        if bound[heap[top + at]] <= bound[heap[top + child]]:
            return
        _exchange(heap, place_of, top + at, top + child)
        at = child


@compiled
def _rise(heap: Ints, place_of: Ints, bound: Floats, top: int, place: int) -> None:
    """Move a node towards the top of its heap, where the least bound is."""
    at = place - top
    while at > 0:
        parent = (at - 1) // 2
        if bound[heap[top + parent]] <= bound[heap[top + at]]:
            return
        _exchange(heap, place_of, top + at, top + parent)
        at = parent


@compiled
def _search(
    ready: Floats,
    worths: Floats,
    prices: Floats,
    pair_ticks: Ints,
    pair_frames: Ints,
    pair_entry: Ints,
    pair_starts: Ints,
    slot_starts: Ints,
    slot_of: Ints,
    open_ticks: Ints,
    close_ticks: Ints,
    arrive_ticks: Ints,
    ways: Ints,
    within: Ints,
    ready_starts: Ints,
    bits: Ints,
    task_of: Ints,
    download_ticks: Ints,
    side_of: Ints,
    sides: int,
    focused_on_way: Ints,
    focused_within: Ints,
    caps: Ints,
    mark: Ints,
    fitting: Ints,
    every_ticks: int,
    focus_ticks: int,
    width: int,
    block: int,
    least: float,
) -> tuple[Ints, Floats]:
    """Nodes as (pair, begin tick, later node), and the worth of those that may be whole plans (else -inf).

    Node numbers are block x width + place in the block's heap, the node of least bound on top.
    """
    ticks, slots = ready.shape[1], len(slot_starts) - 1
    by_tick = worths.shape[1] > 1
    blocks = ticks // block + 1
    size = blocks * width
    nodes = np.full((size, 3), -1, dtype=np.int64)
    worth = np.zeros(size)
    bound = np.full(size, -np.inf)
    covers = np.zeros(size, dtype=np.int64)  # last shutter that still needs a focus run before it
    visited = np.zeros(size, dtype=np.int64)  # goals of the visit that the node begins in, as bits
    remembered = np.zeros(size, dtype=np.int64)  # those of them that the tables remember
    left = np.zeros((size, len(caps)), dtype=np.int16)
    visits = np.zeros((size, sides), dtype=np.int8)
    state = np.zeros(size, dtype=np.int64)  # tells apart nodes with different goals left
    whole = np.full(size, -np.inf)
    held = np.zeros(blocks, dtype=np.int64)
    heap = np.zeros(size, dtype=np.int64)  # by block: nodes, that of least bound on top
    place_of = np.zeros(size, dtype=np.int64)
    full = 0.0
    for task in range(len(caps)):
        full += prices[task] * caps[task]
    for step in range(-1, size):
        # the root is step -1; then all blocks from the night's end on
        if step < 0:
            node = -1
        else:
            at = blocks - 1 - step // width
            place = step % width
            if place >= held[at]:
                continue
            node = at * width + place
        if node >= 0:
            entry_after, begin = pair_entry[nodes[node, 0]], nodes[node, 1]
            if begin >= arrive_ticks[entry_after]:
                whole[node] = worth[node]
            so_far, priced_left = worth[node], 0.0
            for task in range(len(caps)):
                priced_left += prices[task] * left[node, task]
        else:
            begin, entry_after, so_far, priced_left = ticks, -1, 0.0, full
        for number in range(slots + 1):  # another visit before, and last: an earlier run of the same visit
            same = number == slots
            if node < 0:
                if same:
                    continue
                slot, latest = number, ticks - 1
            elif same:
                slot, latest = slot_of[entry_after], begin - within[entry_after]
                if latest < 0 or begin < open_ticks[entry_after]:
                    continue
            else:
                slot, latest = number, begin - ways[number, entry_after]
                if latest < 0 or begin < arrive_ticks[entry_after]:
                    continue
                if visits[node, side_of[slot]] >= VISITS_PER_SIDE:
                    continue
            for entry in range(slot_starts[slot], slot_starts[slot + 1]):
                task = task_of[entry]
                bit = 1 << (entry - slot_starts[slot])
                if same and visited[node] & bit:
                    continue
                spare = caps[task] if node < 0 else left[node, task]
                end = min(latest, close_ticks[entry])
                if node < 0:
                    focused = True
                elif same:
                    focused = focused_within[entry_after] == 1
                else:
                    focused = focused_on_way[slot, entry_after] == 1
                beside = ready_starts[entry] + ((remembered[node] | bits[entry]) if same else bits[entry])
                for pair in range(pair_starts[entry], pair_starts[entry + 1]):
                    frames = pair_frames[pair]
                    if frames > spare:
                        break
                    ends = end
                    starts = ends - pair_ticks[pair]
                    if starts < 0:
                        break
                    cover = ends - download_ticks[entry]
                    if not focused:
                        if covers[node] - starts <= every_ticks:
                            cover = covers[node]
                        else:
                            ends = min(end, latest - focus_ticks)
                            starts = ends - pair_ticks[pair]
                            cover = ends - download_ticks[entry]
                            if starts < 0:
                                break
                    before = ready[beside, starts]
                    if before == -np.inf:
                        break
                    gain = worths[pair, ends] if by_tick else worths[pair, 0]
                    total = so_far + gain
                    most = total + before + priced_left - prices[task] * frames
                    if most <= least:
                        continue
                    into = starts // block
                    count = held[into]
                    top = into * width
                    if count == width and most <= bound[heap[top]]:
                        continue
                    for other_task in range(len(caps)):
                        over = caps[other_task] if node < 0 else left[node, other_task]
                        if other_task == task:
                            over -= frames
                        over -= fitting[other_task, starts]
                        if over > 0:
                            most -= prices[other_task] * over
                    if most <= least or (count == width and most <= bound[heap[top]]):
                        continue
                    mine = mark[len(caps) + entry] + mark[task] * frames
                    if node >= 0:
                        mine += state[node] - mark[len(caps) + entry_after]
                    twin = -1
                    for other in range(top, top + count):
                        if state[other] == mine:
                            twin = other
                            break
                    if twin >= 0:
                        if bound[twin] >= most:
                            continue
                        new = twin
                    elif count < width:
                        new = top + count
                        held[into] = count + 1
                        place_of[new] = new
                        heap[new] = new
                    else:
                        new = heap[top]
                    nodes[new, 0], nodes[new, 1], nodes[new, 2] = pair, starts, node
                    worth[new], bound[new], covers[new], state[new] = total, most, cover, mine
                    if node >= 0:
                        left[new] = left[node]
                        visits[new] = visits[node]
                    else:
                        left[new] = caps.astype(np.int16)
                        visits[new] = 0
                    left[new, task] -= frames
                    if same:
                        visited[new] = visited[node] | bit
                        remembered[new] = remembered[node] | bits[entry]
                    else:
                        visited[new] = bit
                        remembered[new] = bits[entry]
                        visits[new, side_of[slot]] += 1
                    if twin >= 0 or count == width:
                        _sink(heap, place_of, bound, top, held[into], place_of[new])
                    else:
                        _rise(heap, place_of, bound, top, new)
    return nodes, whole
