"""After the tiny night no loop is compiled any more, whatever the night."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from optimizer.packing import (
    beam_search,
    compiled,
    insertion_search,
    moved,
    pricing_loops,
    reorder_search,
)
from optimizer.packing.solve import solve
from optimizer.packing.warming import make_ready
from optimizer.problem import Problem
from tests.support.packing_nights import Place, a_problem, goal, under_sky
from tests.support.packing_random import random_problem

LOOPS = {
    f"{module.__name__}.{name}": getattr(module, name)
    for module, names in (
        (beam_search, ("fill_best_ends", "fill_nodes")),
        (compiled, ("widen_to_subsets",)),
        (insertion_search, ("search",)),
        (moved, ("move_path",)),
        (pricing_loops, ("fill_tables", "trace_path")),
        (reorder_search, ("reorder",)),
    )
    for name in names
}


def _made() -> dict[str, int]:
    """For how many kinds of numbers each loop is there."""
    return {name: len(loop.signatures) for name, loop in LOOPS.items()}


def _nights(*, by_depth: bool) -> list[Problem]:
    aim: dict[str, Any] = {"value": "depth"} if by_depth else {}
    nights = [random_problem(seed + 3600, time_limit_s=0.3, **aim) for seed in range(6)]
    one = a_problem([Place("A", (1000, 3000))], {"A": [goal()]}, aim={"time_limit_s": 0.3, **aim})
    nights.append(one)
    if by_depth:
        profits = np.random.default_rng(1).integers(1, 60_000, 9000)
        nights = [under_sky(night, profits) for night in nights]
    return [night for night in nights if night.slots]


@pytest.mark.parametrize("by_depth", [False, True])
def test_no_loop_is_compiled_within_a_search(by_depth: bool) -> None:
    make_ready(by_depth=by_depth)
    ready = _made()
    assert all(count > 0 for name, count in ready.items() if by_depth or "best_ends" not in name)
    for night in _nights(by_depth=by_depth):
        solve(night)
        assert _made() == ready
