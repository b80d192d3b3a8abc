"""What must hold between a season and the same one changed, whatever the true best of either is.

Bounds are compared with the mixture of paths that the other one proves to be there: its value is never above
the least bound of its own season, and so on either side no tolerance is needed but that of rounding.
"""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from optimizer.night import Night
from optimizer.season.bound import SeasonBound, season_bounds
from optimizer.season.desk import Inline
from optimizer.season.pricing import Prices, bound_s
from tests.support.scenarios.small_season import small_season
from tests.support.season_oracle.judge import TinySeason, best_path
from tests.support.season_oracle.reachable import night_of
from tests.support.speeds import sampled

ROUNDING = 1e-7
OF_PROFITS = 1e-4  # by depth a frame's profit is a whole number of units
SEEDS = (2, 9, *range(300, 304))


def last_bound(season: TinySeason) -> SeasonBound:
    desk, refs = season.desk()
    return list(season_bounds(desk, refs, season.odds, Inline(desk)))[-1]


def with_odds(data: dict[str, Any], odds: list[float]) -> TinySeason:
    evenings = TinySeason(data).evenings
    asked = {"nights": len(odds), "clear_odds": 0.5}
    asked["clear_odds_by_evening"] = [  # type: ignore[assignment]
        [(evenings[0] + dt.timedelta(days=number)).isoformat(), each] for number, each in enumerate(odds)
    ]
    return TinySeason({**data, "season": asked})


@pytest.mark.parametrize("seed", sampled(SEEDS, quick=2))
def test_more_odds_or_one_night_more_never_lower_the_bound(seed: int) -> None:
    data = small_season(seed)
    fewer, more = with_odds(data, [0.5, 0.25]), with_odds(data, [0.7, 0.25])
    longer = with_odds(data, [0.5, 0.25, 0.9])
    base = last_bound(fewer).lp_value_s * (1 - ROUNDING)
    assert last_bound(more).bound_s >= base
    assert last_bound(longer).bound_s >= base


@pytest.mark.parametrize("seed", sampled(SEEDS, quick=1))
def test_nights_that_share_nothing_add_up(seed: int) -> None:
    """With more wanted than all nights bring, no night takes anything from another."""
    data = small_season(seed)
    data["aim"]["balance"] = 0
    for target in data["targets"]:
        for goal in target["goals"]:
            goal |= {"frames": 500, "done": 0}
    parts = [last_bound(with_odds(data, odds)) for odds in ([0.5, 0], [0, 0.9])]
    both = last_bound(with_odds(data, [0.5, 0.9]))
    assert both.bound_s >= sum(each.lp_value_s for each in parts) * (1 - ROUNDING)
    assert both.lp_value_s <= sum(each.bound_s for each in parts) * (1 + ROUNDING)


@pytest.mark.parametrize("seed", sampled(SEEDS, quick=1))
def test_order_of_targets_makes_no_difference(seed: int) -> None:
    data = small_season(seed)
    one, other = TinySeason(data), TinySeason({**data, "targets": data["targets"][::-1]})
    files = [each.planned(rounds=0) for each in (one, other)]
    assert files[0].nights == files[1].nights
    assert files[0].proof.value == files[1].proof.value
    assert files[0].proof.bound == files[1].proof.bound


@pytest.mark.parametrize("seed", sampled(SEEDS, quick=1))
def test_half_the_weight_of_all_is_half_of_every_bound(seed: int) -> None:
    data = small_season(seed)
    for target in data["targets"]:
        target["weight"] = 1.5
    whole = TinySeason(data)
    half = TinySeason({**data, "targets": [{**each, "weight": 0.75} for each in data["targets"]]})
    assert last_bound(half).bound_s == pytest.approx(last_bound(whole).bound_s / 2, rel=1e-3)
    rng = np.random.default_rng(seed)
    (desk, refs), (other, _) = whole.desk(), half.desk()
    frames_s = np.array([float(goal.frame_s) for goal in desk.projects.goals])
    costs, shares = frames_s * rng.uniform(0, 1, len(frames_s)), desk.projects.progress.plain
    paths, halves = (
        [best_path(on, ref, Prices(shares, part * costs)) for ref in refs]
        for on, part in ((desk, 1), (other, 0.5))
    )
    assert halves == pytest.approx([each / 2 for each in paths], rel=OF_PROFITS)
    assert bound_s(other.projects, Prices(shares, costs / 2), whole.odds, halves) == pytest.approx(
        bound_s(desk.projects, Prices(shares, costs), whole.odds, paths) / 2, rel=OF_PROFITS
    )


@pytest.mark.parametrize("odds", [1, 0.3])
@pytest.mark.parametrize("seed", sampled(SEEDS, quick=2))
def test_season_of_one_night_is_its_plan(seed: int, odds: float) -> None:
    data = {**small_season(seed), "season": {"nights": 1, "clear_odds": odds}}
    season = TinySeason(data)
    file = season.planned()
    shots = Night(night_of(data, season.evenings[0], season.evenings[0])).plan()
    assert shots.proof is not None
    taken: dict[tuple[str, str, float], int] = {}
    for step in shots.steps:
        if step.kind == "expose":
            key = (str(step.target), str(step.filter), float(step.exposure_s or 0))
            taken[key] = taken.get(key, 0) + 1
    told = {(each.target, each.filter, each.exposure_s): each.frames for each in file.nights[0].plan}
    assert told == taken
    value = Fraction(str(odds)) * Fraction(str(shots.proof.objective))
    assert file.proof.value == pytest.approx(float(value), abs=1.1e-3)
    assert file.proof.bound <= float(Fraction(str(odds)) * Fraction(str(shots.proof.bound))) + 1.1e-3
