"""No bound of a tiny season lies below its best, nor below what anyone can expect of it."""

from __future__ import annotations

from collections import Counter

import pytest

from tests.support.season_oracle.judge import TinySeason, features
from tests.support.season_oracle.sweep import PLAYED
from tests.support.speeds import sampled

# the last has every part of the law; `python -m tests.support.season_oracle.sweep` goes through 200
SEEDS = (range(2), range(2, 23))
ROUNDING = 1e-12


@pytest.mark.parametrize("seeds", sampled(SEEDS, quick=1), ids=str)
def test_no_bound_lies_below_the_best_season_or_what_can_be_foreseen(seeds: range) -> None:
    wrong: list[tuple[int, str, float]] = []
    seen: Counter[str] = Counter()
    for seed in seeds:
        season = TinySeason.of(seed)
        bounds = season.bounds()
        truths = {"best": season.best.value_s, **season.foreseen()}
        for what, truth in truths.items():
            wrong += [(seed, what, each) for each in bounds if each < float(truth) * (1 - ROUNDING)]
            wrong += [
                (seed, f"{what}, random prices", each)
                for each in season.bounds_at_random(seed)
                if each < float(truth) * (1 - ROUNDING)
            ]
        assert bounds == sorted(bounds, reverse=True), f"season {seed}: a later bound is worse"
        seen.update(features(season))
    assert wrong == [], "seed, of what, bound below it"
    missing = [each for each in PLAYED if not seen[each]] if seeds is SEEDS[-1] else []
    assert missing == [], "no season has this: it tests less than it says"


@pytest.mark.parametrize("seeds", sampled([range(200, 201), range(201, 215)], quick=1), ids=str)
def test_no_policy_expects_more_than_the_bound(seeds: range) -> None:
    """The best of all policies, by going through clear and cloudy nights; whoever knows the weather expects more."""
    played = 0
    for seed in seeds:
        season = TinySeason.of(seed)
        if season.request.aim.value == "depth" and season.law.sets:
            continue  # too much to tell apart
        expected, foreseen = season.policy(), season.foreseen()["foreseen"]
        assert expected <= foreseen, seed
        assert min(season.bounds()) >= float(expected) * (1 - ROUNDING), seed
        played += expected > 0
    assert played >= max(1, len(seeds) // 3)
