"""A path of one grid put on another, in a compiled loop."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimizer.packing.bound.columns import ColumnRuns
from optimizer.packing.bound.labelling import Grid
from optimizer.packing.compiled import Ints, compiled, greatest


class Pairs(NamedTuple):
    """What a pair is: [pairs] its entry and frames, [entries] an entry's slot and task."""

    entries: Ints
    frames: Ints
    slots: Ints
    tasks: Ints


@compiled
def move_path(grid: Grid, pairs: Pairs, walk: ColumnRuns, into: Ints) -> int:
    """A path of another grid on this one, each run as early as may be; returns how many runs `into` holds.

    Of each what `trace_path` tells, the first run first. Runs are cut short, or left out, where they must be.
    """
    count, free, slot = 0, 0, -1
    done = np.zeros(greatest(pairs.tasks) + 1, dtype=np.bool_)
    for run in range(len(walk.pairs)):
        entry, frames = pairs.entries[walk.pairs[run]], pairs.frames[walk.pairs[run]]
        arrives = walk.arrives[run] or pairs.slots[entry] != slot or done[pairs.tasks[entry]]
        if arrives:
            begin = max(free + (grid.ways[slot, entry] if count > 0 else 0), grid.arrives[entry])
            for task in range(len(done)):
                done[task] = False
        else:
            way = grid.refocused[entry] if walk.refocused[run] else grid.within[entry]
            begin = max(free + way, grid.opens[entry])
        pair = grid.pair_starts[entry] + frames - 1
        while pair >= grid.pair_starts[entry] and begin + grid.pair_ticks[pair] > grid.closes[entry]:
            pair -= 1
        if pair < grid.pair_starts[entry]:
            continue
        free, slot, done[pairs.tasks[entry]] = begin + grid.pair_ticks[pair], pairs.slots[entry], True
        into[count, 0], into[count, 1], into[count, 2] = pair, begin, arrives
        into[count, 3] = walk.refocused[run] and not arrives
        count += 1
    return count
