"""What one step of relief would give: a table, best first, and what is not in it."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from optimizer.models.shots import Relief, Unplanned
from optimizer.report.tables import heading, plain_table
from optimizer.report.words import name

CERTAIN = "certain: worth more than any plan of the night as it is."
FOUND = "found: a plan of the night as it is might come to as much; a longer search would tell."
MOVED = "moved: the hours are taken from other targets; worth is by the weights as they are."


def relief_parts(entries: Sequence[Unplanned]) -> list[RenderableType]:
    """Nothing where nobody asked."""
    if all(entry.relief is None for entry in entries):
        return []
    parts: list[RenderableType] = [Text(), heading("What one easier rule would give, best first")]
    steps = {
        (step.change, entry.target): (entry.target, step) for entry in entries for step in entry.relief or ()
    }
    rows = sorted(steps.values(), key=lambda row: (-row[1].value_s, row[1].change, -row[1].target_open_s))
    if rows:
        parts.append(_table(rows))
        told = {_sure(step) for _, step in rows}
        words = {"certain": CERTAIN, "found": FOUND, "moved": MOVED}
        parts += [Text(words[sure], style="dim") for sure in words if sure in told]
    for text, left in (
        ("No single step was found to help", [entry for entry in entries if entry.relief == ()]),
        ("Not asked for", [entry for entry in entries if entry.relief is None]),
    ):
        if left:
            parts.append(Text(f"{text}: {_goals(left)}."))
    return parts


def _table(rows: Sequence[tuple[str, Relief]]) -> Table:
    """A change that helps several targets is told once, with a line for each of them."""
    columns = ("change", "target", "it gains", "whole night", "worth", "how sure")
    table = plain_table(*columns, right=("it gains", "whole night", "worth"))
    told = ""
    for target, step in rows:
        again, told = step.change == told, step.change
        table.add_row(
            Text("" if again else name(step.change, 60)),
            Text(name(target)),
            Text(_signed(step.target_open_s), style="bold"),
            "" if again else _signed(step.open_s),
            "" if again else _signed(step.value_s),
            "" if again else _sure(step),
        )
    return table


def _sure(step: Relief) -> str:
    if step.key == "weight":
        return "moved"
    return "certain" if step.certain else "found"


def _signed(seconds: float) -> str:
    """Minutes gained or lost; seconds where it is less than one."""
    number, unit = (seconds / 60, "min") if abs(seconds) >= 60 else (seconds, "s")
    text = f"{abs(number):.0f}"
    return f"0 {unit}" if text == "0" else f"{'+' if number > 0 else '−'}{text} {unit}"


def _goals(entries: Sequence[Unplanned]) -> str:
    """Targets with their filters."""
    grouped: dict[str, list[str]] = {}
    for entry in entries:
        filters = grouped.setdefault(entry.target, [])
        if (chosen := name(entry.filter, 12)) not in filters:
            filters.append(chosen)
    return "; ".join(f"{name(target)} {', '.join(filters)}" for target, filters in grouped.items())
