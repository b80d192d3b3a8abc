"""The look that all tables share; plain ASCII where the terminal cannot do more."""

from __future__ import annotations

import sys
from typing import TextIO

from rich import box
from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

PIPE_WIDTH = 110  # where nobody says how wide it is


def heading(text: str) -> Text:
    """A line that opens a part."""
    return Text(text, style="bold underline")


def plain_table(*columns: str, right: tuple[str, ...] = ()) -> Table:
    """A light table; `right` names the columns that hold numbers."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, header_style="bold")
    for column in columns:
        table.add_column(column, justify="right" if column in right else "left")
    return table


def show(renderable: RenderableType, stream: TextIO | None = None) -> None:
    """Print for people; a terminal or pipe that lacks a sign gets its nearest ASCII form."""
    out = stream or sys.stdout
    console = Console(file=out, highlight=False, width=None if out.isatty() else PIPE_WIDTH)
    with console.capture() as captured:
        console.print(renderable)
    text = "\n".join(line.rstrip() for line in captured.get().splitlines()) + "\n"
    out.write(_fitting(text, out.encoding or "ascii"))
    out.flush()


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
