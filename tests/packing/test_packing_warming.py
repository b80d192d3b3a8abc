"""After the tiny night no loop is compiled any more, whatever the night."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from optimizer.packing.bound import labelling
from optimizer.packing.search import choice_loops, ruin_loops
from optimizer.packing.solve import solve
from optimizer.packing.warming import PARTS, run_loops
from optimizer.problem import Problem
from tests.support.packing_nights import Place, a_problem, goal, under_sky

LOOPS: dict[str, tuple[Any, ...]] = {
    "bound": (labelling.fill_tables, labelling.trace_column, choice_loops.choose),
    "search": (ruin_loops.ruin_and_recreate,),
}


def _made() -> list[int]:
    """For how many kinds of numbers each loop is there."""
    return [len(loop.signatures) for loops in LOOPS.values() for loop in loops]


def _nights(*, by_time: bool) -> list[Problem]:
    keys: dict[str, Any] = {"aim": {"time_limit_s": 0.3, **({"value": "depth"} if by_time else {})}}
    evening, late = Place("A", (1000, 3000)), Place("B", (2500, 7000), side="east")
    nights = [
        a_problem([evening], {"A": [goal()]}, **keys),
        a_problem([evening, late], {"A": [goal(), goal("R")], "B": [goal(frames=40)]}, **keys),
        a_problem([evening, late], {"A": [goal()], "B": [goal()]}, focus={"every_min": 15}, **keys),
        a_problem([late], {"B": [goal(frames=40)]}, camera={"dither_every": 3}, **keys),
    ]
    profits = np.random.default_rng(1).integers(1, 60_000, 9000)
    return [under_sky(night, profits) if by_time else night for night in nights]


@pytest.mark.parametrize("by_time", [False, True])
def test_no_loop_is_compiled_within_a_search(by_time: bool) -> None:
    for part in PARTS:
        run_loops(part, by_time=by_time)
    ready = _made()
    assert 0 not in ready
    for night in _nights(by_time=by_time):
        solve(night)
        assert _made() == ready
