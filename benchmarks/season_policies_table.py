"""The results of benchmarks/season_policies.py as a table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

HEAD = """# Policies for tonight

Made by `python -m benchmarks.season_policies`, whose docstring says how. Per cent of the bound of seasons
whose weather is known beforehand; behind it by how much each policy brings more than *scarce hours first*,
season by season of the same weathers, with the standard error; then the share of goals and of whole targets
that are complete at the end. Bounds are those of the first few seasons; so is all that is told of the season
values.
"""


def policies_text(raw: dict[str, Any], names: Sequence[str], kinds: Sequence[str], scarce: str) -> str:
    """The whole table as Markdown."""
    parts = [HEAD]
    for name in names:
        for kind in kinds:
            told = raw["lists"].get(name, {}).get(kind)
            if told:
                parts.append(_one(name, kind, told, scarce))
    return "\n".join(parts)


def _one(name: str, kind: str, told: dict[str, Any], scarce: str) -> str:
    lines = [
        f"## {name}, {kind}",
        "",
        f"{told['goals']} goals, {told['wanted_h']:.0f} weighted h wanted, {told['seasons']} seasons, the "
        f"first {told['few']} of them bounded; seed {told['seed']}, commit {told['commit']}, "
        f"{told['date'][:10]}, {told['seconds']} s on {told['machine']}.",
        "",
    ]
    alike = list(told["weather"])
    lines.append("| policy | " + " | ".join(f"correlation {each}" for each in alike) + " |")
    lines.append("|---|" + "---|" * len(alike))
    for policy in told["weather"][alike[0]]:
        cells = [_cell(told["weather"][each][policy], policy == scarce) for each in alike]
        shown = f"**{policy}**" if policy == scarce else policy
        lines.append(f"| {shown} | " + " | ".join(cells) + " |")
    return "\n".join([*lines, ""])


def _cell(row: dict[str, Any], is_scarce: bool) -> str:
    more = "" if is_scarce else f"; {row['more_than_scarce_percent']:+.2f} ± {row['standard_error']:.2f}"
    goals, targets = 100 * row["goals_complete"], 100 * row["targets_complete"]
    return f"{row['percent_of_bound']:.1f} %{more}; {goals:.0f} % of goals, {targets:.0f} % of targets"
