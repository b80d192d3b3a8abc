"""A night in view of its season, in the terminal."""

from __future__ import annotations

from rich.console import RenderableType
from rich.text import Text

from optimizer.models.shots import ShotList
from optimizer.report.in_season_facts import in_season_facts, season_words
from optimizer.report.tables import heading, labelled

LABEL = "Season"


def in_season_parts(shots: ShotList) -> list[RenderableType]:
    """The sentences on the targets; none where the night was planned by itself."""
    facts = in_season_facts(shots.season)
    if facts is None:
        return []
    parts: list[RenderableType] = [Text(), heading(facts.heading)]
    for row in facts.rows:
        line = Text(f"{row.target}  ", style="bold" if row.on else "")
        parts.append(line.append(row.sentence, style="not bold"))
    return [*parts, Text(facts.more, style="dim")] if facts.more else parts


def season_line(shots: ShotList) -> list[RenderableType]:
    """The line at a glance; none where the night was planned by itself."""
    words = season_words(shots.season)
    return [] if words is None else [labelled(LABEL, words)]
