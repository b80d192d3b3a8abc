"""The tally as CSV: one row for each goal, evening and folder, which a person may read and add to.

Rows with a source are made from the files that were seen. Rows without one are a person's: they stay as they
are written, to the byte, and where they stand.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from optimizer.diagnostics.csv_cells import guarded, plain_number, quoted_cell, rows_of, unguarded
from optimizer.diagnostics.csv_header import header_problem
from optimizer.errors import InputError, InputProblem
from optimizer.words import quoted, unit_of

COLUMNS = (
    "target",
    "filter",
    "exposure_s",
    "gain",
    "offset",
    "binning",
    "evening",
    "frames",
    "rejected",
    "source",
)
HEADER = ",".join(COLUMNS)
MOST_IN_ROW = 10_000_000
_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,4})?")
_WHOLE = re.compile(r"[0-9]{1,18}")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


@dataclass(frozen=True, order=True)
class RowKey:
    """What a row counts: a goal as the request names it, a night and a folder.

    The exposure is in seconds. For a goal given in hours it is that of the subs. `gain` and `offset` are -1
    where the goal leaves them to the camera. `evening` is a date like 2026-11-14, empty where a person gave
    none; an empty `source` says that the row is a person's.
    """

    source: str
    evening: str
    target: str
    filter: str
    exposure_s: float
    gain: int = -1
    offset: int = -1
    binning: int = 1

    def cells(self) -> dict[str, str]:
        """The cells of its columns, as they stand in a file."""
        return {
            "target": quoted_cell(guarded(self.target)),
            "filter": quoted_cell(guarded(self.filter)),
            "exposure_s": plain_number(self.exposure_s),
            "gain": "" if self.gain < 0 else str(self.gain),
            "offset": "" if self.offset < 0 else str(self.offset),
            "binning": str(self.binning),
            "evening": self.evening,
            "source": quoted_cell(guarded(self.source)),
        }


@dataclass(frozen=True)
class Counts:
    """Subs taken, and how many of them were rejected."""

    frames: int
    rejected: int = 0


@dataclass(frozen=True)
class Row:
    """One row of a file: its line from 1, what it counts, how many, and its text as it stands."""

    line: int
    key: RowKey
    counts: Counts
    text: str


@dataclass(frozen=True)
class TallyFile:
    """What a tally's file holds: its parts in order, rows read or the text of lines that count nothing."""

    parts: tuple[Row | str, ...] = ()

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows that count, in their order."""
        return tuple(part for part in self.parts if isinstance(part, Row))


def read_tally(text: str, file: str) -> TallyFile:
    """Read a tally's text; `file` is its name in messages.

    Raises InputError with every problem: line, column, value, unit and remedy.
    """
    rows = rows_of(text, file)
    filled = next((index for index, (_, cells, _) in enumerate(rows) if any(map(str.strip, cells))), 0)
    line, cells, _ = rows[filled]
    problem = header_problem(cells, COLUMNS)
    if problem is not None:
        raise InputError([InputProblem(file, "", *problem, line=line)])
    problems: list[InputProblem] = []
    parts: list[Row | str] = [raw for _, _, raw in rows[: filled + 1]]
    for line, cells, raw in rows[filled + 1 :]:
        if not any(cell.strip() for cell in cells):
            parts.append(raw)
            continue
        values = typed_cells(_KINDS, file, line, cells, problems)
        if values is not None:
            parts.append(_row(line, values, raw, file, problems))
    if problems:
        raise InputError(problems)
    return TallyFile(tuple(parts))


def _row(line: int, values: dict[str, Any], raw: str, file: str, problems: list[InputProblem]) -> Row:
    frames, rejected = values.pop("frames"), values.pop("rejected")
    key = RowKey(**values)
    if key.source and rejected > frames:
        what = f"more subs are rejected than were taken ({frames})"
        remedy = "leave the source empty in rows of your own, such as those that only take subs off"
        problems.append(InputProblem(file, "rejected", what, remedy, str(rejected), "", line))
    return Row(line, key, Counts(frames, rejected), raw)


def tally_text(old: TallyFile, counts: Mapping[RowKey, Counts]) -> str:
    """Write a tally whose rows with a source are these counts; rows keep their place, new ones come last.

    What a person wrote is kept to the byte.
    """
    left = dict(counts)
    parts = [] if old.parts else [HEADER + "\n"]
    for part in old.parts:
        if isinstance(part, str) or not part.key.source:
            parts.append(part if isinstance(part, str) else part.text)
        elif part.key in left:
            count = left.pop(part.key)
            parts.append(part.text if count == part.counts else _line(part.key, count))
    if left and parts and not parts[-1].endswith(("\n", "\r")):
        parts[-1] += "\n"
    return "".join([*parts, *(_line(key, left[key]) for key in sorted(left))])


def _line(key: RowKey, counts: Counts) -> str:
    cells = {**key.cells(), "frames": str(counts.frames), "rejected": str(counts.rejected)}
    return ",".join(cells[column] for column in COLUMNS) + "\n"


# --- cells -------------------------------------------------------------------------------------------------

Trouble = tuple[str, str]
Reader = Callable[[str], Any]


class CellError(ValueError):
    """Raised by a reader of a cell: what is wrong, and what would be right."""


def text_cell(cell: str) -> str:
    """Read a text that may not be empty."""
    if not cell.strip():
        raise CellError("the cell is empty", "write the name as the request has it")
    return unguarded(cell)


def any_text_cell(cell: str) -> str:
    """Read a text that may be empty; blanks alone count as nothing."""
    return unguarded(cell) if cell.strip() else ""


def evening_cell(cell: str) -> str:
    """Read a date, or nothing."""
    text = cell.strip()
    if not text:
        return ""
    remedy = "write the date on which the night began like 2026-11-14, or leave the cell empty"
    if not _DATE.fullmatch(text):
        raise CellError("this is not a date", remedy)
    try:
        dt.date.fromisoformat(text)
    except ValueError:
        raise CellError("there is no such day in the calendar", remedy) from None
    return text


def exposure_cell(cell: str) -> float:
    """Read seconds above 0, at most 86400."""
    text = cell.strip()
    remedy = "write the seconds of one sub, like 120"
    if re.fullmatch(r"[0-9]+,[0-9]+", text):
        raise CellError("a comma does not mark decimals", f"write {text.replace(',', '.')}")
    if not text:
        raise CellError("the cell is empty", remedy)
    if not _NUMBER.fullmatch(text) or not math.isfinite(float(text)):
        raise CellError("this is not a number", remedy)
    if not 0 < float(text) <= 86400:
        raise CellError("out of range", "give seconds above 0, at most 86400")
    return float(text)


def whole_cell(least: int, most: int, *, empty: int | None) -> Callable[[str], int]:
    """Make the reader of a whole number from `least` to `most`; `empty` is what an empty cell says.

    None: it may not be empty.
    """
    limits = f"give a whole number from {least} to {most}"

    def read(cell: str) -> int:
        text = cell.strip()
        if not text:
            if empty is None:
                raise CellError("the cell is empty", limits)
            return empty
        if not _WHOLE.fullmatch(text):
            raise CellError("this is not a whole number", limits)
        if not least <= int(text) <= most:
            raise CellError("out of range", limits)
        return int(text)

    return read


_KINDS: dict[str, Reader] = {
    "target": text_cell,
    "filter": text_cell,
    "exposure_s": exposure_cell,
    "gain": whole_cell(0, 100_000, empty=-1),
    "offset": whole_cell(0, 100_000, empty=-1),
    "binning": whole_cell(1, 16, empty=1),
    "evening": evening_cell,
    "frames": whole_cell(0, MOST_IN_ROW, empty=None),
    "rejected": whole_cell(0, MOST_IN_ROW, empty=0),
    "source": any_text_cell,
}


def typed_cells(
    kinds: Mapping[str, Reader], file: str, line: int, cells: list[str], problems: list[InputProblem]
) -> dict[str, Any] | None:
    """Read a row's cells by column; None where some cannot be read: what is wrong is added to `problems`."""
    before = len(problems)
    if any(cell.strip() for cell in cells[len(kinds) :]):
        extra = next(cell for cell in cells[len(kinds) :] if cell.strip())
        what = f"the row has {len(cells)} cells, the header has {len(kinds)}"
        remedy = 'check for a comma too many, and put text with a comma in double quotes: "a, b"'
        problems.append(InputProblem(file, "", what, remedy, quoted(extra), line=line))
    values: dict[str, Any] = {}
    filled = [*cells, *[""] * len(kinds)]
    for (name, read), cell in zip(kinds.items(), filled, strict=False):
        try:
            values[name] = read(cell)
        except CellError as error:
            message, remedy = error.args
            value = quoted(cell) if cell.strip() else ""
            problems.append(InputProblem(file, name, message, remedy, value, unit_of(name), line))
    return values if len(problems) == before else None
