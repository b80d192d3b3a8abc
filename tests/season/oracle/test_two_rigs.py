"""Tiny seasons of two rigs beside the best there is, and beside what each rig gives alone."""

from __future__ import annotations

import pytest

from tests.support.season_oracle.pair import PLAYED, TinyPair, faults_beside_one, faults_of, features
from tests.support.speeds import sampled

# `python -m tests.support.season_oracle.sweep --rigs 2 --seeds 0-99` goes through many more
SEEDS = ((1, 4, 5, 13), (0, 6, 7, 8, 9, 12, 15))
FEW_ROUNDS = 1


@pytest.mark.parametrize("seeds", sampled(SEEDS, quick=1), ids=str)
def test_seasons_of_two_rigs_are_lawful_and_no_better_than_the_best(seeds: tuple[int, ...]) -> None:
    wrong, seen = [], set[str]()
    for seed in seeds:
        pair = TinyPair.of(seed)
        planned = pair.planned(rounds=FEW_ROUNDS)
        wrong += [f"seed {seed}: {each}" for each in faults_of(pair, planned)]
        wrong += [f"seed {seed}: {each}" for each in faults_beside_one(pair, planned, FEW_ROUNDS)]
        seen |= features(pair)
    assert wrong == []
    assert seen >= set(PLAYED) - {"by depth", "set by depth"}, "they test less than they say"
