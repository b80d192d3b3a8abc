"""A night in view of its season, in the terminal: what tonight gives, and why each target is on or off."""

from __future__ import annotations

import math

from rich.console import RenderableType
from rich.text import Text

from optimizer.models.season_tonight import InSeason
from optimizer.models.shots import ShotList
from optimizer.report.tables import heading, labelled
from optimizer.report.words import name
from optimizer.words import count, safe

LABEL = "Season"
MOST_ROWS = 40  # of more targets, those that are on come first


def season_words(season: InSeason) -> str | None:
    """What tonight gives the season, in weighted hours; None in a list that goes on with a night."""
    if season.with_s is None or season.without_s is None:
        return None
    added = _hours(season.with_s - season.without_s)
    if not season.nights_after:
        return f"this is its last night: tonight adds {added}"
    nights = count(season.nights_after, "later night")
    return (
        f"tonight adds {added} of value to the plans of the {nights} as they stand, by their odds of clear "
        f"sky: {_hours(season.without_s)} without tonight, {_hours(season.with_s)} with it"
    )


def _hours(seconds: float) -> str:
    """Hours of value to tenths, rounded down."""
    return f"{math.floor(seconds / 360 + 1e-9) / 10:.1f} h"


def in_season_parts(shots: ShotList) -> list[RenderableType]:
    """The sentences on the targets, those that are on first; none where the night was planned by itself."""
    if shots.season is None or not shots.season.targets:
        return []
    rows = sorted(shots.season.targets, key=lambda row: not row.on)
    parts: list[RenderableType] = [Text(), heading("In view of the season")]
    for row in rows[:MOST_ROWS]:
        style = "bold" if row.on else ""
        line = Text(f"{name(row.target)}  ", style=style)
        parts.append(line.append(safe(row.sentence), style="not bold"))
    if len(rows) > MOST_ROWS:
        parts.append(Text(f"{len(rows) - MOST_ROWS} more are in the JSON.", style="dim"))
    return parts


def season_line(shots: ShotList) -> list[RenderableType]:
    """The line at a glance; none where the night was planned by itself."""
    words = None if shots.season is None else season_words(shots.season)
    return [] if words is None else [labelled(LABEL, words)]
