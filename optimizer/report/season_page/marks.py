"""The cells of the season's map: a class and a text of a few letters each, of which a page has thousands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimizer.models.season import Project
from optimizer.report.season_page.colours import STEP_ENDS_H
from optimizer.report.season_page.facts import HOUR_S, Cell, Column, Row, Sky

LABELLED_DAYS = (1, 8, 15, 22)
STATES = {"open": "", "moon": "m", "closed": "x", "done": "d"}  # classes of cells without planned hours


@dataclass(frozen=True)
class Mark:
    """A cell of the map in short: its class and what is written in it."""

    class_: str
    text: str


def labelled(column: Column) -> bool:
    """Whether the day is written where there is no room for all: the first one is, if no other is near."""
    day = column.evening.day
    near = any(0 < other - day < 3 for other in LABELLED_DAYS) or day > 29
    return day in LABELLED_DAYS or (column.number == 0 and not near)


def legend() -> list[tuple[str, str]]:
    """The classes of the steps with what they stand for."""
    ends = [f"{end:g}" for end in STEP_ENDS_H]
    words = [f"up to {ends[0]} h", *(f"{low} to {high} h" for low, high in pairwise(ends))]
    return [(f"q{step}", text) for step, text in enumerate([*words, f"over {ends[-1]} h"], start=1)]


def marks(row: Row) -> list[Mark]:
    """The cells of a target's row, a night after the other."""
    return [_mark(row, number, cell) for number, cell in enumerate(row.cells)]


def _mark(row: Row, number: int, cell: Cell) -> Mark:
    # that a season ends is no news of a target
    last_at = None if row.last_at == len(row.cells) - 1 else row.last_at
    signs = "".join(
        sign
        for sign, at in ((" h", row.finish_50_at), (" k", row.finish_90_at), (" u", last_at))
        if at == number
    )
    state = f"q{cell.step}" if cell.serves == "used" else STATES[cell.serves]
    return Mark(f"{state}{signs}".strip(), _text(cell))


def _text(cell: Cell) -> str:
    return {"used": short_hours(cell.hours), "open": "·"}.get(cell.serves, "")


def rig_marks(cells: Sequence[Cell]) -> str:
    """The cells of one rig in short, for the script: state, hours written in the cell, comma, open hours.

    The state is a step's digit, or `m`, `x`, `d` as in the map; none: open, not used.
    """
    parts = []
    for cell in cells:
        state = f"{cell.step}{_text(cell)}" if cell.serves == "used" else STATES[cell.serves]
        sky = _open(cell)
        parts.append(state if sky == "0" else f"{state},{sky}")
    return " ".join(parts)


def sky_marks(sky: Sky) -> tuple[Mark, Mark, Mark]:
    """The head of the map on one evening: the Moon's lit share, dark hours, odds."""
    moon, dark, moonless, odds = sky.levels
    return (
        Mark(f"b{moon}" if moon else "", f"{100 * sky.moon:.0f}"),
        Mark(f"b{dark} l{moonless}", f"{sky.dark_s / HOUR_S:.0f}"),
        Mark(f"b{odds}" if odds else "", f"{100 * sky.odds:.0f}"),
    )


def short_hours(hours: float) -> str:
    """Hours in at most three signs, since a cell has room for no more: `.05`, `0.4`, `8.7`, `11`."""
    if hours < 0.095:
        return f"{max(0.01, hours):.2f}"[1:]
    return f"{hours:.1f}" if hours < 9.95 else f"{hours:.0f}"


def open_hours(row: Row) -> str:
    """Open hours of each evening in tenths, `a/b` where they would be b without the Moon."""
    return " ".join(_open(cell) for cell in row.cells)


def _open(cell: Cell) -> str:
    open_h, moonless = round(10 * cell.open_h), round(10 * cell.moonless_h)
    return f"{open_h}/{moonless}" if moonless > open_h else str(open_h)


def progress_bar(project: Project) -> tuple[str, str]:
    """In hand and planned as percentages of what is wanted; together no more than all."""
    if project.wanted_s <= 0:
        return "100", "0"
    in_hand = min(1.0, project.in_hand_s / project.wanted_s)
    planned = min(1.0 - in_hand, project.planned_s / project.wanted_s)
    return f"{100 * in_hand:.0f}", f"{100 * planned:.0f}"
