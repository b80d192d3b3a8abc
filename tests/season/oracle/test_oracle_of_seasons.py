"""The judge of seasons is itself held against what can be worked out by hand, and its two ways against each other."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.support.season_oracle.best import (
    all_alike,
    best_foreseen,
    best_policy,
    best_season,
    by_programme,
    enumerated,
    independent,
    useful,
)
from tests.support.season_oracle.judge import TinySeason
from tests.support.season_oracle.law import SeasonLaw
from tests.support.season_oracle.reachable import Column
from tests.support.speeds import sampled

HALF, NOTHING = Fraction(1, 2), Fraction(0)


def law(left: tuple[int, ...], sets: tuple[tuple[int, ...], ...] = (), balance: str = "0") -> SeasonLaw:
    """Frames of one weighted second, none in hand."""
    wanted = tuple(Fraction(each) for each in left)
    return SeasonLaw(left, wanted, (NOTHING,) * len(left), sets, Fraction(balance))


def night(*frames: tuple[int, ...]) -> list[Column]:
    return [Column(each, tuple(Fraction(own) for own in each)) for each in ((0,) * len(frames[0]), *frames)]


def test_three_nights_of_six_frames_of_which_ten_are_wanted() -> None:
    """By odds nine are planned; two clear nights bring ten and no more, so that nobody can expect that."""
    own, nights, odds = law((10,)), [night(*((each,) for each in range(1, 7)))] * 3, [HALF] * 3
    assert best_season(own, nights, odds).value_s == 9
    # none clear: 0; one in three eighths: 6; two or three in half of all: 10
    assert best_foreseen(own, nights, independent(odds)) == Fraction(3, 8) * 6 + HALF * 10
    assert best_policy(own, nights, odds) == Fraction(29, 4)
    assert best_foreseen(own, nights, all_alike(odds)) == 5


def test_one_night_for_either_of_two_goals_of_a_set() -> None:
    """Half the set's hours in one goal leave the slowest half where it was; a little of both does not."""
    own = law((4, 4), ((0, 1),), "0.5")
    assert best_season(own, [night((4, 0), (0, 4))], [Fraction(1)]).value_s == 2
    assert best_season(own, [night((4, 0), (2, 2))], [Fraction(1)]).value_s == 4
    # at even odds both nights together bring half of either goal
    assert best_season(own, [night((4, 0), (0, 4))] * 2, [HALF, HALF]).value_s == 4


@pytest.mark.parametrize("seeds", sampled([range(1, 3), range(3, 20)], quick=1), ids=str)
def test_programme_and_enumeration_agree(seeds: range) -> None:
    compared = 0
    for seed in seeds:
        season = TinySeason.of(seed)
        kept = useful(season.law, season.columns, season.odds)
        short = [[*own[:11], night((0,) * len(season.law.left))[0]] for own in kept]
        best = by_programme(season.law, short, season.odds)
        assert best.value_s == enumerated(season.law, short, season.odds), seed
        assert best.most_s == pytest.approx(float(best.value_s), rel=1e-9, abs=1e-6), seed
        compared += best.value_s > 0
    assert compared >= len(seeds) // 2


@pytest.mark.parametrize("seed", [6, 10, 11])
def test_nothing_that_is_left_out_is_needed(seed: int) -> None:
    season = TinySeason.of(seed)
    kept = useful(season.law, season.columns, season.odds)
    assert sum(map(len, kept)) <= sum(map(len, season.columns))
    assert enumerated(season.law, season.columns, season.odds) == enumerated(season.law, kept, season.odds)
