"""Plans from others, by the second: runs are taken out of a night and others put in where they fit.

Slack induction by string removals (Christiaens & Vanden Berghe 2020, Transportation Science 54): what is
taken out lies side by side, and what is put in is chosen greedily, with blinks. Cited from memory. A try
takes some hundredths of a millisecond on a usual night. Runs lie as soon as may be: where the sky decides, a
grid must say afterwards when each is best (`reorder`).
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.bound.nodes import Node
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.budget import Budget
from optimizer.packing.compiled import Ints
from optimizer.packing.plan import Plan, draft
from optimizer.packing.search.construct import better_of, following
from optimizer.packing.search.insertion_loops import search
from optimizer.packing.search.insertion_times import Cadence, Night, Sequence
from optimizer.packing.search.reorder import Reorder
from optimizer.problem import Problem

WORK_OF_TRY = 25.0  # for each entry and each run of the plan, in the unit of a budget's work
PLAN_WORK = 1e7  # of following a draft, in the same unit
THRESHOLDS = (
    0.003,
    0.01,
    0.02,
)  # shares of the profit that a try may lose at first and still be gone on from
MORE_RUNS = 150  # that there is room for beside those of the start


class RuinAndRecreate:
    """One night, ready for searches side by side."""

    def __init__(self, grid: TimeExpandedGraph, timing: Reorder | None = None) -> None:
        """Profits are looked up on a grid; all else is by the second.

        `timing` says where the sky decides when the runs of a plan are best.
        """
        self.timing = timing
        self.graph = graph = grid.graph
        self.problem = problem = graph.problem
        far_s = 4 * graph.end_s  # more than any night
        arrives = np.maximum(graph.open_s, graph.arrive_s)
        home = np.zeros((len(arrives), 1), dtype=np.int64)
        ways = np.hstack([np.where(graph.arcs_s < graph.no_arc_s, graph.arcs_s, far_s).T, home])
        soonest = np.repeat(arrives[:, None], ways.shape[1], axis=1)
        fresh = np.hstack([graph.focused_on_arc.T, home + 1])
        own = np.arange(len(ways)), graph.node_slot
        ways[own] = np.where(graph.within_s < graph.no_arc_s, graph.within_s, far_s)
        soonest[own], fresh[own] = graph.open_s, graph.focused_within
        if (
            problem.rules.focus_every_s is not None
        ):  # the night's first run needs a focus run, whatever else does
            soonest[:, -1] = [
                max(opens, self._first_s(entry)) for opens, entry in zip(arrives, graph.nodes, strict=True)
            ]
        self.night = Night(
            option_s=np.concatenate([_lengths_s(problem, entry) for entry in graph.nodes]),
            option_starts=graph.option_starts,
            slot=graph.node_slot,
            task=graph.node_task,
            opens=graph.open_s,
            closes=graph.close_s,
            side=graph.side,
            # in one layout whatever the night: of each other one the loops would be compiled anew
            ways=np.ascontiguousarray(ways),
            soonest=soonest,
            fresh=np.ascontiguousarray(fresh),
            profits=grid.profits,
            step_s=grid.step_s,
            caps=np.array([task.frames_left for task in problem.tasks], dtype=np.int64),
        )
        tasks = [entry.task for entry in graph.nodes]
        self.cadence = Cadence(
            every_s=far_s if problem.rules.focus_every_s is None else problem.rules.focus_every_s,
            focus_s=problem.rules.focus_s,
            pause_s=problem.rules.focus_s + problem.run_lengths.dither_after_focus_s,
            dither_s=problem.rules.dither_s,
            dither_every=problem.rules.dither_every,
            frame_s=np.array([task.frame_s for task in tasks]),
            download_s=np.array([task.download_s for task in tasks]),
            first_most=np.array([problem.run_lengths.first_segment_most(task) for task in tasks]),
            later_most=np.array([problem.run_lengths.later_segment_most(task) for task in tasks]),
        )

    def _first_s(self, entry: Node) -> int:
        """When the night's first shutter may open at the soonest, if it is this one."""
        rules, slot = self.problem.rules, self.graph.slots[entry.slot]
        ready_s = rules.centre_s + rules.settle_s + entry.task.change_s + rules.focus_s
        return slot.work[0] + ready_s - self.graph.zero_s

    def work_of_try(self, plan: Plan) -> float:
        """About what a try takes, in the unit of a budget's work."""
        runs = 1 + sum(len(visit.runs) for visit in plan)
        return WORK_OF_TRY * len(self.graph.nodes) * runs

    def improve(self, plan: Plan, budget: Budget, rng: np.random.Generator) -> Plan:
        """Take runs out and put others in, as often as the budget allows; at least once."""
        of_try = self.work_of_try(plan)
        tries = max(1, int(budget.work_left / of_try))
        threshold, seed = float(rng.choice(THRESHOLDS)), int(rng.integers(2**31))
        best = self._sequence(plan)
        now, trial = (Sequence(*(np.zeros_like(numbers) for numbers in best)) for _ in range(2))
        gain = search(self.night, self.cadence, now, trial, best, tries, threshold, seed, budget.halt)
        budget.spend(tries * of_try + PLAN_WORK)
        if gain <= 0:
            return plan
        found = following(self.problem, self._draft(best))
        if self.problem.by_depth and self.timing is not None:
            # laid as soon as may be; when it is best under the sky a grid tells
            found = better_of(self.problem, found, self.timing.timed(found, budget))
        return better_of(self.problem, plan, found)

    def _sequence(self, plan: Plan) -> Sequence:
        runs = self.graph.runs_of(plan)
        entry, frames = (np.zeros(len(runs) + MORE_RUNS, dtype=np.int64) for _ in range(2))
        for place, run in enumerate(runs):
            entry[place], frames[place] = run
        return Sequence(np.array([len(runs)]), entry, frames)

    def _draft(self, sequence: Sequence) -> Plan:
        graph, runs, size = self.graph, list[tuple[int, int, int, int, int]](), int(sequence.size[0])
        for number, frames in zip(
            sequence.entry[:size].tolist(), sequence.frames[:size].tolist(), strict=True
        ):
            entry = graph.nodes[number]
            runs.append((graph.slots[entry.slot].index, entry.task.index, entry.span, frames, 0))
        return draft(runs, graph.problem)


def _lengths_s(problem: Problem, entry: Node) -> Ints:
    """Runs of 1, 2, ... frames with their downloads, after a fresh focus run; a graph's are the least."""
    lengths, _ = problem.run_lengths.runs_s(entry.task, len(entry.lengths_s))
    return lengths + entry.task.download_s
