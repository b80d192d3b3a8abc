"""The steps of a shot list as CSV: one row a step, made to be opened in a spreadsheet or typed by hand."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from optimizer.diagnostics.csv_cells import guarded, plain_number, quoted_cell, rows_of, unguarded
from optimizer.diagnostics.csv_header import header_problem
from optimizer.diagnostics.document import Document, Source
from optimizer.diagnostics.explain import explain
from optimizer.diagnostics.nodes import Nodes, choices
from optimizer.errors import InputError, InputProblem
from optimizer.export.atomic import write_atomically
from optimizer.models.base import Frozen
from optimizer.models.shots import Step
from optimizer.models.site import iso_utc
from optimizer.reading.files import LARGEST_LIST_BYTES, read_text, refuse
from optimizer.words import quoted, safe, unit_of

COLUMNS = tuple(Step.model_fields)
HEADER = ",".join(COLUMNS)

_INTEGER = re.compile(r"[+-]?[0-9]{1,18}")
_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,4})?")


class _Rows(Frozen):
    """The steps as one model, so that every row is explained with its place."""

    steps: tuple[Step, ...]


@lru_cache(maxsize=1)
def _kinds() -> dict[str, str]:
    """What each column holds: integer, number, boolean, word (a choice or an instant), or text."""
    kinds = {}
    for name in COLUMNS:
        node = choices(Nodes(Step).at((name,)))[0]
        kind = str(node.get("type"))
        kinds[name] = "word" if "enum" in node or "format" in node else "text" if kind == "string" else kind
    return kinds


def csv_text(steps: Iterable[Step]) -> str:
    """Write a header and one row a step, lines ended by a line feed; numbers read back equal."""
    return table_text(COLUMNS, steps)


def table_text(columns: Sequence[str], rows: Iterable[Frozen]) -> str:
    """Write a header and one row a model, whose fields the columns are; lines ended by a line feed.

    Numbers read back equal, None is an empty cell, and text that a spreadsheet would run is neutralised.
    """
    lines = [",".join(columns), *(",".join(_cell(getattr(row, name)) for name in columns) for row in rows)]
    return "\n".join(lines) + "\n"


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return plain_number(value)
    return quoted_cell(guarded(value) if isinstance(value, str) else iso_utc(value))


def write_csv(path: Path, steps: Iterable[Step]) -> None:
    """Write the steps whole or not at all; raises OutputError."""
    write_atomically(path, csv_text(steps).encode())


def other_columns(header: str, *, few: bool = False) -> bool:
    """Whether a first line has other columns than ours, in this order; with `few` it must lack `kind` too."""
    names = [name.strip().strip('"').casefold() for name in re.split("[,;\t]", header)]
    if few and "kind" in names:
        return False
    if few:
        return {"target", "filter"} <= set(names)
    commas = [name.strip() for name in header.split(",")]
    while commas and not commas[-1]:
        commas.pop()
    return tuple(commas) != COLUMNS


def read_csv(path: Path) -> tuple[Step, ...]:
    """Read the steps in a CSV file, ours or typed by hand; their form is checked, their sense by the audit.

    A byte order mark, CRLF, blank rows, and rows that end early are taken; the header must be exact.
    Raises InputError with every problem: line, column, value, unit, remedy.
    """
    file = safe(str(path))
    text = read_text(path, str(path), content="the shot list", largest_bytes=LARGEST_LIST_BYTES)
    rows = rows_of(text, file)
    problem = header_problem(rows[0][1], COLUMNS)
    if problem is not None:
        raise InputError([InputProblem(file, "", *problem, line=rows[0][0])])
    problems: list[InputProblem] = []
    filled = [(line, cells) for line, cells, _ in rows[1:] if any(cell.strip() for cell in cells)]
    data = [_typed(file, line, cells, problems) for line, cells in filled]
    if not data:
        raise refuse(file, "there are no steps below the header", "add one row for each step")
    lines = [line for line, _ in filled]
    try:
        steps = _Rows.model_validate({"steps": tuple(data)}).steps
    except ValidationError as error:
        problems += _explained(
            error, file, lines, data, {(problem.line, problem.key) for problem in problems}
        )
        steps = ()
    if problems:
        raise InputError(sorted(problems, key=lambda problem: problem.line or 0))
    return steps


def _typed(file: str, line: int, cells: list[str], problems: list[InputProblem]) -> dict[str, Any]:
    """The row's values by column; cells that cannot be read are left out and reported in `problems`."""
    extra = [cell for cell in cells[len(COLUMNS) :] if cell.strip()]
    if extra:
        what = f"the row has {len(cells)} cells, the header has {len(COLUMNS)}"
        remedy = 'check for a comma too many, and put text with a comma in double quotes: "a, b"'
        problems.append(InputProblem(file, "", what, remedy, quoted(extra[0]), line=line))
    values: dict[str, Any] = {}
    for name, cell in zip(COLUMNS, cells, strict=False):
        value, trouble = _value(_kinds()[name], cell)
        if trouble:
            where = _where(cells)
            problems.append(InputProblem(file, name, *trouble, quoted(cell), unit_of(name), line, where))
        elif value is not None:
            values[name] = value
    return values


def _where(cells: list[str]) -> str:
    return f"step {cells[0].strip()}" if _INTEGER.fullmatch(cells[0].strip()) else ""


def _value(kind: str, cell: str) -> tuple[Any, tuple[str, str] | None]:
    """A cell's value (None: empty), or what is wrong with it and what would be right."""
    text = cell.strip()
    if kind == "text":  # blanks around it belong to it
        return (unguarded(cell) or None), None
    if kind == "word" or not text:
        return text or None, None
    if kind == "boolean":
        known = {"true": True, "false": False}.get(text.lower())  # spreadsheets save them in capitals
        return known, None if known is not None else ("this is neither true nor false", "write true or false")
    if kind == "integer":
        if _INTEGER.fullmatch(text):
            return int(text), None
        return None, ("this is not a whole number", "write digits only, like 12")
    if _NUMBER.fullmatch(text) and math.isfinite(float(text)):
        return float(text), None
    if re.fullmatch(r"[+-]?[0-9]+,[0-9]+", text):
        return None, ("a comma does not mark decimals", f"write {text.replace(',', '.')}")
    return None, ("this is not a number", "write it like 12.5, or leave the cell empty")


def _explained(
    error: ValidationError,
    file: str,
    lines: list[int],
    data: list[dict[str, Any]],
    reported: set[tuple[int | None, str]],
) -> list[InputProblem]:
    """pydantic's findings with line and column, without those of cells that are already reported."""
    document = Document({"steps": data}, {(): Source(file, "json")})
    problems = []
    for problem in explain(error, document, _Rows):
        index, _, column = problem.key.removeprefix("steps[").partition("].")
        line = lines[int(index)]
        if (line, column) in reported:
            continue
        message, remedy = problem.message, problem.remedy
        if message == "missing":
            message, remedy = "the cell is empty", remedy.replace("add it:", "write")
        problems.append(
            InputProblem(file, column, message, remedy, problem.value, problem.unit, line, problem.where)
        )
    return problems
