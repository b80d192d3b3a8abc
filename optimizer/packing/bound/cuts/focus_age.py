"""How long a focus run serves, summed over a visit, as one row of the bound's linear programme for each slot.

The relaxation does not know the age of a focus run that is carried from run to run. Where each visit begins
with a focus run, this holds all the same: with E further ones a visit has 1 + E stretches of shutter time,
none longer than the cadence. Each stretch holds parts of runs and, between two of them, at least a download
and the change to the next goal (together `gap`). So the parts of a visit and a gap for each of them fit into
1 + E times cadence and gap. Prices see the sum: a path pays for shutter time and earns by a focus run, as if
its share of the next one fell due at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optimizer.packing.compiled import Floats

if TYPE_CHECKING:
    from optimizer.packing.bound.columns import ColumnRuns
    from optimizer.packing.bound.run_graph import RunGraph


class FocusAge:
    """Seconds that runs take of what focus runs give, for a graph's pairs and slots; 0 where not known."""

    def __init__(self, graph: RunGraph) -> None:
        """`taken` [pairs]; `given` [slots] at an arrival, `given_again` by a focus run between runs."""
        problem = graph.problem
        self.taken: Floats = np.zeros(len(graph.pair_s))
        self.given: Floats = np.zeros(len(graph.slots))
        self.given_again: Floats = np.zeros(len(graph.slots))
        every_s = problem.rules.focus_every_s
        rules = problem.rules
        if every_s is None or rules.focus_on_filter_change or not rules.focus_on_new_target:
            return
        dither_s = problem.rules.dither_s if problem.rules.dither_every else 0
        reachable = graph.ways_s < graph.no_way_s
        for position in range(len(graph.slots)):
            mine = range(int(graph.slot_starts[position]), int(graph.slot_starts[position + 1]))
            if not all(graph.focused_on_way[reachable[:, entry], entry].all() for entry in mine):
                continue
            entries = [graph.entries[entry] for entry in mine]
            downloads = [entry.task.download_s for entry in entries]
            within = [entry.within_visit_s for entry in entries if entry.within_visit_s is not None]
            twice = any(len(spans) > 1 for spans in graph.slots[position].shutter.values())
            gap = min(downloads, default=0) + (0 if twice else min(within, default=0))
            self.given[position] = every_s + gap
            # cut once more than it must be, a run may save a dither and a download less than a gap
            self.given_again[position] = every_s + gap + dither_s + max(0, max(downloads, default=0) - gap)
            for number in mine:
                task = graph.entries[number].task
                for pair in range(int(graph.pair_starts[number]), int(graph.pair_starts[number + 1])):
                    parts = int(graph.pair_pieces[pair])
                    shutter_s = int(graph.pair_s[pair]) - task.download_s
                    between = (parts - 1) * (task.download_s + problem.rules.focus_s + dither_s)
                    self.taken[pair] = shutter_s - between + parts * gap - (parts - 1) * self.given[position]

    def balance(self, walk: ColumnRuns) -> Floats:
        """Seconds taken less those given on a path, [slots]; for what a plan can do none is above 0."""
        slots = walk.slots
        given = walk.arrives * self.given[slots] + walk.refocused * self.given_again[slots]
        found: Floats = np.bincount(slots, self.taken[walk.pairs] - given, len(self.given)).astype(np.float64)
        return found
