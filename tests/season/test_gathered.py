"""The law of simulations is the exact law of a season, and their loop mixes nights by it."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from optimizer.season.coarse import Paths, mixed
from optimizer.season.gathered import GatheredLaw
from optimizer.season.projects import Floats, ProjectGoal, Projects


def projects_with(balance: str, seed: int = 1) -> Projects:
    """Two sets of three and two goals, and one goal in none, some with frames in hand."""
    rng, goals = np.random.default_rng(seed), []
    for target, filters in (("Heart", "LRG"), ("Rose", "HO"), ("Veil", "S")):
        for name in filters:
            wanted = int(rng.integers(4, 40))
            goals.append(
                ProjectGoal(
                    key=(target, name, "120.0", None, None, 1),  # type: ignore[arg-type]
                    target=target,
                    filter=name,
                    exposure_s=float(rng.integers(1, 9) * 30),
                    weight=float(rng.integers(1, 4)),
                    wanted=wanted,
                    done=int(rng.integers(0, wanted + 3)),
                    in_set=target != "Veil",
                )
            )
    return Projects(tuple(goals), Fraction(balance))


def reached_at_random(law: GatheredLaw, seed: int, rows: int = 30) -> Floats:
    """Weighted seconds in hand between what is so before the season and what is wanted."""
    part = np.random.default_rng(seed).random((rows, len(law.wanted_s)))
    return np.asarray(law.done_s + part * (law.wanted_s - law.done_s))


@pytest.mark.parametrize("balance", ["0", "0.3", "1"])
def test_what_is_reached_is_worth_what_the_exact_law_says(balance: str) -> None:
    projects = projects_with(balance)
    law = GatheredLaw(projects)
    reached = reached_at_random(law, 3)
    values = law.value_s(reached) - law.value_s(law.done_s)
    for row, value in zip(reached, values, strict=True):
        exact = projects.value_s([Fraction(float(more)) for more in row - law.done_s])
        assert value == pytest.approx(float(exact), rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("balance", ["0", "0.3", "1"])
def test_slopes_are_those_of_the_value(balance: str) -> None:
    law = GatheredLaw(projects_with(balance))
    reached = reached_at_random(law, 4)
    factors = 0.5 + np.random.default_rng(5).random(reached.shape)
    slopes = law.slope(reached, factors)
    for goal in range(reached.shape[1]):
        more = reached.copy()
        more[:, goal] += 1e-3
        found = (law.value_s(more, factors) - law.value_s(reached, factors)) / 1e-3
        below = reached[:, goal] < law.wanted_s[goal] - 1e-2
        assert found[below] == pytest.approx((slopes * factors)[below, goal], abs=1e-4)


def test_level_goals_share_what_is_left_of_the_slowest_half() -> None:
    law = GatheredLaw(projects_with("1"))
    slopes = law.slope(np.zeros((1, 6)))
    assert slopes[0, :5] == pytest.approx(1.0)


@pytest.mark.parametrize("balance", ["0", "0.3", "1"])
def test_a_night_takes_no_more_than_is_left_and_gains_what_the_law_says(balance: str) -> None:
    law = GatheredLaw(projects_with(balance))
    rng = np.random.default_rng(6)
    frames = np.where(rng.random((25, 6)) < 0.4, rng.integers(1, 30, (25, 6)), 0).astype(np.float32)
    paths = Paths(frames, (frames * law.frame_s).astype(np.float32))
    reached = reached_at_random(law, 7)
    left = (law.wanted_s - reached) / law.frame_s
    factors = 0.5 + rng.random(reached.shape)
    taken, gathered, _ = mixed(paths, law, reached, left, factors)
    assert np.all(taken >= 0)
    assert np.all(taken <= left * (1 + 1e-12))
    assert gathered == pytest.approx(taken * law.frame_s)
    gains = law.value_s(reached + gathered, factors) - law.value_s(reached, factors)
    for path in range(len(frames)):
        cut = np.minimum(frames[path], left) * law.frame_s
        alone = law.value_s(reached + cut, factors) - law.value_s(reached, factors)
        # no path alone, cut at what is left, brings much more than the mixture
        assert np.all(gains >= 0.97 * alone - 1e-6)


def test_a_night_of_one_path_is_that_path_as_often_as_it_fits() -> None:
    law = GatheredLaw(projects_with("0.3"))
    frames = np.array([[0, 3, 0, 2, 0, 0]], dtype=np.float32)
    paths = Paths(frames, (frames * law.frame_s).astype(np.float32))
    reached = np.zeros((1, 6))
    taken, _, _ = mixed(paths, law, reached, np.array([[9.0, 2, 9, 9, 9, 9]]), np.ones((1, 6)))
    assert taken[0] == pytest.approx([0, 2, 0, 2, 0, 0])
