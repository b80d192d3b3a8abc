"""The targets of a request as a table for a spreadsheet, which a request can name as `targets_csv`."""

from __future__ import annotations

from typing import Any

from optimizer.diagnostics.csv_cells import guarded, plain_number, quoted_cell
from optimizer.models.targets import Goal, Target
from optimizer.reading.targets_file import OF_GOAL, names_cell, text_cell

OF_TARGET = (
    "object",
    "ra_deg",
    "dec_deg",
    "position_angle_deg",
    "weight",
    "floor_deg",
    "least_min",
    "sides",
    "aliases",
    "rigs",
)
COLUMNS = ("name", *OF_TARGET, *OF_GOAL)


def targets_csv(targets: tuple[Target, ...]) -> str:
    """Write a header and a row for each goal; read back, it gives the same targets.

    A target's own cells stand in its first row, its name in each, so that rows may be sorted. Sets and what
    filters give are written out.
    """
    rows = [
        row
        for target in targets
        for number, goal in enumerate(target.goals)
        for row in [_row(target, goal, number)]
    ]
    return "\n".join([",".join(COLUMNS), *rows]) + "\n"


def _row(target: Target, goal: Goal, number: int) -> str:
    own = [_cell(getattr(target, column)) if number == 0 else "" for column in OF_TARGET]
    # frames follow from hours: written beside them they would have to be changed with them
    wanted = [
        "" if column == "frames" and goal.hours is not None else _cell(getattr(goal, column))
        for column in OF_GOAL
    ]
    return ",".join([_cell(target.name), *own, *wanted])


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"  # spreadsheets put true into their own language: WAHR, VRAI
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return plain_number(value)
    if isinstance(value, tuple):
        return quoted_cell(guarded(names_cell(value)))
    return quoted_cell(guarded(text_cell(value)))
