"""How scarce the list says its goals are: the rows, the factors that follow from them, and the hours anew."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import zip_longest
from statistics import median

from optimizer.audit.ahead import hours_ahead
from optimizer.audit.rows import key_of
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import (
    FACTOR_DIGIT,
    HOURS_AHEAD,
    HOURS_AHEAD_PER_ROOT_WINDOW,
    ROUNDING,
)
from optimizer.models.shots import GoalValue, ShotList, Violation

NAME = "values"
LEAST_H = 1.0  # fewer hours count as so many
LEAST_FACTOR, MOST_FACTOR = 0.001, 1000.0


def check_values(scene: Scene, shots: ShotList) -> Iterator[Violation]:
    """Rows that are missing, doubled, out of order or not asked for, and wrong hours and factors."""
    if not scene.request.aim.scarcity:
        if shots.values or shots.values_carried:
            yield scene.violation(
                NAME, None, len(shots.values), "rows", "values are given, but aim.scarcity is 0"
            )
        return
    misplaced = list(_rows(scene, shots.values))
    yield from misplaced
    if misplaced:
        return
    if shots.values_carried:
        yield from _kept_factors(scene, shots.values)
    else:
        yield from _factors(scene, shots.values)
        yield from _hours(scene, shots.values)


def _rows(scene: Scene, values: Sequence[GoalValue]) -> Iterator[Violation]:
    """Check one row for each goal, in file order; told is the first that is not the one it should be."""
    goals = scene.request.goals()
    if len(values) != len(goals):
        yield scene.violation(
            NAME,
            None,
            abs(len(values) - len(goals)),
            "rows",
            f"the values have {len(values)} rows; the request has {len(goals)} goals",
        )
    for row, asked in zip_longest(values, goals):
        told = row and (row.target, row.filter, row.exposure_s, row.gain, row.offset, row.binning)
        wanted = asked and key_of(*asked)
        if told != wanted:
            words = [
                f"{key[0]} in {key[1]} with {key[2]:g} s" if key else "nothing" for key in (told, wanted)
            ]
            yield scene.violation(
                NAME, None, 1, "rows", f"the values name {words[0]} where the request has {words[1]}"
            )
            return


def _factors(scene: Scene, values: Sequence[GoalValue]) -> Iterator[Violation]:
    """Check each factor against the list's own hours and their median over the goals not complete."""
    open_h = [
        max(LEAST_H, row.hours_ahead)
        for row, (_, goal) in zip(values, scene.request.goals(), strict=True)
        if goal.done < goal.frames and row.hours_ahead > 0
    ]
    middle_h = median(open_h) if open_h else LEAST_H
    for row in values:
        right = 1.0
        if row.hours_ahead > 0:
            right = (middle_h / max(LEAST_H, row.hours_ahead)) ** scene.request.aim.scarcity
            right = min(MOST_FACTOR, max(LEAST_FACTOR, right))
        off = abs(row.factor - right)
        if not off <= FACTOR_DIGIT + ROUNDING * right:
            yield scene.violation(
                NAME,
                None,
                off,
                "times",
                f"the factor of {row.target} in {row.filter} says {row.factor:g}; by {row.hours_ahead:g} h, "
                f"where {middle_h:g} h are the median, it is {right:.3f}",
            )


def _kept_factors(scene: Scene, values: Sequence[GoalValue]) -> Iterator[Violation]:
    """Check factors of another night, whose median the list does not tell: one median must explain all."""
    exponent = scene.request.aim.scarcity
    least, most = 0.0, math.inf
    for row in values:
        if row.hours_ahead > 0 and LEAST_FACTOR < row.factor < MOST_FACTOR:
            power = max(LEAST_H, row.hours_ahead) ** exponent
            least = max(least, (row.factor - FACTOR_DIGIT) * power)
            most = min(most, (row.factor + FACTOR_DIGIT) * power)
        elif row.factor != 1.0 and not LEAST_FACTOR <= row.factor <= MOST_FACTOR:
            yield scene.violation(
                NAME,
                None,
                row.factor,
                "times",
                f"the factor of {row.target} in {row.filter} is {row.factor:g}",
            )
    if least > most * (1 + ROUNDING):
        yield scene.violation(
            NAME, None, least - most, "times", "no median explains all factors by the hours beside them"
        )


def _hours(scene: Scene, values: Sequence[GoalValue]) -> Iterator[Violation]:
    """Check each row's hours against those counted by the audit itself."""
    nights = scene.request.aim.look_ahead_nights
    ahead = hours_ahead(scene.request)
    for row in values:
        own = ahead[row.target, row.filter]
        forgiven_h = HOURS_AHEAD + HOURS_AHEAD_PER_ROOT_WINDOW * math.sqrt(own.windows)
        off = abs(row.hours_ahead - own.hours)
        if not off <= forgiven_h:
            yield scene.violation(
                NAME,
                None,
                off,
                "h",
                f"hours_ahead of {row.target} in {row.filter} says {row.hours_ahead:g}; in {nights} nights "
                f"it may be shot for {own.hours:.1f} h",
            )
