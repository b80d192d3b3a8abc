"""Scarce hours in the terminal."""

from __future__ import annotations

from rich.console import RenderableType
from rich.text import Text

from optimizer.models.shots import ShotList
from optimizer.report.fitted import Fitted
from optimizer.report.scarce_facts import COUNTS, scarce_facts
from optimizer.report.tables import heading, plain_table
from optimizer.report.words import tied

COLUMNS = ("target", "filters", "hours ahead", COUNTS)


def scarce_parts(shots: ShotList) -> list[RenderableType]:
    """The lines on scarce hours; none where all goals count alike."""
    facts = scarce_facts(shots.request, shots.night, shots.steps, shots.values, carried=shots.values_carried)
    if facts is None:
        return []
    table = plain_table(*COLUMNS, right=COLUMNS[2:])
    stacked: list[RenderableType] = []
    for number, row in enumerate(facts.rows):
        if facts.at and number == facts.at:
            table.add_row(Text(facts.between, style="dim"))
            stacked.append(Text(facts.between, style="dim"))
        table.add_row(Text(row.target), Text(row.filters), row.hours, Text(row.counts, style="bold"))
        stacked.append(
            Text(f"{row.target} {row.filters}: {tied(row.hours)} ahead, {COUNTS} {tied(row.counts)}")
        )
    notes = [Text(note, style="dim") for note in facts.notes]
    return [
        Text(),
        heading(facts.heading),
        Fitted(table, ("filters",), ("target",), lambda: stacked),
        *notes,
    ]
