"""Arcs and lengths of runs by array calls are those that single ones give."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from optimizer.packing.bound.nodes import arc_s
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.problem.transitions import may_follow
from tests.support.packing_random import random_problem

MOST = 40


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("kind", ["german", "fork"])
def test_arcs_are_those_of_each_slot_and_node(seed: int, kind: str) -> None:
    problem = random_problem(seed + 3300)
    if kind == "fork":
        slots = tuple(
            replace(slot, side=None, hour_angle_s=-21600.0 * (1 + slot.index)) for slot in problem.slots
        )
        problem = replace(problem, rules=replace(problem.rules, flips=False), slots=slots)
    graph = RunGraph(problem)
    if not graph.nodes:
        pytest.skip("nothing can be done on this night")
    for start, before in enumerate(graph.slots):
        for number, node in enumerate(graph.nodes):
            after = graph.slots[node.slot]
            twice = any(len(spans) > 1 for spans in after.shutter.values())
            leads = may_follow(problem, before, after) and (start != node.slot or twice)
            seconds = arc_s(problem, before, after, node.task) if leads else graph.no_arc_s
            assert graph.arcs_s[start, number] == min(seconds, graph.no_arc_s)
            flips = problem.flips_between(before, after)
            assert graph.focused_on_arc[start, number] == problem.focuses_on_arrival(flips, not flips)


@pytest.mark.parametrize("seed", range(40))
def test_runs_last_as_long_as_their_segments(seed: int) -> None:
    problem = random_problem(seed + 3400)
    for task in problem.tasks:
        first_most = problem.run_lengths.first_segment_most(task)
        lengths, segments = problem.run_lengths.runs_s(task, min(MOST, task.frames_left))
        cuts = [
            problem.run_lengths.cut_into_segments(task, frames, first_most)
            for frames in range(1, len(lengths) + 1)
        ]
        assert [sum(cut) for cut in cuts] == list(range(1, len(cuts) + 1))
        assert lengths.tolist() == [problem.run_lengths.run_s(task, cut) for cut in cuts]
        assert segments.tolist() == [len(cut) for cut in cuts]
        if len(cuts) < min(MOST, task.frames_left):  # where the cadence allows no more
            assert sum(problem.run_lengths.cut_into_segments(task, len(cuts) + 1, first_most)) == len(cuts)


@pytest.mark.parametrize("seed", range(40))
def test_nodes_hold_the_runs_that_fit(seed: int) -> None:
    """No length is more than the run as it is cut, none less by more than the dithers that a cut may save."""
    problem = random_problem(seed + 3400)
    graph = RunGraph(problem)
    dither_s = problem.rules.dither_s
    for node in graph.nodes:
        lengths, segments = problem.run_lengths.runs_s(node.task, len(node.lengths_s))
        spare = lengths + node.task.tail_s - np.array(node.lengths_s)
        assert (spare >= 0).all()
        assert (spare <= dither_s * segments).all()
        opens, closes = problem.slots[graph.slots[node.slot].index].shutter[node.task.index][node.window]
        assert node.lengths_s[-1] - node.task.tail_s <= closes - opens
