"""The rhythm of a run: which gaps between its subs hold a dither, by their lengths or by their places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from optimizer.learn.gaps import Gap
from optimizer.learn.middle import FEWEST, near_middle, quantile, spread_of

MOST_DITHER = 4.0  # a dither takes no more than so many times what is planned for it, or `MOST_DITHER_S`
MOST_DITHER_S = 30.0
MOST_LOST = 3  # of more subs lost in one gap nobody can tell the number
MOST_STRAYS = 0.2  # gaps that are longer, or shorter, than the others that should be like them, as a share
By = Literal["all", "length", "place", "each"]


@dataclass(frozen=True)
class Placed:
    """A gap within a run, and how many subs of the run there were before it; None where nobody knows."""

    gap: Gap
    place: int | None


@dataclass(frozen=True)
class Rhythm:
    """How long the gaps within runs are.

    `plain` is from where to where those last that hold nothing but download and overhead, `dithered` the same
    for those that hold a dither too; either is None where there are none. `by` says how they were parted:
    `all` are plain, or `each` holds a dither, or by `length`, or by `place` in the run. `base_s` is a usual
    plain gap, `dither_s` how much a dither adds.
    """

    by: By
    every: int
    plain: tuple[float, float] | None
    dithered: tuple[float, float] | None
    base_s: float
    dither_s: float
    in_step: bool = True

    @property
    def longest_s(self) -> float:
        """Gaps that last longer hold more than a download and a dither."""
        return max(span[1] for span in (self.plain, self.dithered, (0.0, self.base_s)) if span)

    def holds_dither(self, seconds: float, place: int | None) -> bool | None:
        """Whether a gap holds a dither; None where it is longer, or where that cannot be told."""
        dithers: bool | None = None
        if self.by == "length":
            for span, answer in ((self.plain, False), (self.dithered, True)):
                if span and span[0] <= seconds <= span[1]:
                    dithers = answer
            return dithers
        if self.by in ("all", "each"):
            dithers = self.by == "each"
        elif place is not None:
            dithers = place % self.every == 0
        span = self.dithered if dithers else self.plain
        return dithers if span and dithers is not None and span[0] <= seconds <= span[1] else None

    def lost(self, seconds: float, exposure_s: float) -> int | None:
        """How many subs a gap leaves room for whose files are missing; None where it is no such number."""
        whole = round((seconds - self.base_s) / (exposure_s + self.base_s))
        for count in (whole - 1, whole, whole + 1):
            if 1 <= count <= MOST_LOST:
                left_s = seconds - self.base_s - count * (exposure_s + self.base_s)
                room_s = max(1.5, 0.3 * self.base_s * (count + 1) ** 0.5)
                dithers = 0 if not self.every else -(-(count + 1) // self.every)
                if -room_s <= left_s <= room_s + dithers * self.dither_s * 1.2:
                    return count
        return None


def rhythm_of(
    placed: Sequence[Placed], every: int, base_s: float, dither_s: float, *, whole_seconds: bool
) -> Rhythm:
    """Find how long plain and dithered gaps are; `base_s` and `dither_s` are what is planned of them.

    `every` is `camera.dither_every`: with 0 no gap holds a dither, with 1 each does.
    """
    values = sorted(each.gap.seconds for each in placed)
    if len(values) < FEWEST:
        # too few to tell a length, but not to tell what they are
        span = (-1.0, base_s + max(MOST_DITHER * dither_s, MOST_DITHER_S))
        by: By = "all" if not every else "each" if every == 1 else "place"
        return Rhythm(by, every, span, span, base_s, dither_s)
    if every <= 1:
        # lost subs, autofocus and clouds are few: most gaps are short
        middle_s = median(values)
        span = near_middle([v for v in values if v <= middle_s + MOST_DITHER_S], whole_seconds=whole_seconds)
        longer = sum(span[1] < v <= middle_s + MOST_DITHER_S for v in values)
        if longer >= FEWEST and longer > MOST_STRAYS * len(values):
            # dithers that come though none are asked for, or not in each gap
            if every == 1:
                return Rhythm("each", 1, None, None, max(0.0, middle_s), dither_s, in_step=False)
            return Rhythm("all", 0, span, None, middle_s, 0.0, in_step=False)
        if every == 1:
            return Rhythm("each", 1, None, span, min(base_s, max(0.0, middle_s)), dither_s)
        return Rhythm("all", 0, span, None, middle_s, 0.0)
    low_s = quantile(values, (1 - 1 / every) / 2)
    most_s = low_s + max(MOST_DITHER * dither_s, MOST_DITHER_S)
    small = [each for each in placed if each.gap.seconds <= most_s]
    by_length = _by_length(placed, small, every, low_s, dither_s, whole_seconds)
    return by_length or _by_place(small, every, low_s, dither_s, whole_seconds)


def _by_length(
    placed: Sequence[Placed],
    small: Sequence[Placed],
    every: int,
    low_s: float,
    dither_s: float,
    whole_seconds: bool,
) -> Rhythm | None:
    """Two groups of lengths that are well apart: the gaps' own, whatever their place."""
    values = sorted(each.gap.seconds for each in small)
    noise_s = 0.4 if whole_seconds else 0.02
    lower_s, upper_s = low_s, quantile(values, 1 - 1 / (2 * every))
    split_s = (lower_s + upper_s) / 2
    lower: list[float] = []
    upper: list[float] = []
    spreads = noise_s, noise_s
    for _ in range(20):
        lower, upper = [v for v in values if v <= split_s], [v for v in values if v > split_s]
        if len(lower) < FEWEST or len(upper) < FEWEST:
            return None
        lower_s, upper_s = median(lower), median(upper)
        spreads = max(noise_s, spread_of(lower)), max(noise_s, spread_of(upper))
        before_s, split_s = split_s, (lower_s * spreads[1] + upper_s * spreads[0]) / sum(spreads)
        if split_s == before_s:
            break
    if upper_s - lower_s < 2 * sum(spreads):
        return None
    plain = near_middle(lower, whole_seconds=whole_seconds)
    dithered = near_middle(upper, whole_seconds=whole_seconds)
    plain, dithered = (plain[0], min(plain[1], split_s)), (max(dithered[0], split_s), dithered[1])
    if not _in_step(placed, every, dithered):
        return Rhythm("length", every, plain, None, lower_s, dither_s, in_step=False)
    return Rhythm("length", every, plain, dithered, lower_s, upper_s - lower_s)


def _in_step(placed: Sequence[Placed], every: int, dithered: tuple[float, float]) -> bool:
    """Whether most of the longer gaps come as `dither_every` has it.

    They do after each so many subs of a run, or so many after the one before, where the count went wrong.
    """
    due = longer = in_step = 0
    since: int | None = None
    before: Placed | None = None
    for each in placed:
        if before is None or before.gap.after.frame is not each.gap.before.frame:
            since = None
        before = each
        since = None if since is None else since + 1
        is_due = each.place is not None and each.place % every == 0
        due += is_due
        if dithered[0] <= each.gap.seconds <= dithered[1]:
            longer += 1
            in_step += is_due or since == every
            since = 0
        elif each.gap.seconds > dithered[1]:
            since = None
    return longer >= max(FEWEST, 0.4 * due) and in_step >= (1 + 1 / every) / 2 * longer


def _by_place(
    small: Sequence[Placed], every: int, low_s: float, dither_s: float, whole_seconds: bool
) -> Rhythm:
    """The gaps after each so many subs of a run against all others, whatever their length."""
    due = [each.gap.seconds for each in small if each.place is not None and each.place % every == 0]
    others = [each.gap.seconds for each in small if each.place is not None and each.place % every]
    plain = near_middle(others, whole_seconds=whole_seconds) if len(others) >= FEWEST else None
    dithered = near_middle(due, whole_seconds=whole_seconds) if len(due) >= FEWEST else None
    base_s = median(others) if plain else low_s
    if dithered:
        # a middle of gaps with a dither and of others without one is the length of neither
        strays = sum(not dithered[0] <= value <= dithered[1] for value in due)
        if strays > MOST_STRAYS * len(due):
            return Rhythm("place", every, plain, None, base_s, dither_s, in_step=False)
    return Rhythm(
        "place", every, plain, dithered, base_s, max(0.0, median(due) - base_s) if dithered else dither_s
    )
