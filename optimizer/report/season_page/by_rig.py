"""What the season's page needs to show one rig alone: its cells of the map, in short, for the script."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.report.season_page.details import planned_nights
from optimizer.report.season_page.facts import Column, SeasonFacts, rig_cells, sky_of
from optimizer.report.season_page.marks import rig_marks, sky_marks
from optimizer.report.words import name
from optimizer.words import safe

NOT_ITS_OWN = "-"  # the row of a target that is not the rig's
PlannedNights = list[tuple[int, str, str]]


@dataclass(frozen=True)
class ByRig:
    """The names of the rigs, and in their order, parted by `|`, the cells of each row and of the map's head.

    `planned` has for each row the evenings on which a rig's plan has the target. All is empty for one rig.
    """

    names: tuple[str, ...]
    rows: dict[int, str]
    heads: tuple[str, ...]
    planned: dict[int, list[tuple[str, PlannedNights]]]


def by_rig(facts: SeasonFacts) -> ByRig:
    """What the page shows of one rig alone."""
    if not facts.several:
        return ByRig((), {}, ("",) * 3, {})
    rows: dict[int, list[str]] = {row.number: [] for row in facts.rows}
    planned: dict[int, list[tuple[str, PlannedNights]]] = {row.number: [] for row in facts.rows}
    for rig in facts.rigs:
        cells = rig_cells(facts, rig)
        for number, parts in rows.items():
            parts.append(rig_marks(cells[number]) if number in cells else NOT_ITS_OWN)
            nights = planned_nights(cells.get(number, ()), facts)
            if nights:
                planned[number].append((name(rig.name, 60), nights))
    heads = [_head(facts, rig.number) for rig in facts.rigs]
    return ByRig(
        tuple(safe(rig.name) for rig in facts.rigs),
        {number: "|".join(parts) for number, parts in rows.items()},
        tuple("|".join(each) for each in zip(*heads, strict=True)),
        planned,
    )


def _head(facts: SeasonFacts, rig: int) -> list[str]:
    """The head of the map as one rig has it: of each row and evening the levels of its bars and its text."""
    of_evening = [_sky(column, rig) for column in facts.columns]
    return [" ".join(each) for each in zip(*of_evening, strict=True)]


def _sky(column: Column, rig: int) -> list[str]:
    if rig not in column.nights:
        return [",", ",", ","]
    marks = sky_marks(sky_of([column.nights[rig]], column.sky.longest_s))
    return [f"{mark.class_.replace(' ', '/')},{mark.text}" for mark in marks]
