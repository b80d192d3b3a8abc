"""All cuts of a night as one list of rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from optimizer.packing.bound.columns import ColumnRuns
from optimizer.packing.bound.cuts.caps import caps
from optimizer.packing.bound.cuts.cut import Cut
from optimizer.packing.bound.cuts.elapsed import elapsed
from optimizer.packing.bound.cuts.focus_age import focus_age
from optimizer.packing.bound.cuts.segments import segments
from optimizer.packing.bound.cuts.stretches import stretches
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.tables import Reduction
from optimizer.packing.compiled import Floats

CUTS: dict[str, Callable[[RunGraph], Cut]] = {
    "caps": caps,
    "elapsed": elapsed,
    "focus_age": focus_age,
    "segments": segments,
    "stretches": stretches,
}


class CutList:
    """The caps and the wanted cuts of a night, their rows one after the other."""

    def __init__(self, graph: RunGraph) -> None:
        """Make them; cuts without a row are left out."""
        self.graph, names = graph, graph.parameters.cuts
        cuts = {name: make(graph) for name, make in CUTS.items() if name == "caps" or name in names}
        self.cuts = {name: cut for name, cut in cuts.items() if len(cut.rhs)}
        self.rhs = np.concatenate([cut.rhs for cut in self.cuts.values()])
        self.scale = np.concatenate([cut.scale for cut in self.cuts.values()])

    def coefficients(self, runs: ColumnRuns) -> Floats:
        """What the runs of a column take of each row, [rows]."""
        return np.concatenate([cut.coefficients(runs) for cut in self.cuts.values()])

    def reduction(self, duals: Floats) -> Reduction:
        """What duals [rows] make of profits: with them, a column's value bounds every plan along it."""
        parts = [self.cuts[name].reduction(each) for name, each in self.by_name(duals).items()]
        return Reduction(*(np.sum(np.stack(each), axis=0) for each in zip(*parts, strict=True)))

    def units(self, second: float) -> Floats:
        """What a unit of each row is about worth, [rows], where a second of the night brings `second`."""
        return np.concatenate([cut.units(second) for cut in self.cuts.values()])

    def by_name(self, duals: Floats) -> dict[str, Floats]:
        """Duals [rows] by the name of their cut."""
        stops = np.cumsum([len(cut.rhs) for cut in self.cuts.values()])[:-1]
        return dict(zip(self.cuts, np.split(duals, stops), strict=True))

    def all_rows(self, duals: Mapping[str, Floats]) -> Floats:
        """Duals of some cuts by name as those of all rows, [rows]; 0 where they say nothing."""
        return np.concatenate([duals.get(name, np.zeros(len(cut.rhs))) for name, cut in self.cuts.items()])
