"""The best season of all: one column a night, by complete enumeration, or by a mixed-integer programme.

Also what can be expected at most of anyone who plans from night to night, or who knows the weather beforehand.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import pairwise, product

import numpy as np

from tests.support.oracle.worth import progress
from tests.support.season_oracle.law import SeasonLaw
from tests.support.season_oracle.reachable import Column, without_worse

MOST_COMBINATIONS = 20_000
SCALE_S = 1000.0


@dataclass(frozen=True)
class Best:
    """The value of the best season lies from `value_s`, that of a choice, to `most_s`."""

    value_s: Fraction
    most_s: float


def best_season(law: SeasonLaw, nights: Sequence[Sequence[Column]], odds: Sequence[Fraction]) -> Best:
    """The best choice of a column for each night within what is left, by odds and in each night."""
    kept = useful(law, nights, odds)
    if math.prod(len(own) for own in kept) <= MOST_COMBINATIONS:
        value = enumerated(law, kept, odds)
        return Best(value, float(value))
    return by_programme(law, kept, odds)


def useful(
    law: SeasonLaw, nights: Sequence[Sequence[Column]], odds: Sequence[Fraction]
) -> list[list[Column]]:
    """The columns of each night without those that no best season needs; a night without odds has none."""
    most = [
        sum(
            (
                chance * max(column.frames[goal] for column in own)
                for chance, own in zip(odds, nights, strict=True)
            ),
            Fraction(),
        )
        for goal in range(len(law.left))
    ]
    scarce = [total > left for total, left in zip(most, law.left, strict=True)]
    nothing = [Column((0,) * len(law.left), (Fraction(0),) * len(law.left))]
    return [
        without_worse(own, scarce) if chance else nothing for own, chance in zip(nights, odds, strict=True)
    ]


def enumerated(law: SeasonLaw, nights: Sequence[Sequence[Column]], odds: Sequence[Fraction]) -> Fraction:
    """By going through all choices."""
    best = Fraction(0)
    for choice in product(*nights):
        taken = [_total(odds, [column.frames[goal] for column in choice]) for goal in range(len(law.left))]
        if all(got <= left for got, left in zip(taken, law.left, strict=True)):
            gathered = [
                _total(odds, [column.gathered_s[goal] for column in choice]) for goal in range(len(law.left))
            ]
            best = max(best, law.value_s(gathered))
    return best


def _total(odds: Sequence[Fraction], each: Sequence[Fraction | int]) -> Fraction:
    return sum((chance * own for chance, own in zip(odds, each, strict=True)), Fraction())


def by_programme(law: SeasonLaw, nights: Sequence[Sequence[Column]], odds: Sequence[Fraction]) -> Best:
    """By mixed-integer programming: which column each night has, y of each set, what each goal lacks of it."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import lil_array

    chosen = [(night, column) for night, own in enumerate(nights) for column in own]
    whole = math.lcm(*(chance.denominator for chance in odds))
    of_sets = [goal for own in law.sets for goal in own]
    goals, first_y = len(law.left), len(chosen)
    first_lack, columns = first_y + len(law.sets), first_y + len(law.sets) + len(of_sets)
    matrix = lil_array((len(nights) + goals + len(of_sets), columns))
    most = np.zeros(matrix.shape[0])
    gains, upper = np.zeros(columns), np.ones(columns)
    most[: len(nights)] = 1
    for place, (night, column) in enumerate(chosen):
        matrix[night, place] = 1
        for goal, frames in enumerate(column.frames):
            if frames:
                matrix[len(nights) + goal, place] = int(whole * odds[night]) * frames
        for goal, got in enumerate(column.gathered_s):
            own = 1 - law.balance if goal in of_sets else 1
            gains[place] += float(odds[night] * own * got) / SCALE_S
    most[len(nights) : len(nights) + goals] = [whole * left for left in law.left]
    before, row = 0.0, len(nights) + goals
    for number, members in enumerate(law.sets):
        all_ = sum(law.wanted_s[goal] for goal in members)
        gains[first_y + number] = float(law.balance * all_) / SCALE_S
        for goal in members:
            lack = first_lack + of_sets.index(goal)
            gains[lack], upper[lack] = -2 * float(law.balance), np.inf
            matrix[row, first_y + number] = float(law.wanted_s[goal]) / SCALE_S
            matrix[row, lack] = -1
            for place, (night, column) in enumerate(chosen):
                if column.gathered_s[goal]:
                    matrix[row, place] = -float(odds[night] * column.gathered_s[goal]) / SCALE_S
            most[row] = float(law.in_hand_s[goal]) / SCALE_S
            row += 1
    for members in law.sets:  # the programme's value has what is in hand before the season in it
        wanted = [law.wanted_s[goal] for goal in members]
        shares = [law.in_hand_s[goal] / law.wanted_s[goal] for goal in members]
        before += float(law.balance * sum(wanted) * progress(wanted, shares))
    whole_numbers = np.zeros(columns)
    whole_numbers[:first_y] = 1
    solved = milp(
        -gains,
        integrality=whole_numbers,
        bounds=Bounds(np.zeros(columns), upper),
        constraints=LinearConstraint(matrix.tocsr(), -np.inf, most),
        options={"mip_rel_gap": 0.0, "time_limit": 60.0},
    )
    assert solved.x is not None, solved.message
    nothing_at_all = Column((0,) * goals, (Fraction(0),) * goals)
    choice = [nothing_at_all] * len(nights)
    for place, (night, column) in enumerate(chosen):
        if solved.x[place] > 0.5:
            choice[night] = column
    taken = [_total(odds, [column.frames[goal] for column in choice]) for goal in range(goals)]
    assert all(got <= left for got, left in zip(taken, law.left, strict=True)), "a choice beyond what is left"
    value = law.value_s(
        [_total(odds, [column.gathered_s[goal] for column in choice]) for goal in range(goals)]
    )
    return Best(value, max(float(value), -solved.mip_dual_bound * SCALE_S - before))


def best_policy(law: SeasonLaw, nights: Sequence[Sequence[Column]], odds: Sequence[Fraction]) -> Fraction:
    """What the best of all policies may expect, night by night, if nights are clear independently.

    A policy knows whether tonight is clear, what is in hand, and the odds of the nights to come.
    """
    goals = range(len(law.left))

    @cache
    def expected(number: int, left: tuple[int, ...], gathered: tuple[Fraction, ...]) -> Fraction:
        if number == len(nights):
            return law.value_s(gathered)
        cloudy = expected(number + 1, left, gathered)
        clear = cloudy
        for column in nights[number] if odds[number] else ():
            after = tuple(left[goal] - column.frames[goal] for goal in goals)
            if min(after) >= 0:
                more = tuple(gathered[goal] + column.gathered_s[goal] for goal in goals)
                clear = max(clear, expected(number + 1, after, more))
        return odds[number] * clear + (1 - odds[number]) * cloudy

    return expected(0, law.left, (Fraction(0),) * len(law.left))


def best_foreseen(
    law: SeasonLaw, nights: Sequence[Sequence[Column]], weathers: Iterator[tuple[Fraction, tuple[bool, ...]]]
) -> Fraction:
    """What someone expects who knows beforehand which nights of a season are clear."""
    total = Fraction(0)
    for chance, clear in weathers:
        if chance:
            total += chance * best_season(law, nights, [Fraction(each) for each in clear]).value_s
    return total


def independent(odds: Sequence[Fraction]) -> Iterator[tuple[Fraction, tuple[bool, ...]]]:
    """Weathers in which no night says anything about another."""
    for clear in product((False, True), repeat=len(odds)):
        yield (
            math.prod(
                (p if is_clear else 1 - p for p, is_clear in zip(odds, clear, strict=True)), start=Fraction(1)
            ),
            clear,
        )


def all_alike(odds: Sequence[Fraction]) -> Iterator[tuple[Fraction, tuple[bool, ...]]]:
    """Weathers in which every night that is likelier to be clear is so wherever another one is."""
    edges = sorted({Fraction(0), Fraction(1), *odds})
    for low, high in pairwise(edges):
        yield high - low, tuple(low < each for each in odds)
