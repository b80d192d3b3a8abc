"""The night as a graph in whole seconds: nodes with their runs, and the arcs between them.

The bound and the searches put it on grids of ticks (`time_graph`).
"""

from __future__ import annotations

import copy
from functools import cached_property

import numpy as np

from optimizer.packing.bound.arcs import arcs_between
from optimizer.packing.bound.ceiling import ceiling
from optimizer.packing.bound.nodes import nodes_of
from optimizer.packing.bound.progress import Progress
from optimizer.packing.compiled import Bools, Ints
from optimizer.packing.parameters import DEFAULT, BoundParameters
from optimizer.packing.plan import Plan
from optimizer.problem import Problem
from optimizer.problem.transitions import focuses_at_start


class RunGraph:
    """Flat arrays of all runs, ordered by slot, node and frames; instants count from `zero_s`.

    A run option is a node with a number of frames. `option_starts` and `slot_starts` hold the end as well. A
    set of goals of a slot is a number of bits; `bits` is 0 where a goal is not remembered.
    """

    def __init__(self, problem: Problem, parameters: BoundParameters = DEFAULT.bound) -> None:
        """Collect the graph of a problem; only `slots` and `nodes` are there where nothing can be done."""
        self.problem, self.parameters = problem, parameters
        self.slots = [slot for slot in problem.slots if not slot.copy]
        self.nodes = [
            node for position, slot in enumerate(self.slots) for node in nodes_of(problem, position, slot)
        ]
        if not self.nodes:
            return
        self.zero_s = min(node.opens for node in self.nodes)
        self.end_s = max(node.closes for node in self.nodes) - self.zero_s
        self.no_arc_s = self.end_s + 1
        self._set_options()
        self._set_arcs()
        self.binding = self._binding()
        self._set_bits(np.ones(len(problem.tasks), dtype=np.bool_))

    def _set_options(self) -> None:
        nodes, lengths = self.nodes, self.problem.run_lengths
        counts = [len(node.lengths_s) for node in nodes]
        frames = [np.arange(1, count + 1) for count in counts]
        segments = [
            lengths.fewest_segments(node.task, each) for node, each in zip(nodes, frames, strict=True)
        ]
        self.option_node = np.repeat(np.arange(len(nodes)), counts)
        self.option_frames = np.concatenate(frames)
        self.option_segments = np.concatenate(segments)  # at least so many, cut by focus runs
        self.option_s: Ints = np.concatenate([np.array(node.lengths_s, dtype=np.int64) for node in nodes])
        self.option_starts: Ints = np.concatenate([[0], np.cumsum(counts)])
        self.node_slot = np.array([node.slot for node in nodes])
        self.node_task = np.array([node.task.index for node in nodes])
        self.option_slot = self.node_slot[self.option_node]
        self.option_task = self.node_task[self.option_node]
        self.progress = Progress.of(self.problem)
        self.option_shares = self.progress.plain[self.option_task]  # of profits, in plain sums
        self.slot_starts = np.searchsorted(self.node_slot, np.arange(len(self.slots) + 1))
        self.open_s = np.array([node.opens - self.zero_s for node in nodes])
        self.close_s = np.array([node.closes - self.zero_s for node in nodes])
        self.arrive_s = np.array([node.opens_on_arrival - self.zero_s for node in nodes])
        self.node_of = {
            (self.slots[node.slot].index, node.task.index, node.window): number
            for number, node in enumerate(nodes)
        }

    def _set_arcs(self) -> None:
        """From leaving a slot to the first shutter of a node, [slots, nodes]; `no_arc_s` where none leads."""
        nodes = self.nodes
        # `focused_on_arc` is 1 where a focus run must lie on the arc
        self.arcs_s, self.focused_on_arc = arcs_between(self.problem, self.slots, nodes, self.no_arc_s)
        within = [node.within_visit_s for node in nodes]
        self.within_s = np.array([self.no_arc_s if seconds is None else seconds for seconds in within])
        on_change = self.problem.rules.focus_on_filter_change
        # a visit that goes on as the plan begins may do without the focus run of an arrival
        self.focused_at_start = np.array(
            [int(focuses_at_start(self.problem, self.slots[node.slot], node.task)) for node in nodes]
        )
        self.focused_within = np.array([int(on_change and not node.filter_shared) for node in nodes])
        # of each slot, from the end of any run in it to the next run there or elsewhere
        least = self.arcs_s.min(axis=1)
        np.minimum.at(least, self.node_slot, self.within_s)
        self.least_arcs_s: Ints = np.where(least < self.no_arc_s, least, 0)

    def _binding(self) -> Bools:
        """Of each task: whether its cap may bind, which it cannot where the night holds no more frames."""
        fitting = np.zeros(len(self.problem.tasks), dtype=np.int64)
        for node in self.nodes:
            fitting[node.task.index] += (node.closes - node.opens) // node.task.frame_s
        return np.array([task.frames_left for task in self.problem.tasks]) < fitting

    def _set_bits(self, remembered: Bools) -> None:
        """Give bits to goals of each slot: of those that may be remembered [tasks], those of most profit."""
        self.bits = np.zeros(len(self.nodes), dtype=np.int64)
        sets = []
        for first, stop in zip(self.slot_starts[:-1].tolist(), self.slot_starts[1:].tolist(), strict=True):
            tasks = {node.task.index: node.task for node in self.nodes[first:stop]}
            wanted = [task for index, task in tasks.items() if remembered[index]]
            wanted.sort(key=lambda task: -task.profit * task.frames_left)
            kept = wanted[: self.parameters.most_remembered]
            bits = {task.index: 1 << place for place, task in enumerate(kept)}
            self.bits[first:stop] = [bits.get(node.task.index, 0) for node in self.nodes[first:stop]]
            sets.append(1 << len(kept))
        self.sets = np.array(sets)  # how many each slot has

    def remembering(self, tasks: Bools) -> RunGraph:
        """The same night, paths through which remember the runs of these tasks alone, [tasks]."""
        other = copy.copy(self)
        other._set_bits(tasks)
        return other

    @cached_property
    def lean(self) -> RunGraph:
        """The same night, remembering the tasks alone whose cap may bind; itself where all of them may.

        Of the others a second run in a visit wins hardly more than a longer first one.
        """
        lean = self.remembering(self.binding)
        return self if np.array_equal(lean.bits > 0, self.bits > 0) else lean

    @property
    def forgetting(self) -> RunGraph:
        """The same night, paths through which remember nothing: labelling takes some milliseconds."""
        return self.remembering(np.zeros_like(self.binding))

    def runs_of(self, plan: Plan) -> list[tuple[int, int]]:
        """The node and the frames of each run of a plan, in order."""
        runs = [(self.problem.slots[visit.slot], run) for visit in plan for run in visit.runs]
        return [
            (
                self.node_of[slot.index - slot.copy, run.task, slot.shutter[run.task].index(run.span)],
                run.frames,
            )
            for slot, run in runs
        ]

    @cached_property
    def ceiling(self) -> int:
        """The profit that no plan exceeds by sums alone."""
        return ceiling(self.problem)

    @cached_property
    def side(self) -> Ints:
        """Target and pier side of each slot, as one number."""
        names = [(slot.target.name, slot.side or "") for slot in self.slots]
        sides = sorted(set(names))
        return np.array([sides.index(name) for name in names])
