"""What was left out of a plan, in the terminal: a row for each goal, one for those with the same reason."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.table import Table
from rich.text import Text

from optimizer.models.shots import Unplanned
from optimizer.report.tables import plain_table
from optimizer.report.words import advice_words, name, run_words, sentence_parts

LEAST_WIDE = 100  # columns of a terminal; on fewer, two columns share the room of four
FRAMES_WIDTH = 24  # a filter and its frames are never parted


class _Row(NamedTuple):
    target: str
    frames: tuple[str, ...]
    why: str
    change: str


class _Folding:
    """The table in four columns or in two."""

    def __init__(self, rows: Sequence[_Row]) -> None:
        self.rows = rows

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw four columns where the terminal has room for them, else two."""
        yield self._wide() if options.max_width >= LEAST_WIDE else self._narrow()

    def _wide(self) -> Table:
        table = plain_table("target", "subs short", "why", "more")
        for column, ratio in zip(table.columns, (2, None, 3, 3), strict=True):
            column.ratio = ratio
        shown_target = ""
        for row in self.rows:
            target = row.target if row.target != shown_target else ""
            table.add_row(Text(target, style="bold"), _packed(row.frames), Text(row.why), Text(row.change))
            shown_target = row.target
        table.expand = True
        return table

    def _narrow(self) -> Table:
        table = plain_table("target, subs short", "why, and more")
        table.columns[0].max_width, table.columns[1].ratio = FRAMES_WIDTH, 1
        for row in self.rows:
            left = Text(row.target, style="bold").append(f"\n{_packed(row.frames)}", style="not bold")
            change = f"\n→ {row.change}" if row.change else ""
            table.add_row(left, Text(f"{row.why}{change}"))
        table.expand = True
        return table


def _packed(frames: Sequence[str]) -> Text:
    """Filters with their subs, as many on a line as there is room for."""
    lines = [""]
    for number, words in enumerate(frames):
        words += "," if number < len(frames) - 1 else ""
        if lines[-1] and len(lines[-1]) + 1 + len(words) > FRAMES_WIDTH:
            lines.append("")
        lines[-1] += f" {words}" if lines[-1] else words
    return Text("\n".join(lines))


def unplanned_parts(entries: Sequence[Unplanned]) -> list[RenderableType]:
    """The table, and below it, once, the advice that many of its rows share."""
    grouped: dict[tuple[str, str], list[Unplanned]] = {}
    for entry in entries:
        grouped.setdefault((entry.target, entry.sentence), []).append(entry)
    rows, shared = [], dict[str, int]()
    for (target, sentence), members in grouped.items():
        why, change, advice = sentence_parts(sentence)
        frames = tuple(run_words(each.filter, each.frames, each.exposure_s) for each in members)
        rows.append(_Row(name(target), frames, why, change))
        if advice:
            shared[advice] = shared.get(advice, 0) + 1
    notes = (advice_words(advice, for_all=of == len(rows)) for advice, of in shared.items())
    return [_Folding(rows), *(Text(f"{note}.", style="dim") for note in notes)]
