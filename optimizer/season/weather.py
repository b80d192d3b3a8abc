"""Weathers of a season, sampled: which nights are clear, by the odds of each and how alike neighbours are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from optimizer.season.desk import NightRef

Bools = NDArray[np.bool_]


def weathers_by_place(
    refs: Sequence[NightRef],
    odds: Sequence[Fraction],
    places: Sequence[int],
    persistence: float,
    seasons: int,
    seed: int,
) -> Bools:
    """Which nights of some rigs are clear in each sampled season, [seasons, nights]; `places` are by rig.

    Rigs at one place share their weather; that of different places is independent. Each rig's nights are in
    the order of their evenings.
    """
    clear = np.zeros((seasons, len(refs)), dtype=np.bool_)
    for rig in sorted({ref.rig for ref in refs}):
        own = [number for number, ref in enumerate(refs) if ref.rig == rig]
        of_place = [seed, places[rig]] if places[rig] else seed
        clear[:, own] = sampled_weathers([odds[each] for each in own], persistence, seasons, of_place)
    return clear


def sampled_weathers(
    odds: Sequence[Fraction], persistence: float, seasons: int, seed: int | Sequence[int]
) -> Bools:
    """Which nights are clear in each sampled season, [seasons, nights]; the same for the same arguments.

    A Markov chain: every night is clear at exactly its own odds, whatever the persistence, and two nights
    that follow each other have the correlation `persistence`, or as much of it as their odds allow
    (`correlation_allowed`). Odds of 0 or 1 leave nothing to correlate with: the night after such a one is
    drawn by its own odds alone.
    """
    draws = np.random.default_rng(seed).random((seasons, len(odds)))
    clear = np.zeros(draws.shape, dtype=np.bool_)
    for number, share in enumerate(odds):
        if not number:
            clear[:, 0] = draws[:, 0] < float(share)
            continue
        after_cloud, after_clear = odds_after(odds[number - 1], share, persistence)
        clear[:, number] = draws[:, number] < np.where(clear[:, number - 1], after_clear, after_cloud)
    return clear


def odds_after(before: Fraction, share: Fraction, persistence: float) -> tuple[float, float]:
    """The odds of a night of odds `share` after a cloudy and after a clear night of odds `before`.

    With a correlation r they are p - r s q and p + r s (1 - q), where p is the night's own odds, q those of
    the night before and s the ratio of their standard deviations, so that the mean of the two is p.
    """
    p, q = float(share), float(before)
    if not (0.0 < p < 1.0 and 0.0 < q < 1.0):
        return p, p
    slope = min(persistence, correlation_allowed(before, share)) * math.sqrt(p * (1 - p) / (q * (1 - q)))
    return max(0.0, p - slope * q), min(1.0, p + slope * (1 - q))


def correlation_allowed(before: Fraction, share: Fraction) -> float:
    """The most that two nights of these odds, neither 0 nor 1, can be correlated.

    It is 1 for equal odds: with others one night must now and then be clear without the other.
    """
    p, q = float(share), float(before)
    ratio = p * (1 - q) / (q * (1 - p))
    return math.sqrt(min(ratio, 1 / ratio))
