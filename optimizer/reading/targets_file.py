"""Targets from a spreadsheet: a table with a row for each goal, beside the cells of its target.

One row a goal, and not a column for each filter: goals of one filter may differ in exposure, gain or binning,
and the columns are the same for every rig.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from optimizer.diagnostics.csv_cells import unguarded
from optimizer.diagnostics.document import Document, Source
from optimizer.diagnostics.lines import Lines
from optimizer.errors import InputError, InputProblem
from optimizer.reading.files import refuse
from optimizer.reading.typed_cells import number_in, whole_in, word_in
from optimizer.reading.typed_table import TypedCells, TypedTable, read_typed_table
from optimizer.words import KeyPath, count, quoted

TARGETS_KEY = "targets_csv"
PLACES = ("ra", "dec", "ra_deg", "dec_deg")
OF_TARGET = (
    "object",
    *PLACES,
    "position_angle_deg",
    "weight",
    "floor_deg",
    "least_min",
    "sides",
    "aliases",
    "rigs",
    "set",
)
OF_GOAL = ("filter", "exposure_s", "frames", "hours", "done", "gain", "offset", "binning", "in_set")
COLUMNS = tuple(
    dict.fromkeys(("name", "object", "filter", "exposure_s", "frames", *OF_TARGET, *OF_GOAL))
)  # a header to begin with comes first
CONTENT = "the targets, beginning with name,object,filter,exposure_s,frames"
TEXTS = ("object", "sides", "set", "filter")
FEWEST_ALIKE = 3  # right ascensions that say something about how all are written
MOST_TOLD = 100  # problems that are told of one file
_ANSWERS = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}
_QUOTED = re.compile(r'"((?:[^"]|"")*)"')
_ALIAS = re.compile(r'\s*("(?:[^"]|"")*"\s*(?=[;|]|$)|[^;|]*)\s*(?:[;|]|$)')


@dataclass
class TargetsFile:
    """The targets of one file as a request has them, and where each key stands.

    `lines` has the line of each key by its path from the list of targets on: `(0, "weight")`. `said` says how
    the file was read. `problems` are those of rows that fit nowhere; what is wrong with a value is found by
    whoever checks the targets. `doubts` are worth a second look.
    """

    file: str
    columns: tuple[str, ...]
    said: str = ""
    targets: list[dict[str, Any]] = field(default_factory=list)
    lines: dict[KeyPath, int] = field(default_factory=dict)
    problems: list[InputProblem] = field(default_factory=list)
    doubts: list[InputProblem] = field(default_factory=list)


def read_targets(path: Path) -> TargetsFile:
    """Read a table of targets. Raises InputError where the file or its header cannot be read at all."""
    table = read_typed_table(path, COLUMNS, content=CONTENT)
    if "name" not in table.columns:
        what, remedy = "the header lacks name", "name the columns, like name,object,filter,exposure_s,frames"
        raise InputError([InputProblem(table.file, "", what, remedy, line=table.header_line)])
    if not table.rows:
        raise refuse(table.file, "there are no rows below the header", "add one row for each goal", line=1)
    reader = _Reader(table)
    for cells in table.rows:
        reader.row(cells)
    found = reader.found
    found.said = f"{table.file}: {count(len(found.targets), 'target')}. {table.said}"
    found.problems.sort(key=lambda problem: problem.line or 0)
    if rest := found.problems[MOST_TOLD:]:
        what = f"from here on {len(rest)} more things are wrong with the rows of this file"
        told = InputProblem(table.file, "", what, "mend those above first", line=rest[0].line)
        found.problems[MOST_TOLD:] = [told]
    found.doubts += _hours(table)
    return found


def add_targets(document: Document, found: TargetsFile | None) -> None:
    """Add the targets of a file, and what is to be said of it, to those of a request.

    None stands for a file that could not be read: the targets that lack then are not missed.
    """
    own = document.data.get("targets", [])
    if found is not None:
        document.problems += found.problems
    if found is None or not found.targets:
        document.incomplete = document.incomplete or "targets" not in document.data
    elif isinstance(own, list):
        at = len(own)
        lines = Lines({("targets", at + int(path[0]), *path[1:]): line for path, line in found.lines.items()})
        sheet = Source(found.file, "csv", known_lines=lines, columns=found.columns)
        document.data["targets"] = [*own, *found.targets]
        document.origin |= {("targets", at + index): sheet for index in range(len(found.targets))}
        document.doubts += found.doubts
        document.said.append(found.said)


def _hours(table: TypedTable) -> Iterator[InputProblem]:
    """Warn of right ascensions that all are plain numbers that could be hours, in the column `ra`."""
    given = [text for cells in table.rows if (text := _bare(cells.cells.get("ra", "")))]
    values = [number_in(text) for text in given]
    if len(given) >= FEWEST_ALIKE and all(value is not None and 0 <= value < 24 for value in values):
        yield InputProblem(
            table.file,
            "ra",
            "all of them are plain numbers below 24, and are taken as degrees",
            "write hours like 20h51m01s or 20:51:01; leave them so if they are degrees",
        )


@dataclass
class _Given:
    """A target as far as it is read: where it stands in the list, and the line and text of each cell."""

    name: str
    line: int
    data: dict[str, Any]
    at: int
    cells: dict[str, tuple[int, str]] = field(default_factory=dict)


class _Reader:
    """Reads row after row."""

    def __init__(self, table: TypedTable) -> None:
        self._table = table
        self.found = TargetsFile(table.file, table.columns, problems=list(table.problems))
        self._given: dict[str, _Given] = {}
        self._latest: _Given | None = None
        self._cut = {problem.line for problem in table.problems}  # their cells stand under other columns

    def row(self, cells: TypedCells) -> None:
        """Read the cells of a target and those of its goal, if the row has one."""
        if cells.line in self._cut:
            name = _text(cells.cells.get("name", ""))
            self._latest = self._given.get(name) or _Given(name, cells.line, {}, -1)
            return
        target = self._target(cells)
        for column in OF_TARGET:
            if text := cells.cells.get(column, ""):
                self._cell_of_target(target, cells, column, text)
        if any(cells.cells.get(column) for column in OF_GOAL):
            self._goal(target, cells)

    def _target(self, cells: TypedCells) -> _Given:
        """The target of a row: by its name wherever its other rows stand, without one the row's above."""
        name = _text(cells.cells.get("name", ""))
        if name in self._given:
            target = self._given[name]
        elif name:
            at = len(self.found.targets)
            target = self._given[name] = _Given(name, cells.line, {"name": name}, at)
            self.found.targets.append(target.data)
            self.found.lines |= {(at,): cells.line, (at, "name"): cells.line}
        elif self._latest is not None:
            target = self._latest
        else:
            remedy = "write the name of the target; rows below may leave it empty"
            self._problem(cells, "name", "the cell is empty", remedy)
            target = _Given("", cells.line, {}, -1)  # so that this is told once
        self._latest = target
        return target

    def _cell_of_target(self, target: _Given, cells: TypedCells, column: str, text: str) -> None:
        """Take a cell that holds for all goals of the target: given once, or the same in all rows."""
        before = target.cells.get(column)
        if before is None and not cells.cells.get("name") and target.name and cells.line != target.line:
            what = (
                f"without a name the row goes on with {quoted(target.name)} (line {target.line}), "
                "which leaves this empty"
            )
            self._problem(cells, column, what, f"write the name of the target, or this on line {target.line}")
        elif before is not None and before[1] != text:
            what = f"line {before[0]} says otherwise of {quoted(target.name)}: {quoted(before[1])}"
            self._problem(cells, column, what, "write the same, leave the cell empty, or name another target")
        elif before is None:
            target.cells[column] = (cells.line, text)
            twin = f"{column}_deg" if column in ("ra", "dec") else column.removesuffix("_deg")
            if column in PLACES and twin in target.cells:
                self._problem(cells, column, f"{twin} is given as well", "keep one of the two")
                return
            key, value = _of_target(column, text)
            target.data[key] = value
            self.found.lines[(target.at, key)] = cells.line

    def _goal(self, target: _Given, cells: TypedCells) -> None:
        if not cells.cells.get("filter"):
            first = next(column for column in OF_GOAL if cells.cells.get(column))
            what = f"the cell is empty, and {first} is given"
            self._problem(cells, "filter", what, f"write the name of a filter, or leave {first} empty")
            return
        goals = target.data.setdefault("goals", [])
        at: KeyPath = (target.at, "goals", len(goals))
        goals.append(
            {column: _of_goal(column, text) for column in OF_GOAL if (text := cells.cells.get(column, ""))}
        )
        self.found.lines[at] = cells.line

    def _problem(self, cells: TypedCells, column: str, message: str, remedy: str) -> None:
        text = cells.cells.get(column, "")
        value = quoted(text) if text else ""
        self.found.problems.append(
            InputProblem(self._table.file, column, message, remedy, value, line=cells.line)
        )


def _of_target(column: str, text: str) -> tuple[str, Any]:
    """The key and the value that a cell of a target stands for; text where it holds no number."""
    if column in ("aliases", "rigs"):
        return column, _names(unguarded(text))
    if column in TEXTS:
        return column, _text(text) if column != "sides" else _text(text).casefold()
    bare = _bare(text)
    if column in ("ra", "dec"):
        value = number_in(bare)
        if value is not None:
            return f"{column}_deg", value
        return column, re.sub(r"(?<=[0-9]),(?=[0-9])", ".", bare)
    return column, _number(bare)


def _of_goal(column: str, text: str) -> Any:
    if column in TEXTS:
        return _text(text)
    bare = _bare(text)
    if column == "in_set":
        word = word_in(bare, tuple(_ANSWERS))
        return bare if word is None else _ANSWERS[word]
    return _number(bare)


def _number(text: str) -> int | float | str:
    """A number, whole if it is digits alone, a sign set aside; else the text, which no key takes."""
    whole = whole_in(text.removeprefix("-"))
    if whole is not None and text.startswith("-"):
        whole = -whole
    value = number_in(text) if whole is None else whole
    return text if value is None else value


def _bare(text: str) -> str:
    return unguarded(text).strip()


def _text(cell: str) -> str:
    """The text of a cell; in double quotes it stands as it is, blanks around included."""
    return _unquoted(unguarded(cell))


def _unquoted(text: str) -> str:
    match = _QUOTED.fullmatch(text)
    return match[1].replace('""', '"') if match else text


def _names(text: str) -> list[str]:
    """Part names at semicolons and bars; one in double quotes may hold them."""
    parts = (_unquoted(match[1].strip()) for match in _ALIAS.finditer(text))
    return [part for part in parts if part]


def text_cell(text: str) -> str:
    """Write text so that a cell gives it back: in double quotes where blanks around it would be lost."""
    return _kept(text) if text != text.strip() or text.startswith('"') else text


def names_cell(names: tuple[str, ...]) -> str:
    """Write names so that a cell gives them back."""
    return "; ".join(
        _kept(each) if each != each.strip() or each.startswith('"') or set(each) & {";", "|"} else each
        for each in names
    )


def _kept(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'
