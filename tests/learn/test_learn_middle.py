"""The middle of lengths, held against scipy and numpy, and against what chance really does."""

from __future__ import annotations

import itertools
import random
from statistics import median

import numpy as np
import pytest
from scipy.stats import binom
from scipy.stats import t as student

from optimizer.learn.middle import median_rank, middle_of, near_middle, quantile, spread_of, sure_t


def test_the_ranks_of_the_median_are_those_of_the_binomial_distribution() -> None:
    """Order-statistic interval of the median: any textbook of distribution-free statistics.

    The k-th least and k-th greatest of n values hold the median with 1 - 2 P(B <= k - 1), B binomial of one
    half, so that the greatest k for 95 % is the quantile 0.025 of it (scipy.stats.binom).
    """
    counts = [6, 7, 8, 9, 10, 11, 20, 37, 100, 333, 999, 1000, 1001, 5000]
    assert [median_rank(count) for count in counts] == [int(binom.ppf(0.025, n, 0.5)) for n in counts]
    assert [median_rank(count) for count in range(1, 6)] == [0] * 5


def test_students_quantiles_are_scipys() -> None:
    for freedom in (2, 3, 4):
        assert sure_t(freedom) == pytest.approx(student.ppf(0.995, freedom), abs=0.001)
    for freedom in (5, 6, 8, 12, 30, 200):
        assert sure_t(freedom) == pytest.approx(student.ppf(0.995, freedom), rel=0.007)
    three = middle_of([9.0, 10.0, 11.0])  # of deviation 1
    assert three.to_s - three.median_s == pytest.approx(student.ppf(0.975, 2) / 3**0.5, rel=1e-3)


def test_quantiles_are_numpys() -> None:
    values = sorted(random.Random(1).uniform(2, 9) for _ in range(31))
    for share in (0.0, 0.05, 0.5, 0.95, 1.0):
        assert quantile(values, share) == pytest.approx(float(np.quantile(values, share)))


def test_lengths_of_whole_seconds_are_spread_over_their_second() -> None:
    """Median of grouped data: 60 threes lie between 2.5 and 3.5, so half of 100 lie below 2.5 + 50 / 60."""
    values = [3.0] * 60 + [4.0] * 40
    assert quantile(values, 0.5, whole_seconds=True) == pytest.approx(2.5 + 50 / 60)
    assert quantile(values, 0.05, whole_seconds=True) == pytest.approx(2.5 + 5 / 60)
    assert quantile(values, 0.95, whole_seconds=True) == pytest.approx(3.5 + 35 / 40)


@pytest.mark.parametrize("true_s", [0.7, 1.3, 3.4, 4.6])
def test_what_whole_seconds_cut_off_is_averaged_out(true_s: float) -> None:
    starts = [place * (120 + true_s) for place in range(201)]
    gaps = [int(after) - int(before) - 120.0 for before, after in itertools.pairwise(starts)]
    middle = middle_of(gaps, whole_seconds=True)
    assert middle.median_s == pytest.approx(true_s, abs=0.01)
    assert middle.off_s < 0.1
    assert median(gaps) == round(true_s)  # which the plain median cannot tell


def test_the_interval_holds_the_median_as_often_as_it_says() -> None:
    rng = random.Random(5)
    for count in (6, 12, 40):
        held = 0
        for _ in range(400):
            middle = middle_of([rng.expovariate(1.0) for _ in range(count)])
            held += middle.from_s <= np.log(2) <= middle.to_s
        assert held >= 400 * 0.95 - 3 * (400 * 0.95 * 0.05) ** 0.5


def test_few_that_are_alike_may_be_said_to_vary_more() -> None:
    values = [10.0, 10.1, 9.9]
    assert middle_of(values, least_spread_s=1.0).off_s > 5 * middle_of(values).off_s
    with pytest.raises(ValueError, match="too few"):
        middle_of([1.0, 2.0])


def test_lengths_far_outside_do_not_move_what_belongs_together() -> None:
    rng = random.Random(3)
    values = [rng.gauss(15, 1.5) for _ in range(100)]
    assert spread_of(values) == pytest.approx(1.5, rel=0.2)
    low, high = near_middle([*values, 400.0, 900.0, 1200.0])
    assert low < min(values)
    assert max(values) < high < 30
