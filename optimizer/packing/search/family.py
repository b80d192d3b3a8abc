"""The searches of one night, made ready with the grids that they need."""

from __future__ import annotations

from optimizer import ctrl_c
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.bound.time_graph import TimeExpandedGraph
from optimizer.packing.parameters import SearchParameters
from optimizer.packing.search.insertion import RuinAndRecreate
from optimizer.packing.search.portfolio import Turns
from optimizer.packing.search.reorder import Reorder


def searches_of(graph: RunGraph, parameters: SearchParameters) -> list[Turns]:
    """All searches of a night with their shares; each grid of a reordering has the same share of the time."""
    by_depth = graph.problem.by_depth
    grids = []
    for step_s in parameters.reorder_steps_s:
        grid = TimeExpandedGraph(graph, step_s)
        if not by_depth or len(graph.option_s) * grid.ticks <= parameters.most_profits:
            grids.append(grid)
    grids = grids or [TimeExpandedGraph(graph, parameters.coarse_step_s)]
    for grid in grids:
        _ = grid.profits, grid.most_profits  # made once, before threads ask for them
        ctrl_c.heed()
    reorders = [Reorder(grid) for grid in grids]
    insertion = RuinAndRecreate(grids[-1], timing=reorders[-1])
    share = parameters.insertion_share_by_depth if by_depth else parameters.insertion_share
    tries = parameters.insertion_tries_by_depth if by_depth else parameters.insertion_tries
    turns = [Turns(insertion, share if parameters.insertion else 0.0, tries)]
    often = [1.0 / grid.ticks for grid in grids]
    for reorder, each in zip(reorders, often, strict=True):
        own = (1.0 - share) * each / sum(often)
        turns.append(Turns(reorder, own if parameters.reorder else 0.0, (parameters.reorder_tries,)))
    return turns
