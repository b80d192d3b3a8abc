"""Seasons of numbers that nobody would choose: nothing to shoot, one frame or very many, weights far apart."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest

from tests.support.scenarios.small_season import small_season
from tests.support.season_oracle.faults import faults_of
from tests.support.season_oracle.judge import TinySeason
from tests.support.speeds import deep, sampled

HOURS, SETS, BY_DEPTH = 5, 9, 11
ODD_ODDS = (0.1, 0.3333333333, 0.001, 0.142857142857)


def changed(seed: int, change: Callable[[dict[str, Any]], None]) -> TinySeason:
    data = small_season(seed)
    change(data)
    return TinySeason(data)


def goals_of(data: dict[str, Any]) -> list[dict[str, Any]]:
    return [goal for target in data["targets"] for goal in target["goals"]]


def no_odds(data: dict[str, Any]) -> None:
    data["season"] = {"nights": 2, "clear_odds": 0}


def no_odds_of_one_night(data: dict[str, Any]) -> None:
    data["season"] = {"nights": 1, "clear_odds": 0}


def all_in_hand(data: dict[str, Any]) -> None:
    for goal in goals_of(data):
        goal["done"] = goal["frames"]


def never_rises(data: dict[str, Any]) -> None:
    data["site"] |= {"latitude_deg": 40.0, "floor_deg": 5}
    for target in data["targets"]:
        target["dec_deg"] = -89.0


def no_dark(data: dict[str, Any]) -> None:
    data["site"] = {"latitude_deg": 89.0, "longitude_deg": 10.0, "floor_deg": 0}
    for each in data["filters"]:
        each["darkness"] = -40.0


@pytest.mark.parametrize("seed", [HOURS, SETS, BY_DEPTH])
@pytest.mark.parametrize("change", [no_odds, no_odds_of_one_night, all_in_hand, never_rises, no_dark])
def test_season_in_which_nothing_can_be_gained_says_so(
    seed: int, change: Callable[[dict[str, Any]], None], capfd: pytest.CaptureFixture[str]
) -> None:
    """Proven, without a gap of rounding alone, and without a word of a solver on stderr."""
    file = changed(seed, change).planned()
    assert (file.proof.value, file.proof.bound, file.proof.gap) == (0.0, 0.0, 0.0)
    assert all(not night.plan and not night.visits for night in file.nights)
    assert capfd.readouterr().err == ""


@deep
def test_four_hundred_nights_without_any_dark() -> None:
    def polar(data: dict[str, Any]) -> None:
        no_dark(data)
        data["season"] = {
            "nights": 400,
            "clear_odds": [0.1, 0.333, 0.25, 0.7, 0.05, 0.9, 1, 0, 0.123456, 0.999, 0.001, 0.5],
        }

    file = changed(HOURS, polar).planned()
    assert len(file.nights) == 400
    assert (file.proof.value, file.proof.bound, file.proof.gap) == (0.0, 0.0, 0.0)


def single_frames(data: dict[str, Any]) -> None:
    data["aim"]["balance"] = 1.0
    for goal in goals_of(data):
        goal |= {"frames": 1, "done": 0, "in_set": True}


def weights_far_apart(data: dict[str, Any]) -> None:
    for target, weight in zip(data["targets"], (0.001, 1000, 1), strict=False):
        target["weight"] = weight


def odd_odds(data: dict[str, Any]) -> None:
    evenings = TinySeason(data).evenings
    data["season"]["clear_odds_by_evening"] = [
        [evening.isoformat(), odds] for evening, odds in zip(evenings, ODD_ODDS, strict=False)
    ]


@pytest.mark.parametrize("change", sampled([single_frames, weights_far_apart, odd_odds], quick=1))
def test_odd_numbers_against_the_best_there_is(change: Callable[[dict[str, Any]], None]) -> None:
    season = changed(HOURS, change)
    file = season.planned(rounds=1)
    assert faults_of(season, file) == []
    assert file.proof.value > 0.9 * float(season.best.value_s)


@pytest.mark.parametrize("exposures_s", [(300, 200, 100), (0.5, 2, 5)])
def test_goals_of_a_hundred_thousand_frames(exposures_s: tuple[float, ...]) -> None:
    """More than can be gone through: frames of the file are held to what is left, value to bound and frames."""

    def many(data: dict[str, Any]) -> None:
        for target in data["targets"]:
            for goal, exposure_s in zip(target["goals"], exposures_s, strict=False):
                goal |= {"frames": 100_000, "done": 0, "exposure_s": exposure_s}

    file = changed(HOURS, many).planned(rounds=0)
    weights = {target.name: Fraction(str(target.weight)) for target in file.request.targets}
    value = sum(
        Fraction(str(night.odds)) * weights[each.target] * Fraction(str(each.exposure_s)) * each.frames
        for night in file.nights
        for each in night.plan
    )
    assert 0 < file.proof.value <= file.proof.bound
    assert abs(float(value) - file.proof.value) <= 1e-3
    assert file.proof.gap < 0.5
