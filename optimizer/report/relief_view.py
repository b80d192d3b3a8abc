"""What easier settings would give, in the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.text import Text

from optimizer.models.shots import Unplanned
from optimizer.report.fitted import Fitted
from optimizer.report.relief_facts import relief_facts
from optimizer.report.tables import heading, indented, plain_table
from optimizer.report.words import tied

COLUMNS = ("setting", "target", "it gains", "whole night", "value", "how sure")
NUMBERS = ("it gains", "whole night", "value")


def relief_parts(entries: Sequence[Unplanned]) -> list[RenderableType]:
    """The lines on easier settings; none where nobody asked."""
    facts = relief_facts(entries)
    if facts is None:
        return []
    parts: list[RenderableType] = [Text(), heading(facts.heading)]
    if facts.settings:
        table = plain_table(*COLUMNS, right=NUMBERS)
        stacked: list[RenderableType] = []
        for setting in facts.settings:
            gains = ", ".join(f"{target} gains {tied(gain)}" for target, gain in setting.gains)
            whole_night = f"whole night {tied(setting.whole)}, value {tied(setting.value)}, {setting.sure}"
            stacked += [Text(setting.words), indented(Text(f"{gains}; {whole_night}"))]
            words, whole = setting.words, (setting.whole, setting.value, setting.sure)
            for target, gain in setting.gains:  # the setting stands in the first of its rows
                table.add_row(Text(words), Text(target), Text(gain, style="bold"), *whole)
                words, whole = "", ("", "", "")
        parts.append(Fitted(table, ("setting",), ("target",), lambda: stacked))
    parts += [Text(note, style="dim") for note in facts.notes]
    return [*parts, *(Text(line) for line in facts.rest)]
