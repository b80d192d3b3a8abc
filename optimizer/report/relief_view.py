"""What one step of relief would give: a table, best first, and what is not in it."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from optimizer.models.shots import Relief, Unplanned
from optimizer.report.tables import heading, plain_table
from optimizer.report.words import duration, name

OF_FILTER = ("darkness", "moon_gap_deg", "moonlight_mag")
NOTES = {
    "certain": "certain: worth more than any plan of the night as it is.",
    "found": "found: a plan of the night as it is might be worth as much; only a longer search would tell.",
    "moved": "moved: the hours come from other targets; worth is by the weights as they are.",
    "darkness": "Worth leaves out how bright the twilight is: look at a test exposure first.",
}


def relief_parts(entries: Sequence[Unplanned]) -> list[RenderableType]:
    """Nothing where nobody asked."""
    if all(entry.relief is None for entry in entries):
        return []
    parts: list[RenderableType] = [Text(), heading("What one step would give, best first")]
    rows = _rows(entries)
    if rows:
        parts.append(_table(rows))
        told = {_sure(step) for _, step in rows} | {step.key for _, step in rows}
        parts += [Text(NOTES[word], style="dim") for word in NOTES if word in told]
    for text, left in (
        ("No single step was found to help", [entry for entry in entries if entry.relief == ()]),
        ("Not asked for", [entry for entry in entries if entry.relief is None]),
    ):
        if left:
            parts.append(Text(f"{text}: {_goals(left)}."))
    return parts


def _rows(entries: Sequence[Unplanned]) -> list[tuple[str, Relief]]:
    """Targets with the steps that help them, each pair once, those of one change side by side."""
    pairs = {(entry.target, _change(step)): step for entry in entries for step in entry.relief or ()}
    rows = [(target, step) for (target, _), step in pairs.items()]
    return sorted(rows, key=lambda row: (-row[1].value_s, _change(row[1]), -row[1].target_open_s))


def _change(step: Relief) -> tuple[str, str, str]:
    """What tells one change from another."""
    return step.change, step.key, step.of


def _table(rows: Sequence[tuple[str, Relief]]) -> Table:
    """A change that helps several targets is told once, with a line for each of them."""
    columns = ("step", "target", "it gains", "whole night", "worth", "how sure")
    table = plain_table(*columns, right=("it gains", "whole night", "worth"))
    told: tuple[str, str, str] | None = None
    for target, step in rows:
        again, told = _change(step) == told, _change(step)
        elsewhere = step.key not in OF_FILTER and step.of != target
        words = name(step.change, 60) + (f" ({name(step.of)})" if elsewhere else "")
        whole = ("", "", "") if again else (_signed(step.open_s), _signed(step.value_s), _sure(step))
        table.add_row(
            Text("" if again else words),
            Text(name(target)),
            Text(_signed(step.target_open_s), style="bold"),
            *whole,
        )
    return table


def _sure(step: Relief) -> str:
    if step.key == "weight":
        return "moved"
    return "certain" if step.certain else "found"


def _signed(seconds: float) -> str:
    """Gained or lost, to the minute; in seconds where it is less than one."""
    text = duration(abs(seconds)) if abs(seconds) >= 60 else f"{abs(seconds):.0f} s"
    if text == "0 s":
        return text
    return f"+{text}" if seconds > 0 else f"−{text}"


def _goals(entries: Sequence[Unplanned]) -> str:
    """Targets with their filters."""
    grouped: dict[str, list[str]] = {}
    for entry in entries:
        filters = grouped.setdefault(entry.target, [])
        if (chosen := name(entry.filter, 12)) not in filters:
            filters.append(chosen)
    return "; ".join(f"{name(target)} {', '.join(filters)}" for target, filters in grouped.items())
