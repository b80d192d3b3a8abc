"""The look that all tables share; plain ASCII where the terminal cannot do more."""

from __future__ import annotations

import os
import re
import sys
from typing import TextIO

from rich import box
from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from optimizer.report.lanes import LEAST_WIDTH
from optimizer.report.words import TIE

PIPE_WIDTH = 110  # where nobody says how wide it is

LABEL_CELLS = 7  # of `labelled`


def heading(text: str) -> Text:
    """A line that opens a part."""
    return Text(text, style="bold underline")


def plain_table(*columns: str, right: tuple[str, ...] = ()) -> Table:
    """A light table; `right` names the columns that hold numbers."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, header_style="bold")
    for column in columns:
        table.add_column(column, justify="right" if column in right else "left")
    return table


def indented(text: Text) -> Padding:
    """Text under a line of its own; where it is folded it stays indented."""
    return Padding(text, (0, 0, 0, 2))


def labelled(label: str, words: str, style: str = "") -> Table:
    """Words behind a short label; where they are folded they stay clear of it."""
    grid = Table.grid()
    grid.add_column(width=LABEL_CELLS, no_wrap=True)
    grid.add_column()
    grid.add_row(Text(label, style=style), Text(words, style=style))
    return grid


def show(renderable: RenderableType, stream: TextIO | None = None, *, crop: bool = True) -> None:
    """Print for people; a terminal or pipe that lacks a sign gets its nearest ASCII form.

    With `crop` what is wider than the stream and cannot be folded is cut.
    """
    out = stream or sys.stdout
    out.write(drawn(renderable, out, crop=crop))
    out.flush()


def drawn(renderable: RenderableType, out: TextIO, *, crop: bool = True, least: int = LEAST_WIDTH) -> str:
    """What `show` would write to a stream: lines as wide as it is, but `least` at least, in signs it has."""
    width = _width(out)
    # the height matters to nobody, but without one a width is passed over where TERM says `dumb`
    console = Console(file=out, highlight=False, width=width, height=None if width is None else 100)
    console.width = max(least, console.width)
    with console.capture() as captured:
        console.print(renderable, crop=crop)
    text = "\n".join(line.rstrip() for line in captured.get().replace(TIE, " ").splitlines()) + "\n"
    return _fitting(text, out.encoding or "ascii")


def _width(out: TextIO) -> int | None:
    """Cells in a line: what COLUMNS says, for pipes as for terminals; None: as wide as the terminal is."""
    columns = os.environ.get("COLUMNS", "").strip()
    if re.fullmatch("0*[1-9][0-9]{0,5}", columns):
        return int(columns)
    return None if out.isatty() else PIPE_WIDTH


_ASCII = str.maketrans(
    {
        "°": " deg",
        "−": "-",
        "·": ".",
        "╫": "#",
        "–": "-",
        "→": "->",
        "×": "x",
        "…": "~",
        "█": "#",
        "░": ".",
        "▒": "+",
        "─": "-",
        "━": "-",
        "′": "'",
        "≥": ">=",
        "≤": "<=",
    }
)


def _fitting(text: str, encoding: str) -> str:
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return text.translate(_ASCII).encode("ascii", "replace").decode("ascii")
    return text
