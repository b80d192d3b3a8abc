"""The runs of a sequence as filter sets see them: what they gather, how many are worth as much; compiled."""

from __future__ import annotations

import numpy as np

from optimizer.packing.compiled import inner
from optimizer.packing.search.sequence_times import Sequence, SequenceNight, Times
from optimizer.packing.search.set_loops import Standing, beyond_level, more_to_level


@inner
def gather(night: SequenceNight, sequence: Sequence, times: Times, standing: Standing) -> None:
    """Add up by task what the runs of a laid sequence bring where they lie."""
    gathered, by_tick = standing.gathered, night.profits.shape[1] > 1
    for task in range(len(gathered)):
        gathered[task] = 0.0
    for place in range(sequence.size[0]):
        node = sequence.node[place]
        pair = night.option_starts[node] + sequence.frames[place] - 1
        tick = times.ends[place] // night.step_s if by_tick else 0
        gathered[night.task[node]] += night.profits[pair, tick]


@inner
def frames_to_level(night: SequenceNight, standing: Standing, node: int, most_steps: int) -> int:
    """How many frames of a node's goal are worth as much each as the first, and one that reaches beyond.

    No fewer than let the whole goal be taken in so many steps.
    """
    profit = night.frame_profit[night.task[node]]
    to_level = min(1e6, more_to_level(night.sets, standing, night.task[node]) / profit)
    return int(1 + max(int(to_level), night.caps[night.task[node]] // most_steps))


@inner
def trim(night: SequenceNight, sequence: Sequence, standing: Standing) -> None:
    """Take frames beyond the slowest half of their sets off about half of the runs that have any."""
    nodes, frames, task, kept = sequence.node, sequence.frames, night.task, 0
    for place in range(sequence.size[0]):
        node, many = nodes[place], frames[place]
        profit, wanted = night.frame_profit[task[node]], night.sets.wanted[task[node]]
        beyond = int(beyond_level(night.sets, standing, task[node]) / profit)
        if beyond > 0 and np.random.random() < 0.5:
            off = min(many, beyond)
            standing.share[task[node]] -= off * profit / wanted
            many -= off
        if many > 0:
            nodes[kept], frames[kept] = node, many
            kept += 1
    sequence.size[0] = kept
