"""Plans from others: some runs are taken out of the night's sequence and others put in where they add most.

With the order of runs given, how many frames each has and when is found exactly on a grid (dynamic
programming from both ends), so that each try costs little. Beams are guided by prices, and where nearly all
that is wanted fits, prices say little of the order; this needs none (ruin and recreate: Schrimpf et al. 2000,
J. of Computational Physics 159, cited from memory).
"""

from __future__ import annotations

import math

import numpy as np

from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.budget import Budget
from optimizer.packing.compiled import Bools, Floats, Ints
from optimizer.packing.plan import Plan, draft
from optimizer.packing.search.construct import better_of, following
from optimizer.packing.search.reorder_loops import reorder
from optimizer.packing.search.sequence_layout import MOST_RUNS, Runs, Sequence

DRAWS = 8  # random numbers of one try
PLAN_WORK = 1e7  # of following a draft, in the unit of a budget's work
THRESHOLDS = (
    0.003,
    0.01,
    0.02,
)  # shares of the profit that a try may lose at first and still be gone on from
WORK_OF_TRY = 1.2  # for each run that may be put in at a tick


class Reorder:
    """Takes runs out of a plan's sequence and puts others in; their frames and times are found on a grid."""

    def __init__(self, grid: TimeExpandedGraph) -> None:
        """Make a night ready for searches side by side."""
        self._grid, self._runs = grid, _runs(grid)

    def work_of_try(self, plan: Plan) -> float:
        """About what a try takes, in the unit of a budget's work."""
        del plan  # on a grid every plan takes about as long
        return WORK_OF_TRY * self._grid.ticks * len(self._grid.graph.option_s)

    def improve(self, plan: Plan, budget: Budget, rng: np.random.Generator) -> Plan:
        """Change the sequence as often as the budget allows; at least once."""
        of_try = self.work_of_try(plan)
        draws = rng.random((max(1, int(budget.work_left / of_try)), DRAWS))
        budget.spend(len(draws) * of_try + PLAN_WORK)
        found = self._searched(plan, draws, float(rng.choice(THRESHOLDS)), budget.halt)
        return plan if found is None else better_of(self._grid.problem, plan, found)

    def timed(self, plan: Plan, budget: Budget) -> Plan:
        """The same sequence with the frames and the times that are best on the grid."""
        found = self._searched(plan, np.empty((0, DRAWS)), 0.0, budget.halt)
        return plan if found is None else found

    def _searched(self, start: Plan, draws: Floats, threshold: float, halt: Bools) -> Plan | None:
        """The best plan met on the way from a start, a try for each row of `draws` [tries, DRAWS] in [0, 1)."""
        best, now, trial = (_no_sequence(self._runs.ticks) for _ in range(3))
        _take(self._grid, start, best)
        if best.size[0] == 0:
            return None
        reorder(self._runs, now, trial, best, draws, threshold, halt)
        return following(self._grid.problem, _draft(self._grid, best))


def _runs(grid: TimeExpandedGraph) -> Runs:
    """Lengths and ways are rounded to the nearest tick: over a night that evens out."""
    graph, step_s, problem = grid.graph, grid.step_s, grid.problem
    carried_s = None if problem.rules.focus_on_filter_change else problem.rules.focus_every_s

    def ticks(seconds: Ints) -> Ints:
        return (2 * seconds + step_s) // (2 * step_s)

    return Runs(
        ticks=grid.ticks,
        option_ticks=np.maximum(1, ticks(graph.option_s)),
        option_starts=graph.option_starts,
        slot=graph.node_slot,
        task=graph.node_task,
        opens=-(-graph.open_s // step_s),
        closes=grid.close_ticks,
        arrives=-(-graph.arrive_s // step_s),
        ways=np.where(graph.arcs_s < graph.no_arc_s, ticks(graph.arcs_s), grid.no_arc),
        within=np.where(graph.within_s < graph.no_arc_s, ticks(graph.within_s), grid.no_arc),
        profits=grid.profits,
        most=grid.most_profits,
        frame_ticks=np.array([entry.task.frame_s / step_s for entry in grid.nodes]),
        every_ticks=math.inf if carried_s is None else carried_s / step_s,
        pause_ticks=(problem.rules.focus_s + problem.run_lengths.dither_after_focus_s) / step_s,
        caps=np.array([task.frames_left for task in problem.tasks], dtype=np.int64),
    )


def _no_sequence(ticks: int) -> Sequence:
    return Sequence(
        size=np.zeros(1, dtype=np.int64),
        entry=np.zeros(MOST_RUNS, dtype=np.int64),
        limit=np.zeros(MOST_RUNS, dtype=np.int64),
        frames=np.zeros(MOST_RUNS, dtype=np.int64),
        begins=np.zeros(MOST_RUNS, dtype=np.int64),
        extra=np.zeros(MOST_RUNS, dtype=np.int64),
        before=np.zeros((MOST_RUNS + 1, ticks)),
        after=np.zeros((MOST_RUNS + 1, ticks)),
    )


def _take(grid: TimeExpandedGraph, plan: Plan, into: Sequence) -> None:
    """The runs of a plan as a sequence, each as long as it is; as many as there is room for."""
    runs = grid.graph.runs_of(plan)[: MOST_RUNS - 1]
    into.size[0] = len(runs)
    for place, (entry, frames) in enumerate(runs):
        into.entry[place], into.limit[place], into.frames[place] = entry, frames, frames


def _draft(grid: TimeExpandedGraph, sequence: Sequence) -> Plan:
    graph, runs = grid.graph, []
    for place in range(int(sequence.size[0])):
        entry = graph.nodes[int(sequence.entry[place])]
        begins = graph.zero_s + int(sequence.begins[place]) * grid.step_s
        frames = int(sequence.frames[place])
        runs.append((graph.slots[entry.slot].index, entry.task.index, entry.span, frames, begins))
    return draft(runs, graph.problem)
