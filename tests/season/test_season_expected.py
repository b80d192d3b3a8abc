"""What is to be expected of a season: sampled weathers under the policy, on tiny nights."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from optimizer.models.season_asked import SeasonAsked
from optimizer.season import steps as of_steps
from optimizer.season.desk import Desk, Inline, only_rig
from optimizer.season.engines.engine import engine_of
from optimizer.season.expected import Expected, expected, shares_of
from optimizer.season.policy import BEFORE, NEVER
from optimizer.season.simulation import foreknown_s
from optimizer.season.weather import sampled_weathers
from tests.support.season_nights import TinySeason, tiny_season

SEASONS = 40


def expected_of(season: TinySeason, persistence: float = 0.3, seed: int = 3) -> Expected:
    """Sampled seasons of a tiny season."""
    asked = SeasonAsked(nights=len(season.refs), persistence=persistence)
    return expected(season.desk, season.refs, season.odds, asked, seed, Inline(season.desk), SEASONS)


def with_done(season: TinySeason, share: float) -> TinySeason:
    """The season with such a share of the frames in hand of every goal."""
    projects = season.projects
    goals = tuple(replace(goal, done=int(share * goal.wanted)) for goal in projects.goals)
    other = replace(projects, goals=goals)
    desk = Desk((only_rig(season.desk.rigs[0].request, other),), other)
    desk.nights.update(season.desk.nights)
    return TinySeason(desk, season.refs, season.odds)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("balance", [0.0, 0.3])
def test_no_sampled_season_is_worth_more_than_its_own_bound(seed: int, balance: float) -> None:
    season = tiny_season(seed, balance=balance, depth=seed % 3 == 0)
    found = expected_of(season)
    clear = sampled_weathers(season.odds, 0.3, SEASONS, 3)
    for row, value in zip(clear, found.values_s, strict=True):
        nights = tuple(ref for ref, on in zip(season.refs, row, strict=True) if on)
        assert value <= foreknown_s(season.desk, nights) * (1 + 1e-6) + 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_frames_are_never_more_than_wanted_and_finished_means_that_none_is_left(seed: int) -> None:
    season = tiny_season(seed, balance=0.3)
    found = expected_of(season)
    assert np.all(found.left >= 0)
    assert np.all(found.left <= season.projects.left)
    assert np.array_equal(found.finished != NEVER, found.left == 0)
    clear = sampled_weathers(season.odds, 0.3, SEASONS, 3)
    on = found.finished >= 0
    rows, _ = np.nonzero(on)
    assert clear[rows, found.finished[on]].all()  # nothing is finished on a cloudy night


def test_finish_dates_are_those_of_the_sampled_seasons() -> None:
    nights = np.array([[0], [0], [2], [2], [2], [NEVER], [1], [1], [2], [NEVER]])
    evenings = tuple(dt.date(2026, 11, day) for day in (5, 6, 7))
    found = Expected(
        policy="scarce hours",
        seed=1,
        persistence=0.0,
        evenings=evenings,
        targets=("Heart",),
        finished=nights,
        left=np.zeros((10, 1)),
        values_s=np.arange(10.0),
        shares=np.ones(1),
        share_of_bound=1.0,
        steps=(),
        seconds=0.0,
    )
    assert found.finish_share("Heart") == 0.8
    assert found.finish_evening("Heart", 0.2) == evenings[0]
    assert found.finish_evening("Heart", 0.3) == evenings[1]
    assert found.finish_evening("Heart", 0.5) == evenings[2]
    assert found.finish_evening("Heart", 0.8) == evenings[2]
    assert found.finish_evening("Heart", 0.9) is None


def test_a_target_whose_frames_are_all_in_hand_is_finished_before_the_season() -> None:
    season = with_done(tiny_season(4), 1.0)
    found = expected_of(season)
    target = found.targets[0]
    assert set(found.finish_night(target).tolist()) == {BEFORE}
    assert found.finish_share(target) == 1.0
    assert found.finish_evening(target, 0.5) is None
    assert not found.values_s.any()


def test_the_same_arguments_give_the_same_seasons_and_another_seed_others() -> None:
    season = tiny_season(2, balance=0.3)
    one, two, other = expected_of(season), expected_of(season), expected_of(season, seed=4)
    assert np.array_equal(one.values_s, two.values_s)
    assert np.array_equal(one.finished, two.finished)
    assert one.steps == two.steps
    assert not np.array_equal(one.values_s, other.values_s)


def test_seasons_that_can_bring_nothing_have_no_share() -> None:
    shares, of_sums = shares_of(np.array([30.0, 0.0, 80.0]), np.array([40.0, 0.0, 160.0]))
    assert shares.tolist() == [0.75, 0.5]
    assert of_sums == 0.55
    shares, of_sums = shares_of(np.zeros(2), np.zeros(2))
    assert (shares.tolist(), of_sums) == ([1.0], 1.0)
    shares, of_sums = shares_of(np.array([1 + 1e-12]), np.ones(1))  # rounding alone
    assert (shares.tolist(), of_sums) == ([1.0], 1.0)


def test_a_season_of_no_clear_night_brings_nothing() -> None:
    season = tiny_season(1)
    cloudy = replace(season, odds=(Fraction(0),) * len(season.refs))
    found = expected_of(cloudy)
    assert not found.values_s.any()
    assert np.array_equal(found.left[0], season.projects.left)


def test_a_step_never_makes_a_project_less_likely_to_be_finished() -> None:
    told = 0
    for seed in range(12):
        season = tiny_season(seed)
        found = expected_of(season)
        for step in found.steps:
            told += 1
            assert found.finish_share(step.target) < 0.5
            assert step.finish_share >= found.finish_share(step.target) - 0.1
            assert (step.evening in {ref.evening for ref in season.refs}) == (step.change == "clear_night")
    assert told > 10


def test_any_engine_gives_the_same_seasons(tmp_path: Path) -> None:
    season = tiny_season(3, balance=0.3)
    alone = expected_of(season)
    asked = SeasonAsked(nights=len(season.refs), persistence=0.3)
    with engine_of("threads", 2, season.desk, tmp_path) as engine:
        beside = expected(season.desk, season.refs, season.odds, asked, 3, engine, SEASONS)
    assert np.array_equal(alone.values_s, beside.values_s)
    assert np.array_equal(alone.finished, beside.finished)
    assert (alone.steps, alone.share_of_bound) == (beside.steps, beside.share_of_bound)


def test_steps_of_many_projects_on_many_nights_are_tried_in_fewer_seasons(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """And are told beside what the same seasons bring without them."""
    monkeypatch.setattr(of_steps, "STEP_NIGHTS", 1)
    monkeypatch.setattr(of_steps, "LEAST_SEASONS", 15)
    found = expected_of(tiny_season(3))
    assert found.seasons == SEASONS
    assert found.steps
    for step in found.steps:
        finished = found.finish_night(step.target)[:15] != NEVER
        assert step.seasons == 15
        assert step.without == pytest.approx(finished.mean())
