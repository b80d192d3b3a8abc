"""How long a focus run serves, summed over a visit, as one row for each slot.

The graph does not know the age of a focus run that is carried from run to run. Where each visit begins with a
focus run, this holds all the same: with E further ones a visit has 1 + E stretches of shutter time, none
longer than the cadence. Each stretch holds parts of runs and, between two of them, at least a tail and
the change to the next goal (together `gap_s`). So the parts of a visit and a gap for each of them fit into
1 + E times cadence and gap. Duals see the sum: a column pays for shutter time and earns by a focus run, as if
its share of the next one fell due at once.
"""

from __future__ import annotations

import numpy as np

from optimizer.packing.bound.cuts.cut import Cut
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.compiled import Floats


def slots_begun_focused(graph: RunGraph) -> Floats:
    """Seconds of cadence and gap [slots] where each visit begins with a focus run; 0 where it may not."""
    rules, served = graph.problem.rules, np.zeros(len(graph.slots))
    if rules.focus_every_s is None or rules.focus_on_filter_change or not rules.focus_on_new_target:
        return served
    unfocused = ((graph.arcs_s < graph.no_arc_s) & (graph.focused_on_arc == 0)).any(axis=0)
    unfocused |= graph.focused_at_start == 0
    for position in range(len(served)):
        mine = slice(int(graph.slot_starts[position]), int(graph.slot_starts[position + 1]))
        if not unfocused[mine].any():
            served[position] = rules.focus_every_s + _gap_s(graph, position)
    return served


def focus_age(graph: RunGraph) -> Cut:
    """Seconds of a slot's parts and their gaps <= those that focus runs serve."""
    problem, served = graph.problem, slots_begun_focused(graph)
    again, taken = np.zeros(len(served)), np.zeros(len(graph.option_s))
    for position in np.flatnonzero(served).tolist():
        nodes = range(int(graph.slot_starts[position]), int(graph.slot_starts[position + 1]))
        gap_s = _gap_s(graph, position)
        longest_s = max(graph.nodes[node].task.tail_s for node in nodes)
        # cut once more than it must be, a run may save a dither and a tail less than a gap
        saved_s = problem.run_lengths.dither_after_focus_s + max(0, longest_s - gap_s)
        again[position] = served[position] + saved_s
        for node in nodes:
            options = slice(int(graph.option_starts[node]), int(graph.option_starts[node + 1]))
            tail_s = graph.nodes[node].task.tail_s
            parts = graph.option_segments[options]
            shutter_s = graph.option_s[options] - tail_s
            shutter_s = shutter_s - (parts - 1) * (tail_s + problem.run_lengths.pause_s)
            taken[options] = shutter_s + parts * gap_s - (parts - 1) * served[position]
    return Cut(
        graph,
        rhs=np.zeros(len(served)),
        scale=served,
        option_row=graph.option_slot,
        by_option=taken,
        by_arrival=-np.diag(served),
        by_refocus=-np.diag(again),
        unit_s=1.0,
    )


def _gap_s(graph: RunGraph, position: int) -> int:
    """Least time between two parts of runs that one focus run serves, in a slot's visit."""
    nodes = graph.nodes[int(graph.slot_starts[position]) : int(graph.slot_starts[position + 1])]
    within_s = [node.within_visit_s for node in nodes if node.within_visit_s is not None]
    twice = any(len(spans) > 1 for spans in graph.slots[position].shutter.values())
    return min(node.task.tail_s for node in nodes) + (0 if twice else min(within_s, default=0))
