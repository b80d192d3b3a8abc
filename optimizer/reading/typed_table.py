"""A table that a person typed or a spreadsheet saved: its delimiter, encoding and header as found."""

from __future__ import annotations

import codecs
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

from optimizer.diagnostics.csv_cells import rows_of
from optimizer.diagnostics.csv_header import near_column
from optimizer.errors import InputError, InputProblem
from optimizer.reading.files import LARGEST_BYTES, read_bytes, refuse
from optimizer.words import folded, listing, quoted, safe

DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs"}
_DECIMAL_COMMA = re.compile(r"\s*[+-]?[0-9]+,[0-9]+\s*")


@dataclass(frozen=True)
class TypedCells:
    """One row: the line on which it begins (from 1), and its cells by column, without blanks around them."""

    line: int
    cells: dict[str, str]


@dataclass(frozen=True)
class TypedTable:
    """A table as it was found.

    `file` is its name in messages, `columns` those of its header in their order, `said` says in words how it
    was read. `problems` are rows with more cells than the header has columns.
    """

    file: str
    columns: tuple[str, ...]
    header_line: int
    rows: tuple[TypedCells, ...]
    said: str
    problems: tuple[InputProblem, ...] = ()


def read_typed_table(path: Path, known: Collection[str], *, content: str) -> TypedTable:
    """Read a table whose columns stand in any order, between commas, semicolons or tabs.

    Header words may differ from those `known` in case, blanks and hyphens. UTF-8 with or without a byte order
    mark, UTF-16 with one, and else Windows-1252 are taken; blank rows are left out. `content` says in words
    what the file holds. Raises InputError where the file cannot be read or its header has an unknown or
    doubled column; rows that are too long are among the table's `problems`.
    """
    file = safe(str(path))
    text, encoding = _decoded(
        read_bytes(path, str(path), content=content, largest_bytes=LARGEST_BYTES), str(path), content
    )
    names = {_plain(name): name for name in known}
    first = next(line for line in text.splitlines() if line.strip())
    delimiter = max(
        DELIMITERS,
        key=lambda each: (sum(_plain(cell) in names for cell in first.split(each)), first.count(each)),
    )
    rows = [row for row in rows_of(text, file, delimiter) if any(cell.strip() for cell in row[1])]
    header_line, header, _ = rows[0]
    columns = _columns(file, header_line, header, names)
    taken, problems = [], []
    for line, cells, _ in rows[1:]:
        extra = [cell for cell in cells[len(columns) :] if cell.strip()]
        if extra:
            what = f"the row has {len(cells)} cells, the header has {len(columns)}"
            remedy = (
                f"check for {_one(delimiter)} too many, and put text with {_one(delimiter)} in double quotes"
            )
            problems.append(InputProblem(file, "", what, remedy, quoted(extra[0].strip()), line=line))
        by_column = zip(columns, cells, strict=False)
        taken.append(TypedCells(line, {name: cell.strip() for name, cell in by_column if name}))
    commas = any(_DECIMAL_COMMA.fullmatch(cell) for row in taken for cell in row.cells.values())
    parts = [
        f"{len(taken)} {'row' if len(taken) == 1 else 'rows'}",
        f"{DELIMITERS[delimiter]} between the columns",
    ]
    parts += ["decimal commas"] if commas else []
    said = f"Read {listing([*parts, encoding], 'and')}."
    return TypedTable(file, columns, header_line, tuple(taken), said, tuple(problems))


def _decoded(raw: bytes, file: str, content: str) -> tuple[str, str]:
    """The text of a file and the name of the encoding that it is in. Raises InputError."""
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding, name = "utf-16", "UTF-16"
    else:
        marked = raw.startswith(codecs.BOM_UTF8)
        encoding, name = "utf-8-sig", "UTF-8 with a byte order mark" if marked else "UTF-8"
        try:
            raw.decode(encoding)
        except UnicodeDecodeError:
            encoding, name = "cp1252", "Windows-1252"
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        what = f"the byte 0x{raw[error.start]:02X} is text neither in UTF-8 nor in Windows-1252"
        raise refuse(file, what, "save the file with the encoding UTF-8", line=line) from error
    if not text.strip():
        raise refuse(file, "the file is empty", f"write {content} into it")
    return text, name


def _plain(name: str) -> str:
    """A header word without what makes no difference: case, blanks, hyphens, underscores."""
    return folded(name).replace("-", "").replace("_", "")


def _one(delimiter: str) -> str:
    return f"a {DELIMITERS[delimiter].removesuffix('s')}"


def _columns(file: str, line: int, header: list[str], names: dict[str, str]) -> tuple[str, ...]:
    """The columns by their own names, empty for one without a name. Raises InputError with every problem."""
    columns = tuple(names.get(_plain(cell), "") for cell in header)
    problems = list(_header_problems(file, line, header, columns, names))
    if problems:
        raise InputError(problems)
    return columns


def _header_problems(
    file: str, line: int, header: list[str], columns: tuple[str, ...], names: dict[str, str]
) -> Iterator[InputProblem]:
    known = list(names.values())
    if not any(columns):
        what = "the header with the names of the columns is missing"
        yield InputProblem(file, "", what, f"begin with a line like {','.join(known[:5])}", line=line)
        return
    strange = [cell.strip() for cell, name in zip(header, columns, strict=True) if cell.strip() and not name]
    far = []
    for cell in strange:
        if near := near_column(cell, [each for each in known if each not in columns]):
            yield InputProblem(
                file, "", "no column has this name", f"did you mean {near}?", quoted(cell), line=line
            )
        else:
            far.append(quoted(cell))
    if far:
        what = "no column has this name" if len(far) == 1 else "no columns have these names"
        remedy = (
            f"take {'it' if len(far) == 1 else 'them'} out, or name one of {listing(known, 'or', most=40)}"
        )
        yield InputProblem(file, "", what, remedy, listing(far, "and", most=30), line=line)
    for place, name in enumerate(columns):
        if name and name in columns[:place]:
            yield InputProblem(file, name, "two columns have this name", "keep one of the two", line=line)
