"""Plans built backwards from the night's end, the best few of each short while kept (beam search).

The priced tables of the relaxation say, for the begin of each run, the most that the night before it can
still give; with what the goals' caps leave at their prices that is a bound on every plan which ends in these
runs, and the beam keeps those of the highest bound (Lowerre 1976; the bound as a guide: Ow & Morton 1988,
Int. J. of Production Research 26, both cited from memory). Caps, visits per side, one run a visit of
each window of a goal and the age of a carried focus are kept here, which the relaxation leaves out. Times are
whole seconds: on the tables' grid the rounding of some dozen ways would cost frames.
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.beam_search import NO_NODE, Guide, How, Night, Nodes, fill_best_ends, fill_nodes
from optimizer.packing.compiled import Bools, Floats, Ints
from optimizer.packing.paths import Path, PathRun
from optimizer.packing.relaxation import Relaxation

WORK_OF_CHILD = 20  # in the unit of a pricing's work


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
    halt: Bools,
    allowed: Bools | None = None,
) -> list[Path]:
    """Paths that keep the caps, best first; `width` are kept for each length of the shortest run.

    Only paths whose bound exceeds `least` (in units of worth) are followed; `halt` [1] ends it early. Where
    `allowed` [pairs] is false, a run may be so long only if it is all that is left of its goal or fills its
    window (from its arrival).
    """
    night = _night(grid)
    ready = grid.ready_beside(prices)
    guide = Guide(
        grid.step_s,
        ready,
        grid.graph.ready_starts,
        grid.worths,
        prices,
        grid.fitting,
        np.ones(len(grid.graph.pair_s), dtype=np.bool_) if allowed is None else allowed,
        _best_ends(grid, ready),
    )
    tasks, entries = len(night.caps), len(night.open_s)
    # so that sums of frames by task tell states apart; any numbers would do, these are always the same
    mark = np.random.default_rng(1).integers(1, 2**62, tasks + entries)
    nodes = _no_nodes(night, width, int(night.pair_s.min()))
    fill_nodes(night, guide, nodes, How(width, int(night.pair_s.min()), least, mark, halt))
    done = np.flatnonzero(nodes.whole > least)
    best = done[np.argsort(-nodes.whole[done], kind="stable")][:most_paths]
    return [_path(grid, nodes.came, int(node), float(nodes.whole[node])) for node in best]


def _night(grid: Relaxation) -> Night:
    graph, problem = grid.graph, grid.problem
    return Night(
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
        side=graph.side,
        caps=np.array([task.frames_left for task in problem.tasks], dtype=np.int64),
        every_s=graph.end_s if problem.every_s is None else problem.every_s,
        focus_s=problem.lengths.focus,
    )


def _best_ends(grid: Relaxation, ready: Floats) -> Ints:
    """The tick up to each tick at which a run and the night before it are worth most, [pairs, ticks]."""
    if not grid.problem.by_depth:
        return np.zeros((1, 1), dtype=np.int64)
    graph = grid.graph
    found = np.zeros((len(graph.pair_s), grid.ticks), dtype=np.int64)
    fill_best_ends(
        found,
        ready,
        grid.worths,
        graph.pair_entry,
        grid.pair_ticks,
        graph.ready_starts + graph.bits,
        grid.close_ticks,
    )
    return found


def _no_nodes(night: Night, width: int, block_s: int) -> Nodes:
    blocks = night.end_s // block_s + 1
    size = blocks * width
    return Nodes(
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
