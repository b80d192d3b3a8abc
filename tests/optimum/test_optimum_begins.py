"""On small nights begun anywhere "optimal" is the oracle's value, and no bound lies below it."""

from __future__ import annotations

import random
import statistics
from collections import Counter

import pytest

from optimizer.packing.bound.bounds import first_bounds
from optimizer.packing.bound.run_graph import RunGraph
from optimizer.packing.budget import Budget
from optimizer.packing.solve import solve
from optimizer.problem import Problem, build_problem
from optimizer.reading.load import request_from_data
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import SkyWindows, sky_windows
from tests.support.begins import Cut, random_cut
from tests.support.oracle.best import greatest_profit
from tests.support.scenarios.small import small_night
from tests.support.speeds import sampled

CHUNKS, CUTS, DEPTH_NIGHTS = 10, 2, 6  # two cuts of each night
# so that several processes can share the work; few rests begin with a flip, so the deep chunks are large
SEEDS = (range(5000, 5040), range(5040, 5130), range(5130, 5220), range(5220, 5310), range(5310, 5400))


def cuts_of(seed: int, slack_s: int = 0, *, by_depth: bool = False) -> list[tuple[Cut, Problem, SkyWindows]]:
    """The rests of a small night, each with its problem and windows; none where nothing can be planned."""
    data = small_night(seed)
    if by_depth:  # without a focus cadence, which that oracle leaves out
        data["aim"] |= {"value": "depth", "time_limit_s": 1.0}
        data["focus"]["every_min"] = 0
    request = request_from_data(data, f"small night {seed}").with_aim(slack_s=slack_s)
    sky = night_sky(request)
    whole, rng = build_problem(request, sky_windows(request, sky)), random.Random(seed)
    schedule, found = solve(whole).schedule, []
    for _ in range(CUTS):
        cut = random_cut(request, whole, schedule, rng)
        if cut is not None:
            windows = sky_windows(cut.request, sky)
            found.append((cut, build_problem(cut.request, windows, begin=cut.begin), windows))
    return found


def features(cut: Cut, problem: Problem, acts: list[list[str]]) -> set[str]:
    """What of a begin was in play in a plan; `acts` are the kinds of each visit's."""
    first = acts[0][0] if acts else None
    found = {
        "something to do": bool(acts),
        "goes on": first not in (None, "slew", "flip"),
        "dithers first": first == "dither",
        "flips first": first == "flip",
        "leaves": first == "slew" and cut.begin.target is not None,
        "parked": cut.begin.target is None,
    }
    return {name for name, is_so in found.items() if is_so}


@pytest.mark.parametrize("seeds", sampled(SEEDS, quick=1), ids=str)
def test_proven_value_of_the_rest_of_a_night_is_the_greatest_there_is(seeds: range) -> None:
    seen: Counter[str] = Counter()
    wrong = []
    for seed in seeds:
        slack_s = random.Random(seed).choice([0, 0, 0, 60, 300])
        for number, (cut, problem, sky) in enumerate(cuts_of(seed, slack_s)):
            solution = solve(problem)
            greatest = greatest_profit(cut.request, problem, sky, cut.begin)
            bounds = first_bounds(RunGraph(problem), Budget(0.5, deterministic=True))
            bound = min(found.bound for found in bounds)
            seen.update(
                features(cut, problem, [[act.kind for act in visit.acts] for visit in solution.schedule])
            )
            seen["proven"] += solution.status == "optimal"
            seen["nights"] += 1
            exact = solution.profit == greatest or solution.status != "optimal"
            if bound < greatest or not (exact and solution.profit <= greatest <= solution.bound):
                wrong.append(
                    (seed, number, solution.status, solution.profit, solution.bound, bound, greatest)
                )
    assert wrong == [], "seed, cut, status, value, bound, first bound, oracle's value"
    assert seen["proven"] >= 0.9 * seen["nights"]
    for feature in ("something to do", "goes on", "dithers first", "flips first", "leaves", "parked"):
        assert seen[feature], f"no night of the chunk {feature}: it tests less than it says"


@pytest.mark.parametrize("chunk", sampled(range(CHUNKS), quick=1))
def test_no_bound_of_the_rest_of_a_night_by_depth_lies_below_the_greatest_value(chunk: int) -> None:
    wrong: list[tuple[int, int, int, int, int]] = []
    short: list[float] = []
    for seed in range(5000 + chunk * DEPTH_NIGHTS, 5000 + (chunk + 1) * DEPTH_NIGHTS):
        for number, (cut, problem, sky) in enumerate(cuts_of(seed, by_depth=True)):
            solution = solve(problem)
            greatest = greatest_profit(cut.request, problem, sky, cut.begin)
            bounds = first_bounds(RunGraph(problem), Budget(0.5, deterministic=True))
            bound = min(found.bound for found in bounds)
            if greatest > bound or not solution.profit <= greatest <= solution.bound:
                wrong.append((seed, number, solution.profit, greatest, min(bound, solution.bound)))
            if greatest:
                short.append(1 - solution.profit / greatest)
    assert wrong == [], "seed, cut, value, oracle's value, bound"
    assert len(short) >= DEPTH_NIGHTS
    assert statistics.median(short) < 0.002
