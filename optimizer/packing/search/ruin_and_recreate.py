"""Ruin and recreate: runs are taken out of a plan and others put in where they fit, by the second.

Slack induction by string removals (the sources stand in the bound's README.md): what is taken out lies side
by side, and what is put in is chosen greedily, with blinks. A try takes some hundredths of a millisecond on a
usual night. Runs lie as soon as may be; where the sky decides, each is put off to where it brings most before
the next, by the tick, and those of the plan that comes of it by the second.
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.best_times import at_best_times
from optimizer.packing.bound.arcs import Motions
from optimizer.packing.bound.nodes import Node
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.packing.compiled import Floats, Ints
from optimizer.packing.parameters import DEFAULT, RuinAndRecreateParameters
from optimizer.packing.plan import Plan, draft
from optimizer.packing.schedule import DoesNotFit, first_arrival, profit_of
from optimizer.packing.search.construct import following
from optimizer.packing.search.ruin_loops import ruin_and_recreate
from optimizer.packing.search.run_profits import profits_as_laid
from optimizer.packing.search.sequence_times import Cadence, Quiet, Sequence, SequenceNight
from optimizer.packing.search.set_loops import Sets
from optimizer.problem import Problem
from optimizer.problem.filter_sets import SLOWEST, Worth
from optimizer.problem.transitions import may_begin, prepared_s


class RuinAndRecreate:
    """One night, ready for searches side by side that each take strings of runs out and put others in."""

    def __init__(self, graph: RunGraph, parameters: RuinAndRecreateParameters = DEFAULT.ruin) -> None:
        """Make ready all that the loops need of a night that has runs."""
        self._graph, self._problem, self._parameters = graph, graph.problem, parameters
        self._night, self._cadence = _night_of(graph, parameters), _cadence_of(graph)

    def work_of_try(self, plan: Plan) -> float:
        """About what one try takes from this plan, in the unit of a budget's work."""
        graph, parameters = self._graph, self._parameters
        runs = 1 + sum(len(visit.runs) for visit in plan)
        return parameters.work_of_try + parameters.work_of_run * len(graph.nodes) * runs

    def improve(self, plan: Plan, budget: Budget, rng: np.random.Generator) -> Plan:
        """Take runs out and put others in, as often as the budget allows; at least once."""
        parameters, of_try = self._parameters, self.work_of_try(plan)
        tries = max(1, int(budget.work_left / of_try))
        threshold, seed = float(rng.choice(parameters.thresholds)), int(rng.integers(2**31))
        best, begins = self._sequence(plan)
        night, cadence, tuning = self._night, self._cadence, parameters.tuning
        gain = ruin_and_recreate(night, cadence, tuning, best, begins, tries, threshold, seed, budget.halt)
        budget.spend(tries * of_try + parameters.work_of_plan)
        if gain <= 0:
            return plan
        improved = following(self._problem, self._draft(best, begins))
        improved = at_best_times(self._problem, improved)
        return max(plan, improved, key=lambda each: profit_of(self._problem, each))

    def _sequence(self, plan: Plan) -> tuple[Sequence, Ints]:
        """The runs of a plan, and room for when each begins."""
        runs = self._graph.runs_of(plan)
        room: Ints = np.zeros((3, len(runs) + self._parameters.more_runs), dtype=np.int64)
        for place, (node, frames) in enumerate(runs):
            room[0, place], room[1, place] = node, frames
        return Sequence(np.array([len(runs)]), room[0], room[1]), room[2]

    def _draft(self, sequence: Sequence, begins: Ints) -> Plan:
        graph, size = self._graph, int(sequence.size[0])
        runs = []
        numbers = (array[:size].tolist() for array in (sequence.node, sequence.frames, begins))
        for number, frames, begin in zip(*numbers, strict=True):
            node = graph.nodes[number]
            slot = graph.slots[node.slot].index
            runs.append((slot, node.task.index, node.window, frames, graph.zero_s + begin))
        return draft(runs, graph.problem)


def _night_of(graph: RunGraph, parameters: RuinAndRecreateParameters) -> SequenceNight:
    problem, far_s = graph.problem, _far_s(graph)
    arrives = np.maximum(graph.open_s, graph.arrive_s)
    home = np.zeros((len(arrives), 1), dtype=np.int64)
    arcs = np.hstack([np.where(graph.arcs_s < graph.no_arc_s, graph.arcs_s, far_s).T, home])
    # whence it comes, the mount sets out no sooner than the target may be slewed to
    departs = np.array([graph.slots[node.slot].motion[0] - graph.zero_s for node in graph.nodes])
    soonest = np.maximum(arrives[:, None], departs[:, None] + arcs)
    fresh = np.hstack([graph.focused_on_arc.T, home + 1])
    own = np.arange(len(arcs)), graph.node_slot
    arcs[own] = np.where(graph.within_s < graph.no_arc_s, graph.within_s, far_s)
    soonest[own], fresh[own] = graph.open_s, graph.focused_within
    if problem.start.is_begun:
        soonest[:, -1] = [_first_of_plan_s(graph, node) for node in graph.nodes]
        fresh[:, -1] = graph.focused_at_start
    else:
        firsts = zip(arrives, graph.nodes, strict=True)
        soonest[:, -1] = [max(arrival, _first_s(graph, node)) for arrival, node in firsts]
    profits, step_s = _profits(graph, parameters)
    return SequenceNight(
        option_s=np.concatenate([_lengths_s(problem, node) for node in graph.nodes]),
        option_starts=graph.option_starts,
        slot=graph.node_slot,
        task=graph.node_task,
        opens=graph.open_s,
        closes=graph.close_s,
        side=graph.side,
        least_open_s=np.array([60.0 * slot.target.least_min for slot in graph.slots]),
        frame_open_s=np.array([float(node.task.goal.exposure_s) for node in graph.nodes]),
        # in one layout whatever the night: of each other one the loops would be compiled anew
        arcs=np.ascontiguousarray(arcs),
        soonest=soonest,
        fresh=np.ascontiguousarray(fresh),
        quiet=_quiet_of(graph, fresh),
        focused_s=_focused_s(graph),
        profits=profits,
        step_s=step_s,
        caps=np.array([task.frames_left for task in problem.tasks], dtype=np.int64),
        frame_profit=np.array([max(1.0, float(task.profit)) for task in problem.tasks]),
        sets=sets_of(problem.worth, len(problem.tasks)),
    )


def _quiet_of(graph: RunGraph, fresh: Ints) -> Quiet:
    """What the quiet times forbid; `fresh` is 1 where a focus run lies before a node's run."""
    problem, slots, far_s = graph.problem, [graph.slots[node.slot] for node in graph.nodes], _far_s(graph)
    spans = [slot.quiet or (graph.zero_s + far_s, graph.zero_s) for slot in slots]
    quiet_from, until = np.array(spans).T - graph.zero_s
    # of each node's slot, when a slew to it may begin and end
    departs, arrives = np.array([(slot.motion[0], slot.work[0]) for slot in slots]).T - graph.zero_s
    leave_by, focus_by = np.full((2, *fresh.shape), far_s)
    motions, rules, start = Motions(problem, graph.slots), problem.rules, problem.start
    for former, before in enumerate([*graph.slots, start.slot]):
        flips = np.array([problem.flips_between(before, slot) for slot in slots])
        if former < len(graph.slots):
            slews_s = motions.from_slot(former)[1][graph.node_slot]
            in_time = np.maximum(arrives, departs + slews_s) <= quiet_from
            slewing = ~flips & (graph.node_slot != former)
            leave_by[slewing, former] = np.where(in_time, quiet_from - slews_s, -1)[slewing]
            focusing = fresh[:, former] > 0
        else:
            first = graph.focused_at_start if start.is_begun else [_focuses_first(problem)] * len(slots)
            focusing = np.array(first) > 0
        if rules.focus_leaves_target:
            focus_by[focusing & ~flips, former] = quiet_from[focusing & ~flips]
    ends = np.maximum(0, until)
    return Quiet(bool(ends.any()), ends, leave_by, np.where(until > 0, until + rules.focus_s, 0), focus_by)


def sets_of(worth: Worth, tasks: int) -> Sets:
    """The filter sets of so many tasks as arrays for the loops."""
    of_task, of_tasks = np.full(tasks, -1, dtype=np.int64), np.zeros((2, tasks))
    for number, each in enumerate(worth.sets):
        members = list(each.tasks)
        of_task[members] = number
        of_tasks[:, members] = [[float(part) for part in parts] for parts in (each.wanted, each.in_hand)]
    return Sets(
        of_task=of_task,
        starts=np.cumsum([0, *(len(each.tasks) for each in worth.sets)], dtype=np.int64),
        members=np.array([task for each in worth.sets for task in each.tasks], dtype=np.int64),
        wanted=of_tasks[0],
        in_hand=of_tasks[1],
        half=np.array([float(SLOWEST * sum(each.wanted)) for each in worth.sets]),
        balance=float(worth.balance),
        nothing=float(worth.balance * sum(each.before for each in worth.sets)),
    )


def _cadence_of(graph: RunGraph) -> Cadence:
    rules, lengths = graph.problem.rules, graph.problem.run_lengths
    tasks = [node.task for node in graph.nodes]
    return Cadence(
        every_s=_far_s(graph) if rules.focus_every_s is None else rules.focus_every_s,
        focus_s=rules.focus_s,
        pause_s=lengths.pause_s,
        dither_s=rules.dither_s,
        dither_every=rules.dither_every,
        frame_s=np.array([task.frame_s for task in tasks]),
        tail_s=np.array([task.tail_s for task in tasks]),
        first_most=np.array([lengths.first_segment_most(task) for task in tasks]),
        later_most=np.array([lengths.later_segment_most(task) for task in tasks]),
    )


def _profits(graph: RunGraph, parameters: RuinAndRecreateParameters) -> tuple[Floats, int]:
    """Profit of each run by the tick at which it ends, or [pairs, 1]: at any time; and the seconds of a tick.

    Where the sky decides, on the finest grid for which there is room.
    """
    if not graph.problem.by_time:
        of_frame = np.array([float(task.profit) for task in graph.problem.tasks])
        flat: Floats = of_frame[graph.option_task] * graph.option_frames
        return flat[:, None], 1
    for step_s, most_profits in parameters.sky_steps_s:
        ticks = graph.end_s // step_s + 1
        if len(graph.option_s) * ticks <= most_profits:
            break
    return profits_as_laid(graph, step_s, ticks), step_s


def _far_s(graph: RunGraph) -> int:
    """More seconds than any night has."""
    return 4 * graph.end_s


def _first_s(graph: RunGraph, node: Node) -> int:
    """When the night's first shutter may open at the soonest, if it is this one."""
    problem, slot = graph.problem, graph.slots[node.slot]
    try:
        arrive = first_arrival(problem, slot)
    except DoesNotFit:
        return _far_s(graph)
    prepare_s = node.task.change_s + (problem.rules.focus_s if _focuses_first(problem) else 0)
    return arrive + problem.acquisition_s(None, slot) + prepare_s - graph.zero_s


def _focuses_first(problem: Problem) -> bool:
    """Whether a focus run must lie before a night's first run; with a cadence it must in any case."""
    return problem.rules.focus_every_s is not None or problem.focuses_on_arrival(False, True)


def _focused_s(graph: RunGraph) -> int:
    """When the focus run ended that serves as the plan begins; 0 where none does, or none is asked for."""
    focused_s = graph.problem.start.focused_s
    if focused_s is None or graph.problem.rules.focus_every_s is None:
        return 0
    return focused_s - graph.zero_s


def _first_of_plan_s(graph: RunGraph, node: Node) -> int:
    """The same where the plan begins within a night, from where the mount stands."""
    problem, slot = graph.problem, graph.slots[node.slot]
    if not may_begin(problem, slot):
        return _far_s(graph)
    try:
        begins = problem.start.at_s if problem.start.stays_in(slot) else first_arrival(problem, slot)
    except DoesNotFit:
        return _far_s(graph)
    return max(node.opens, begins + prepared_s(problem, slot, node.task)) - graph.zero_s


def _lengths_s(problem: Problem, node: Node) -> Ints:
    """Lengths of runs of 1, 2, ... frames with their tails, after a fresh focus run.

    Those of the graph are the least instead, however a run is cut into segments.
    """
    lengths, _ = problem.run_lengths.runs_s(node.task, len(node.lengths_s))
    return lengths + node.task.tail_s
