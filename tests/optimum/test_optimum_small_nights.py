"""On small nights the planner's "optimal" is the oracle's, to the last unit of worth."""

from __future__ import annotations

from collections import Counter

import pytest

from optimizer.models.load import request_from_data
from optimizer.packing.bound import first_bounds
from optimizer.packing.graph import NightGraph
from optimizer.packing.packed import Packed
from optimizer.packing.solve import solve
from optimizer.problem import Problem, build_problem
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import SkyWindows, sky_windows
from tests.support.oracle.best import greatest_worth
from tests.support.scenarios.small import small_night
from tests.support.speeds import sampled

CHUNKS, NIGHTS = 8, 63  # so that several processes can share the work


def problem_of(seed: int) -> tuple[Problem, SkyWindows]:
    request = request_from_data(small_night(seed), f"small night {seed}")
    sky = sky_windows(request, night_sky(request))
    return build_problem(request, sky), sky


def features(problem: Problem, packed: Packed) -> set[str]:
    """What of the law was in play in a plan."""
    acts = [act for visit in packed.laid for act in visit.acts]
    runs = [run for visit in packed.choice for run in visit.runs]
    stands = any(
        later.depart > earlier.free for earlier, later in zip(packed.laid, packed.laid[1:], strict=False)
    )
    found = {
        "proven": packed.status == "optimal",
        "something to do": packed.worth > 0,
        "flip": any(act.kind == "flip" for act in acts),
        "wait": stands or any(act.kind == "wait" for act in acts),
        "focus run inside a run": any(len(run.segments) > 1 for run in runs),
        "carried focus": problem.every_s is not None and any(not run.focus_first for run in runs),
    }
    return {name for name, is_so in found.items() if is_so}


@pytest.mark.parametrize("chunk", sampled(range(CHUNKS), quick=1))
def test_proven_value_is_the_greatest_there_is(chunk: int) -> None:
    seen: Counter[str] = Counter()
    wrong = []
    for seed in range(chunk * NIGHTS, (chunk + 1) * NIGHTS):
        problem, sky = problem_of(seed)
        packed, greatest = solve(problem), greatest_worth(problem, sky)
        bound = min(found.bound for found in first_bounds(NightGraph(problem), 0.5))
        if bound < greatest:
            wrong.append((seed, "bound", 0, bound, greatest))
        seen.update(features(problem, packed))
        exact = packed.worth == greatest or packed.status != "optimal"
        if not (exact and packed.worth <= greatest <= packed.bound):
            wrong.append((seed, packed.status, packed.worth, packed.bound, greatest))
    assert not wrong, "seed, status, value, bound, oracle's value"
    assert seen["proven"] >= 0.9 * NIGHTS
    assert seen["something to do"] >= 0.6 * NIGHTS
    for feature in ("flip", "wait", "focus run inside a run", "carried focus"):
        assert seen[feature], f"no night of the chunk has a {feature}: it tests less than it says"
