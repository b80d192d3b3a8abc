"""The files that a tally has counted, as CSV beside it: what each was taken for, so that it counts once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from optimizer.diagnostics.csv_cells import guarded, quoted_cell, rows_of
from optimizer.diagnostics.csv_header import header_problem
from optimizer.errors import InputError, InputProblem
from optimizer.tally.tally_file import (
    CellError,
    Reader,
    RowKey,
    evening_cell,
    exposure_cell,
    text_cell,
    typed_cells,
    whole_cell,
)


@dataclass(frozen=True, order=True)
class FileKey:
    """What tells one sub from another, wherever its file lies: name, bytes, and the date as the file has it.

    The name is without folders; what is no UTF-8 in it is written as escapes.
    """

    name: str
    size_bytes: int
    date_obs: str


@dataclass(frozen=True)
class Seen:
    """A sub that was counted: the row of the tally in which it counts, and whether it was rejected."""

    row: RowKey
    rejected: bool = False


COLUMNS = (
    "name",
    "size_bytes",
    "date_obs",
    "target",
    "filter",
    "exposure_s",
    "gain",
    "offset",
    "binning",
    "evening",
    "rejected",
    "source",
)


def seen_path(tally: Path) -> Path:
    """Where the list of files seen lies: STEM.seen.csv beside STEM.csv."""
    return tally.with_name(f"{tally.stem}.seen.csv")


def _rejected_cell(cell: str) -> bool:
    known = {"true": True, "false": False, "": False}.get(cell.strip().lower())
    if known is None:
        raise CellError("this is neither true nor false", "write true or false")
    return known


_KINDS: dict[str, Reader] = {
    "name": text_cell,
    "size_bytes": whole_cell(0, 10**15, empty=None),
    "date_obs": text_cell,
    "target": text_cell,
    "filter": text_cell,
    "exposure_s": exposure_cell,
    "gain": whole_cell(0, 100_000, empty=-1),
    "offset": whole_cell(0, 100_000, empty=-1),
    "binning": whole_cell(1, 16, empty=1),
    "evening": evening_cell,
    "rejected": _rejected_cell,
    "source": text_cell,
}


def read_seen(text: str, file: str) -> dict[FileKey, Seen]:
    """Read the list of files seen; `file` is its name in messages.

    Raises InputError with every problem: line, column, value and remedy.
    """
    rows = [(line, cells) for line, cells, _ in rows_of(text, file) if any(map(str.strip, cells))]
    problem = header_problem(rows[0][1], COLUMNS)
    if problem is not None:
        raise InputError([InputProblem(file, "", *problem, line=rows[0][0])])
    problems: list[InputProblem] = []
    seen: dict[FileKey, Seen] = {}
    for line, cells in rows[1:]:
        values = typed_cells(_KINDS, file, line, cells, problems)
        if values is not None:
            key = FileKey(values.pop("name"), values.pop("size_bytes"), values.pop("date_obs"))
            rejected = values.pop("rejected")
            seen.setdefault(key, Seen(RowKey(**values), rejected))
    if problems:
        raise InputError(problems)
    return seen


def seen_text(seen: Iterable[tuple[FileKey, Seen]]) -> str:
    """Write the list of files seen, sorted: the same files give the same bytes."""
    lines = [",".join(COLUMNS)]
    for key, entry in sorted(seen, key=lambda each: (each[1].row, each[0])):
        cells = {
            **entry.row.cells(),
            "name": quoted_cell(guarded(key.name)),
            "size_bytes": str(key.size_bytes),
            "date_obs": quoted_cell(guarded(key.date_obs)),
            "rejected": "true" if entry.rejected else "false",
        }
        lines.append(",".join(cells[column] for column in COLUMNS))
    return "\n".join(lines) + "\n"
