"""A night in view of its season, for people: what tonight gives, and why each target is on or off."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.models.season_tonight import InSeason
from optimizer.report.words import count, name
from optimizer.words import safe

HEADING = "In view of the season"
MOST_ROWS = 40  # of more targets, those that are on come first


@dataclass(frozen=True)
class SeasonRow:
    """A target and the sentence that says why it is on or off."""

    target: str
    on: bool
    sentence: str


@dataclass(frozen=True)
class InSeasonFacts:
    """The sentences on the targets, those that are on first; `more` tells of rows that are left out."""

    heading: str
    rows: Sequence[SeasonRow]
    more: str


def in_season_facts(season: InSeason | None) -> InSeasonFacts | None:
    """What is told of the targets; None where the night was planned by itself or goes on with a list."""
    if season is None or not season.targets:
        return None
    rows = [
        SeasonRow(name(row.target), row.on, safe(row.sentence))
        for row in sorted(season.targets, key=lambda row: not row.on)
    ]
    left_out = len(rows) - MOST_ROWS
    return InSeasonFacts(
        HEADING, rows[:MOST_ROWS], f"{left_out} more are in the JSON." if left_out > 0 else ""
    )


def season_words(season: InSeason | None) -> str | None:
    """What tonight gives the season, in weighted hours; None where the list does not say."""
    if season is None or season.with_s is None or season.without_s is None:
        return None
    added, in_all = _tenths(season.with_s - season.without_s), _tenths(season.with_s)
    if not season.nights_after:
        return f"this is its last night: tonight adds {_hours(added)} of value"
    nights = count(season.nights_after, "later night" if season.rigs == 1 else "other night")
    if season.rigs > 1:
        nights += f" of {season.rigs} rigs"
    return (
        f"tonight adds {_hours(added)} of value to the plans of the {nights} as they stand, by their odds of "
        f"clear sky: {_hours(in_all - added)} without tonight, {_hours(in_all)} with it"
    )


def _tenths(seconds: float) -> int:
    """Tenths of an hour of value, rounded down."""
    return math.floor(seconds / 360 + 1e-9)


def _hours(tenths: int) -> str:
    return f"{tenths / 10:.1f} h"
