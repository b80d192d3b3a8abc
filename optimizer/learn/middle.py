"""The middle of some lengths: median, span, and the interval that the true median lies in.

The instants in file headers are often whole seconds. A gap between two of them is then known to a second
either way, and the middle of many is known far better than that: each is taken as spread over its second
(the median of grouped data of the textbooks), and lengths that hardly differ by more than that are averaged.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from statistics import fmean, median, stdev
from typing import NamedTuple

FEWEST = 3  # of fewer no middle is told
# Quantiles 0.975 of Student's t by degrees of freedom, as scipy.stats.t.ppf gives them; below six values no
# two of them hold the median between them with 95 %. And quantiles 0.995, of more values by a formula.
_T = {2: 4.303, 3: 3.182, 4: 2.776}
_T_SURE = {2: 9.925, 3: 5.841, 4: 4.604}
_NORMAL, _NORMAL_SURE = 1.96, 2.5758
_OF_MEDIAN = 1.2533  # deviation of a median over that of a mean, of many normal values: sqrt(pi/2)
SECOND_SD = 0.41  # deviation of the difference of two instants cut to whole seconds: sqrt(1/6)
_NARROW_S = 2.0  # whole seconds that differ by no more tell a mean, and no median


class Middle(NamedTuple):
    """Median, 5 % and 95 %, and from where to where the true median lies with 95 %; in seconds.

    `off_s` is by how much the median may be off, with 99 %, if the lengths are spread about normally.
    """

    median_s: float
    low_s: float
    high_s: float
    from_s: float
    to_s: float
    off_s: float


def middle_of(values: Iterable[float], *, whole_seconds: bool = False, least_spread_s: float = 0.0) -> Middle:
    """Find the middle of at least `FEWEST` lengths; `whole_seconds`: each is known to a second only.

    `least_spread_s` is a deviation that they have at least, however near to each other a few of them are: it
    makes `off_s` greater.

    The interval is that of order statistics, without an assumption on how the lengths are spread; for fewer
    than six values, and for lengths that the whole seconds alone spread, it is Student's.
    """
    ordered = sorted(values)
    count = len(ordered)
    if count < FEWEST:
        raise ValueError("too few lengths")
    low_s, high_s = (quantile(ordered, share, whole_seconds=whole_seconds) for share in (0.05, 0.95))
    narrow = whole_seconds and high_s - low_s <= _NARROW_S
    spread_s = max(stdev(ordered), SECOND_SD if whole_seconds and not narrow else 0.0)
    middle_s = fmean(ordered) if narrow else quantile(ordered, 0.5, whole_seconds=whole_seconds)
    deviation_s = spread_s / math.sqrt(count)
    off_s = sure_t(count - 1) * max(deviation_s, least_spread_s / math.sqrt(count))
    off_s *= 1.0 if narrow else _OF_MEDIAN
    if narrow or count - 1 in _T:
        half_s = _T.get(count - 1, _NORMAL) * deviation_s
        return Middle(middle_s, low_s, high_s, middle_s - half_s, middle_s + half_s, off_s)
    rank = median_rank(count)
    shares = (rank - 0.5) / count, (count - rank + 0.5) / count
    from_s, to_s = (
        (quantile(ordered, share, whole_seconds=True) for share in shares)
        if whole_seconds
        else (ordered[rank - 1], ordered[count - rank])
    )
    return Middle(middle_s, low_s, high_s, from_s, to_s, off_s)


def sure_t(freedom: int) -> float:
    """Quantile 0.995 of Student's t for two degrees of freedom or more.

    The expansion is that of Abramowitz & Stegun, 26.7.5.
    """
    if freedom in _T_SURE:
        return _T_SURE[freedom]
    z = _NORMAL_SURE
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    return z + first / freedom + second / freedom**2 + third / freedom**3


def median_rank(count: int) -> int:
    """The largest k for which the k-th least and the k-th greatest value hold the median with 95 %.

    As many values as not lie below the true median, each by even chance: fewer than k do with the chance
    that a binomial distribution of one half gives. There is none for fewer than six values: 0.
    """
    rank, ways, total = 0, 1, 1  # of 2 ** count ways, those with 0 values below, and with up to `rank`
    while 40 * total <= 2**count:
        rank += 1
        ways = ways * (count - rank + 1) // rank
        total += ways
    return rank


def quantile(ordered: Sequence[float], share: float, *, whole_seconds: bool = False) -> float:
    """The value below which this share of ascending values lies, linear between them."""
    if not whole_seconds:
        place = share * (len(ordered) - 1)
        below = math.floor(place)
        above = min(below + 1, len(ordered) - 1)
        return ordered[below] + (place - below) * (ordered[above] - ordered[below])
    # each value is spread over a second: the number of values below x grows by straight lines between edges
    edges = sorted([(value - 0.5, 1) for value in ordered] + [(value + 0.5, -1) for value in ordered])
    wanted = share * len(ordered)
    at, below_at, slope = edges[0][0], 0.0, 0
    for edge, change in edges:
        grown = below_at + slope * (edge - at)
        if slope and grown >= wanted - 1e-9:
            return at + (wanted - below_at) / slope
        at, below_at, slope = edge, grown, slope + change
    return at


def spread_of(values: Sequence[float]) -> float:
    """The deviation of lengths of which some are far outside: 1.4826 times their median distance.

    That number makes it the standard deviation where they are spread normally.
    """
    middle_s = median(values)
    return 1.4826 * median(abs(value - middle_s) for value in values)


def near_middle(values: Sequence[float], *, whole_seconds: bool = False) -> tuple[float, float]:
    """From where to where lengths belong together: five deviations, a quarter of the middle at least."""
    middle_s = median(values)
    room_s = max(5 * spread_of(values), 0.25 * abs(middle_s), 1.5 if whole_seconds else 0.5)
    return middle_s - room_s, middle_s + room_s
