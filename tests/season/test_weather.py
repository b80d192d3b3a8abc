"""Sampled weathers: every night clear at its own odds, neighbours as alike as asked, the same for one seed."""

from __future__ import annotations

import datetime as dt
import math
from fractions import Fraction

import numpy as np
import pytest

from optimizer.models.site import Site
from optimizer.season.desk import NightRef
from optimizer.season.places import places_of
from optimizer.season.weather import (
    correlation_allowed,
    odds_after,
    sampled_weathers,
    weathers_by_place,
)

SEASONS = 60_000
CHANGING = [Fraction(share, 10) for share in (5, 5, 3, 4, 7, 7, 2)]


@pytest.mark.parametrize("persistence", [0.0, 0.3, 0.6, 0.95])
def test_nights_are_clear_at_their_own_odds_and_as_alike_as_asked(persistence: float) -> None:
    clear = sampled_weathers(CHANGING, persistence, SEASONS, 4).astype(float)
    for number, share in enumerate(CHANGING):
        error = math.sqrt(float(share * (1 - share)) / SEASONS)
        assert clear[:, number].mean() == pytest.approx(float(share), abs=5 * error)
    for number in range(1, len(CHANGING)):
        most = correlation_allowed(CHANGING[number - 1], CHANGING[number])
        found = np.corrcoef(clear[:, number - 1], clear[:, number])[0, 1]
        assert found == pytest.approx(min(persistence, most), abs=5 / math.sqrt(SEASONS))


def test_the_correlation_dies_away_as_in_a_markov_chain() -> None:
    clear = sampled_weathers([Fraction(1, 2)] * 3, 0.6, SEASONS, 1).astype(float)
    found = np.corrcoef(clear[:, 0], clear[:, 2])[0, 1]
    assert found == pytest.approx(0.36, abs=5 / math.sqrt(SEASONS))


@pytest.mark.parametrize("before", [Fraction(1, 10), Fraction(1, 2), Fraction(9, 10)])
@pytest.mark.parametrize("share", [Fraction(1, 5), Fraction(1, 2), Fraction(19, 20)])
def test_odds_after_cloud_and_after_clear_sky_have_the_night_s_own_odds_as_their_mean(
    before: Fraction, share: Fraction
) -> None:
    after_cloud, after_clear = odds_after(before, share, 0.99)
    assert 0 <= after_cloud <= after_clear <= 1
    mean = float(before) * after_clear + float(1 - before) * after_cloud
    assert mean == pytest.approx(float(share), abs=1e-12)


def test_nights_that_are_sure_are_sure_and_what_follows_keeps_its_odds() -> None:
    odds = [Fraction(1), Fraction(1, 4), Fraction(0), Fraction(3, 4)]
    clear = sampled_weathers(odds, 0.8, SEASONS, 2)
    assert clear[:, 0].all()
    assert not clear[:, 2].any()
    assert clear[:, 1].mean() == pytest.approx(0.25, abs=0.01)
    assert clear[:, 3].mean() == pytest.approx(0.75, abs=0.01)


def test_one_seed_gives_one_weather_and_another_seed_another() -> None:
    odds = [Fraction(1, 2)] * 20
    assert np.array_equal(sampled_weathers(odds, 0.3, 30, 5), sampled_weathers(odds, 0.3, 30, 5))
    assert not np.array_equal(sampled_weathers(odds, 0.3, 30, 5), sampled_weathers(odds, 0.3, 30, 6))


def test_later_odds_change_nothing_of_the_nights_before() -> None:
    long, short = [Fraction(1, 2)] * 9, [Fraction(1, 2)] * 8 + [Fraction(1, 5)]
    first, second = (sampled_weathers(odds, 0.3, 30, 5) for odds in (long, short))
    assert np.array_equal(first[:, :8], second[:, :8])


def site(latitude_deg: float, longitude_deg: float) -> Site:
    return Site(
        name="x", latitude_deg=latitude_deg, longitude_deg=longitude_deg, time_zone="UTC", floor_deg=20
    )


def test_sites_within_twenty_kilometres_are_one_place() -> None:
    """A degree of latitude is 111.2 km: 0.17 are 18.9, 0.19 are 21.1; at 60 degrees one of longitude is half."""
    sites = [
        site(44, 8),
        site(44.17, 8),
        site(44.19, 8),
        site(60, 179.9),
        site(60, -179.8),
        site(44.18, 8.01),
    ]
    assert places_of(sites) == (0, 0, 1, 2, 2, 1)


def test_rigs_at_one_place_have_one_weather_and_other_places_their_own() -> None:
    evenings = [dt.date(2026, 11, 1) + dt.timedelta(days=number) for number in range(10)]
    refs = [NightRef(rig, evening) for evening in evenings for rig in range(3)]
    odds = [Fraction(1, 2)] * len(refs)
    clear = weathers_by_place(refs, odds, (0, 1, 0), 0.4, 4000, 7)
    alone = sampled_weathers([Fraction(1, 2)] * 10, 0.4, 4000, 7)
    assert np.array_equal(clear[:, 0::3], alone)  # the first place has the weather that it has by itself
    assert np.array_equal(clear[:, 2::3], alone)
    together = np.corrcoef(clear[:, 0::3].ravel(), clear[:, 1::3].ravel())[0, 1]
    assert abs(together) < 5 / math.sqrt(4000)
