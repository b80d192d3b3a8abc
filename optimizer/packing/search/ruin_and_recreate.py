"""Plans from others, by the second: runs are taken out of a night and others put in where they fit.

Slack induction by string removals (Christiaens & Vanden Berghe 2020, Transportation Science 54, cited from
memory): what is taken out lies side by side, and what is put in is chosen greedily, with blinks. A try takes
some hundredths of a millisecond on a usual night. Runs lie as soon as may be; where the sky decides, each is
put off to where it is worth most before the next.
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.bound.nodes import Node
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.budget import Budget
from optimizer.packing.compiled import Floats, Ints
from optimizer.packing.parameters import DEFAULT, SearchParameters
from optimizer.packing.plan import Plan, draft
from optimizer.packing.schedule import profit_of
from optimizer.packing.search.construct import following
from optimizer.packing.search.ruin_loops import ruin_and_recreate
from optimizer.packing.search.sequence_times import Cadence, Sequence, SequenceNight
from optimizer.problem import Problem

WORK_OF_TRY = 25.0  # for each node and each run of the plan, in the unit of a budget's work
PLAN_WORK = 1e7  # of following a draft, in the same unit
MORE_RUNS = 150  # that there is room for beside those of the start


class RuinAndRecreate:
    """Takes strings of runs out of a plan and puts others in; one night, ready for searches side by side."""

    def __init__(self, graph: RunGraph, parameters: SearchParameters = DEFAULT) -> None:
        """Make all that the loops need of a night that has runs."""
        self._graph, self._problem, self._parameters = graph, graph.problem, parameters
        self._night, self._cadence = self._sequence_night(), _cadence(graph)

    def work_of_try(self, plan: Plan) -> float:
        """About what a try takes, in the unit of a budget's work."""
        runs = 1 + sum(len(visit.runs) for visit in plan)
        return WORK_OF_TRY * len(self._graph.nodes) * runs

    def improve(self, plan: Plan, budget: Budget, rng: np.random.Generator) -> Plan:
        """Take runs out and put others in, as often as the budget allows; at least once."""
        of_try = self.work_of_try(plan)
        tries = max(1, int(budget.work_left / of_try))
        threshold, seed = float(rng.choice(self._parameters.thresholds)), int(rng.integers(2**31))
        best = self._sequence(plan)
        begins = np.zeros_like(best.node)
        gain = ruin_and_recreate(
            self._night,
            self._cadence,
            self._parameters.ruin,
            best,
            begins,
            tries,
            threshold,
            seed,
            budget.halt,
        )
        budget.spend(tries * of_try + PLAN_WORK)
        if gain <= 0:
            return plan
        improved = following(self._problem, self._draft(best, begins))
        return max(plan, improved, key=lambda each: profit_of(self._problem, each))

    def _sequence(self, plan: Plan) -> Sequence:
        runs = self._graph.runs_of(plan)
        node, frames = (np.zeros(len(runs) + MORE_RUNS, dtype=np.int64) for _ in range(2))
        for place, run in enumerate(runs):
            node[place], frames[place] = run
        return Sequence(np.array([len(runs)]), node, frames)

    def _draft(self, sequence: Sequence, begins: Ints) -> Plan:
        graph, runs, size = self._graph, list[tuple[int, int, int, int, int]](), int(sequence.size[0])
        numbers = (array[:size].tolist() for array in (sequence.node, sequence.frames, begins))
        for node, frames, begin in zip(*numbers, strict=True):
            entry = graph.nodes[node]
            slot = graph.slots[entry.slot].index
            runs.append((slot, entry.task.index, entry.span, frames, graph.zero_s + begin))
        return draft(runs, graph.problem)

    def _sequence_night(self) -> SequenceNight:
        graph, problem = self._graph, self._problem
        far_s = _far_s(graph)
        arrives = np.maximum(graph.open_s, graph.arrive_s)
        home = np.zeros((len(arrives), 1), dtype=np.int64)
        arcs = np.hstack([np.where(graph.arcs_s < graph.no_arc_s, graph.arcs_s, far_s).T, home])
        soonest = np.repeat(arrives[:, None], arcs.shape[1], axis=1)
        fresh = np.hstack([graph.focused_on_arc.T, home + 1])
        own = np.arange(len(arcs)), graph.node_slot
        arcs[own] = np.where(graph.within_s < graph.no_arc_s, graph.within_s, far_s)
        soonest[own], fresh[own] = graph.open_s, graph.focused_within
        if problem.rules.focus_every_s is not None:  # the night's first run needs a focus run in any case
            firsts = zip(arrives, graph.nodes, strict=True)
            soonest[:, -1] = [max(opens, self._first_s(entry)) for opens, entry in firsts]
        profits, step_s = self._profits()
        return SequenceNight(
            option_s=np.concatenate([_lengths_s(problem, entry) for entry in graph.nodes]),
            option_starts=graph.option_starts,
            slot=graph.node_slot,
            task=graph.node_task,
            opens=graph.open_s,
            closes=graph.close_s,
            side=graph.side,
            # in one layout whatever the night: of each other one the loops would be compiled anew
            arcs=np.ascontiguousarray(arcs),
            soonest=soonest,
            fresh=np.ascontiguousarray(fresh),
            profits=profits,
            step_s=step_s,
            caps=np.array([task.frames_left for task in problem.tasks], dtype=np.int64),
        )

    def _profits(self) -> tuple[Floats, int]:
        """Profits of runs by the tick at which they end, with the seconds of a tick: as fine as there is room."""
        graph, parameters = self._graph, self._parameters
        for step_s in parameters.sky_steps_s:
            grid = TimeExpandedGraph(graph, step_s)
            if not self._problem.by_depth or len(graph.option_s) * grid.ticks <= parameters.most_profits:
                break
        return grid.profits, grid.step_s

    def _first_s(self, entry: Node) -> int:
        """When the night's first shutter may open at the soonest, if it is this one."""
        rules, slot = self._problem.rules, self._graph.slots[entry.slot]
        ready_s = rules.centre_s + rules.settle_s + entry.task.change_s + rules.focus_s
        return slot.work[0] + ready_s - self._graph.zero_s


def _far_s(graph: RunGraph) -> int:
    """More seconds than any night has."""
    return 4 * graph.end_s


def _cadence(graph: RunGraph) -> Cadence:
    problem, tasks = graph.problem, [entry.task for entry in graph.nodes]
    rules, lengths = problem.rules, problem.run_lengths
    return Cadence(
        every_s=_far_s(graph) if rules.focus_every_s is None else rules.focus_every_s,
        focus_s=rules.focus_s,
        pause_s=lengths.pause_s,
        dither_s=rules.dither_s,
        dither_every=rules.dither_every,
        frame_s=np.array([task.frame_s for task in tasks]),
        download_s=np.array([task.download_s for task in tasks]),
        first_most=np.array([lengths.first_segment_most(task) for task in tasks]),
        later_most=np.array([lengths.later_segment_most(task) for task in tasks]),
    )


def _lengths_s(problem: Problem, entry: Node) -> Ints:
    """Runs of 1, 2, ... frames with their downloads, after a fresh focus run; a graph's are the least."""
    lengths, _ = problem.run_lengths.runs_s(entry.task, len(entry.lengths_s))
    return lengths + entry.task.download_s
