"""Tables for any width: with short headings, close together, folded at words, or row after row as text."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.measure import Measurement
from rich.table import Column, Table
from rich.text import Text

WIDE, CLOSE = 1, 0  # blanks before a cell; the one behind it and the box's own come to that
LEAST_FOLDED = 12  # cells that a column keeps, however short its words: none is folded to a sliver


@dataclass(frozen=True)
class Fitted:
    """A table that narrows as far as it must, and what to show where even that is too wide.

    Columns named in `folding` are folded first, those in `last` where nothing else helps; all others never.
    """

    table: Table
    folding: Sequence[str]
    last: Sequence[str]
    stacked: Callable[[], Sequence[RenderableType]]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Draw the table, or its rows one after the other."""
        unfolded = [_need(console, options, column, folded_heading=False) for column in self.table.columns]
        needs = [_need(console, options, column, folded_heading=True) for column in self.table.columns]
        foldable = (*self.folding, *self.last)
        for each, blanks, names in (
            (unfolded, WIDE, ()),
            (needs, WIDE, ()),
            (needs, CLOSE, ()),
            (unfolded, WIDE, self.folding),
            (needs, WIDE, self.folding),
            (needs, CLOSE, self.folding),
            (needs, CLOSE, foldable),
        ):
            room = options.max_width - (len(each) - 1) * (2 + blanks)
            widths = self._widths(each, room, names)
            if widths is not None:
                self.table.padding = (0, 1, 0, blanks)
                for column, width in zip(self.table.columns, widths, strict=True):
                    column.width = width
                yield self.table
                return
        yield from self.stacked()

    def _widths(self, needs: Sequence[Measurement], room: int, names: Sequence[str]) -> list[int] | None:
        """A width for each column, the widest of the named ones narrowed first; None if that will not do."""
        widths = [need.maximum for need in needs]
        least = {
            index: max(needs[index].minimum, min(LEAST_FOLDED, widths[index]))
            for index, column in enumerate(self.table.columns)
            if str(column.header) in names
        }
        while sum(widths) > room:
            wider = [index for index in least if widths[index] > least[index]]
            if not wider:
                return None
            widths[max(wider, key=lambda index: widths[index])] -= 1
        return widths


def _need(console: Console, options: ConsoleOptions, column: Column, *, folded_heading: bool) -> Measurement:
    """Cells that a column needs at least and at most; `folded_heading` lets its heading fold."""
    wide = options.update(width=10_000)
    cells = [cell if isinstance(cell, Text) else Text(str(cell)) for cell in column.cells]
    each = [Measurement.get(console, wide, cell) for cell in cells]
    head = Measurement.get(console, wide, Text(str(column.header)))
    return Measurement(
        max([head.minimum, *(one.minimum for one in each)]),
        max([head.minimum if folded_heading else head.maximum, *(one.maximum for one in each)]),
    )
