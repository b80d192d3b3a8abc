"""Tiny seasons of two rigs beside the best there is, and beside what each rig gives alone."""

from __future__ import annotations

import pytest

from tests.support.season_oracle.pair import PLAYED, TinyPair, faults_beside_one, faults_of, features
from tests.support.speeds import sampled

# `python -m tests.support.season_oracle.sweep --rigs 2 --seeds 0-99` goes through many more
CASES = (((4, 5, 11, 13), 0), ((0, 1, 6, 7, 8, 9, 12, 15), 1))  # seeds, and rounds of planning anew


@pytest.mark.parametrize(("seeds", "rounds"), sampled(CASES, quick=1, several=True))
def test_seasons_of_two_rigs_are_lawful_and_no_better_than_the_best(
    seeds: tuple[int, ...], rounds: int
) -> None:
    wrong, seen = [], set[str]()
    for seed in seeds:
        pair = TinyPair.of(seed)
        planned = pair.planned(rounds=rounds)
        wrong += [f"seed {seed}: {each}" for each in faults_of(pair, planned)]
        wrong += [f"seed {seed}: {each}" for each in faults_beside_one(pair, planned, rounds)]
        seen |= features(pair)
    assert wrong == []
    assert seen >= set(PLAYED) - {"by depth", "set by depth"}, "they test less than they say"
