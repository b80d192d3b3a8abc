"""Before, after or across, as a table for each target."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from optimizer.report.sides_facts import CHOICE_WORDS, OutcomeFacts, SidesReport, TargetChoices
from optimizer.report.tables import heading, plain_table
from optimizer.report.words import at_most_percent, duration, name


def sides_view(report: SidesReport) -> RenderableType:
    """Everything that `darkfill sides` shows."""
    parts: list[RenderableType] = [heading("Before the transit, after it, or across?")]
    parts.append(
        Text(
            f"The freely planned night is worth {duration(report.night_value)} (weighted), within "
            f"{at_most_percent(report.gap)} of the best possible. Each choice plans the other targets anew "
            "around it; its values are what was found in a short search.",
            style="dim",
        )
    )
    for target in report.targets:
        parts += [Text(), Text(name(target.target), style="bold"), _table(target, report.night_value)]
        parts.append(Text(f"{'Best' if target.best else 'Out'}: {target.reason}."))
    return Group(*parts)


def _table(target: TargetChoices, night_value: float) -> Table:
    table = plain_table(
        "", "alone", "in the night", "whole night", "against the best", "flips", "alt", "moonlight",
        right=("alone", "in the night", "whole night", "against the best", "flips", "alt", "moonlight"),
    )  # fmt: skip
    for choice, facts in target.choices.items():
        style = "bold" if choice == target.best else ""
        table.add_row(
            ("> " if choice == target.best else "  ") + CHOICE_WORDS[choice].split()[0],
            "-" if facts.alone is None else duration(facts.alone.target_open_shutter_s),
            *_night_cells(facts.night, night_value),
            style=style,
        )
    return table


def _night_cells(night: OutcomeFacts | None, night_value: float) -> tuple[str, ...]:
    if night is None:
        return ("not possible tonight", "-", "-", "-", "-", "-")
    less_s = night_value - night.value
    return (
        duration(night.target_open_shutter_s),
        duration(night.open_shutter_s),
        "equal" if abs(less_s) < 1 else f"{'-' if less_s > 0 else '+'}{duration(abs(less_s))}",
        str(night.flips),
        "-" if night.mean_altitude_deg is None else f"{night.mean_altitude_deg:.0f}°",
        "-" if night.mean_moonlight_mag is None else f"{night.mean_moonlight_mag:.2f} mag",
    )
