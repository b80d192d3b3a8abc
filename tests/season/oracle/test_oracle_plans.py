"""Seasons as they are planned, beside the best there is; their nights' plans judged by others."""

from __future__ import annotations

import pytest

from tests.support.season_oracle.faults import broken_by, faults_of, steps_laid
from tests.support.season_oracle.judge import TinySeason
from tests.support.speeds import sampled

# so that several processes can share the work; `python -m tests.support.season_oracle.sweep` goes through 200
SEEDS = (range(2, 3), range(3, 13), range(13, 22))
FEW_ROUNDS = 1


@pytest.mark.parametrize("seeds", sampled(SEEDS, quick=1), ids=str)
def test_seasons_are_lawful_and_no_better_than_the_best(seeds: range) -> None:
    """Their steps are judged by the third judge too, with a sky and code of its own."""
    wrong, short, broken, judged = [], [], [], 0
    for seed in seeds:
        season = TinySeason.of(seed)
        with steps_laid() as laid:
            file = season.planned(rounds=FEW_ROUNDS)
        wrong += [(seed, fault) for fault in faults_of(season, file)]
        if season.best.value_s > 0:
            short.append(1 - file.proof.value / float(season.best.value_s))
        broken += [(seed, each) for each in broken_by(laid)]
        judged += sum(bool(steps) for _, steps in laid)
    assert wrong == []
    assert broken == []
    assert judged >= max(1, len(seeds) // 2)
    assert sorted(short)[len(short) // 2] < 0.01


@pytest.mark.parametrize(
    "seed", [pytest.param(107, marks=pytest.mark.deep), 143, pytest.param(162, marks=pytest.mark.deep)]
)
def test_the_last_frames_of_a_goal_go_where_they_are_worth_most(seed: int) -> None:
    """A goal lacks a frame or two, and only some of the choices of plans take no more."""
    season = TinySeason.of(seed)
    file = season.planned(rounds=FEW_ROUNDS)
    assert file.proof.value == pytest.approx(float(season.best.value_s), abs=0.002)
