"""All cuts of a night as one list of rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from optimizer.packing.bound.columns import ColumnRuns
from optimizer.packing.bound.cuts.caps import caps
from optimizer.packing.bound.cuts.cut import Cut
from optimizer.packing.bound.cuts.elapsed import elapsed
from optimizer.packing.bound.cuts.focus_age import focus_age
from optimizer.packing.bound.cuts.progress_of_sets import ProgressOfSets
from optimizer.packing.bound.cuts.segments import segments
from optimizer.packing.bound.cuts.stretches import stretches
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.tables import Reduction
from optimizer.packing.compiled import Floats

CUTS: dict[str, Callable[[RunGraph], Cut]] = {
    "caps": caps,
    "progress": ProgressOfSets,
    "elapsed": elapsed,
    "focus_age": focus_age,
    "segments": segments,
    "stretches": stretches,
}
RELAXED = ("caps", "progress")  # no cuts: without them a column's value would be no bound


class CutList:
    """Caps, progress of filter sets and the wanted cuts of a night, their rows one after the other."""

    def __init__(self, graph: RunGraph) -> None:
        """Make them; cuts without a row are left out."""
        self.graph, names = graph, graph.parameters.cuts
        cuts = {name: make(graph) for name, make in CUTS.items() if name in RELAXED or name in names}
        self.cuts = {name: cut for name, cut in cuts.items() if len(cut.rhs)}
        self.rhs = np.concatenate([cut.rhs for cut in self.cuts.values()])
        self.scale = np.concatenate([cut.scale for cut in self.cuts.values()])
        self.most = np.concatenate([cut.most for cut in self.cuts.values()])
        self.rows, first = dict[str, slice](), 0
        for name, cut in self.cuts.items():
            self.rows[name] = slice(first, first := first + len(cut.rhs))

    def coefficients(self, runs: ColumnRuns) -> Floats:
        """What the runs of a column take of each row, [rows]."""
        return np.concatenate([cut.coefficients(runs) for cut in self.cuts.values()])

    def slope(self, duals: Floats, runs: ColumnRuns) -> Floats:
        """How a bound changes with each dual, [rows], where this is its best column."""
        slope = self.rhs - self.coefficients(runs)
        progress = self.cuts.get("progress")
        if isinstance(progress, ProgressOfSets):
            rows = self.rows["progress"]
            slope[rows] = progress.slope(duals[rows], runs)
        return slope

    def kept_within(self, duals: Floats) -> Floats:
        """Duals [rows] cut off at their limits; prices of progress where the least bound mostly is."""
        kept = np.clip(duals, 0.0, self.most)
        if "progress" in self.rows:
            rows = self.rows["progress"]
            kept[rows] = self.graph.progress.levelled(kept[rows])
        return kept

    def reduction(self, duals: Floats) -> Reduction:
        """What duals [rows] make of profits: with them, a column's value bounds every plan along it."""
        parts = [self.cuts[name].reduction(each) for name, each in self.by_name(duals).items()]
        shares, *others = (np.stack(each) for each in zip(*parts, strict=True))
        return Reduction(np.prod(shares, axis=0), *(np.sum(each, axis=0) for each in others))

    def units(self, second: float) -> Floats:
        """What a unit of each row is about worth, [rows], where a second of the night brings `second`."""
        return np.concatenate([cut.units(second) for cut in self.cuts.values()])

    def by_name(self, duals: Floats) -> dict[str, Floats]:
        """Duals [rows] by the name of their cut."""
        return {name: duals[rows] for name, rows in self.rows.items()}

    def all_rows(self, duals: Mapping[str, Floats]) -> Floats:
        """Duals of some cuts by name as those of all rows, [rows]; the others say nothing yet."""
        return np.concatenate([duals.get(name, cut.start) for name, cut in self.cuts.items()])
