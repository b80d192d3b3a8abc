"""Data as gathered from one file or several, that still knows where each key came from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal

from optimizer.catalogue.objects import OwnCatalogue
from optimizer.diagnostics.lines import Lines, lines_of
from optimizer.errors import InputProblem
from optimizer.words import KeyPath, key_text, ordinal, quoted, shown, unit_of

Kind = Literal["toml", "json", "csv"]

# What one element of a list is called.
_ELEMENT = {
    "targets": "target",
    "filters": "filter",
    "goals": "goal",
    "steps": "step",
    "clear": "span",
    "blocked": "span",
    "skyline": "pair",
    "clear_odds": "pair",
    "clear_odds_by_evening": "pair",
    "unplanned": "entry",
    "relief": "change",
    "violations": "violation",
    "rules": "rule",
}


@dataclass(frozen=True)
class Source:
    """Where data came from: `file` is its name for people, `text` is empty where there is no file.

    `columns` are those of a table, which messages name in place of keys. `targets_left` has the places, in
    the list of targets as it is written, of those that were not left out; empty: all are there.
    """

    file: str
    kind: Kind
    text: str = ""
    known_lines: Lines | None = None  # for files in neither format
    columns: tuple[str, ...] = ()
    targets_left: tuple[int, ...] = ()

    @cached_property
    def lines(self) -> Lines:
        """The line of every key, counted from 1; empty where there is no text."""
        if self.known_lines is not None or self.kind == "csv":
            return self.known_lines or Lines()
        return lines_of(self.text, self.kind)

    def called(self, path: KeyPath) -> str:
        """What a key is called in this file: its path, or the column of a table; empty for a whole row."""
        if self.kind != "csv":
            return key_text(self.in_file(path))
        leaf = next((part for part in reversed(path) if isinstance(part, str)), "")
        if leaf in ("targets", "goals"):
            return "filter" if path[-1] == "goals" else ""
        return leaf if leaf in self.columns else leaf.removesuffix("_deg")

    def line(self, path: KeyPath) -> int | None:
        """The line of a path, or of the nearest table around it that is written down; None without one."""
        return self.lines.at(self.in_file(path))

    def in_file(self, path: KeyPath) -> KeyPath:
        """The path as it is counted in the file."""
        if self.targets_left and path[:1] == ("targets",) and len(path) > 1:
            return ("targets", self.targets_left[int(path[1])], *path[2:])
        return path


def _within(holder: Any, part: str | int) -> bool:
    if isinstance(holder, list | tuple):
        return isinstance(part, int) and part < len(holder)
    return isinstance(holder, dict) and part in holder


def _at(data: Any, path: KeyPath) -> Any:
    for part in path:
        if not _within(data, part):
            return None
        data = data[part]
    return data


@dataclass
class Document:
    """Data that was gathered from one file or several.

    `origin` maps the path of every table and key, down to the first list, to the file that gave it;
    `problems` were met while gathering; `incomplete` says that a file is missing from the data. `catalogue`
    is the user's own, in which names of objects are looked up first. `said` are sentences on how files were
    read, `doubts` what is worth a second look in them.

    Where something was typed short, `data` has it written out, `typed` is all as it was typed, and `taken`
    maps the path of what was filled in to that of the place where it is typed. Messages are about the latter.
    `left_out` are the names and aliases of targets that were taken out, being for other rigs.
    """

    data: dict[str, Any]
    origin: dict[KeyPath, Source]
    problems: list[InputProblem] = field(default_factory=list)
    incomplete: bool = False
    catalogue: OwnCatalogue | None = None
    said: list[str] = field(default_factory=list)
    doubts: list[InputProblem] = field(default_factory=list)
    typed: dict[str, Any] | None = None
    taken: dict[KeyPath, KeyPath] = field(default_factory=dict)
    left_out: tuple[str, ...] = ()

    def written(self, path: KeyPath) -> KeyPath:
        """Where it is typed what `data` has at a path: under a filter or in a set, or just there."""
        for length in range(len(path), 0, -1) if self.taken else ():
            if path[:length] in self.taken:
                return (*self.taken[path[:length]], *path[length:])
        return path

    def place(self, path: KeyPath, beside: KeyPath = ()) -> str:
        """The key at a path as it is typed, with its line: `sets.colour.goals[0] on line 12`.

        The file is named where it is another than that of the key `beside`; a row of a table is its line.
        """
        path = self.written(path)
        source = self.source(path)
        line = source.line(path)
        if source.kind == "csv":
            told = f"{source.called(path)} on line {line}".removeprefix(" on ")
        else:
            told = source.called(path) + (f" on line {line}" if line else "")
        return told + (f" of {source.file}" if beside and source != self.source(self.written(beside)) else "")

    def source(self, path: KeyPath) -> Source:
        """The file that gave the key, or the nearest table around it."""
        return next(
            self.origin[path[:length]] for length in range(len(path), -1, -1) if path[:length] in self.origin
        )

    def value(self, path: KeyPath) -> Any:
        """The data at a path, or None where nothing stands there."""
        return _at(self.data, path)

    def has(self, path: KeyPath) -> bool:
        """Whether the key at a path is written down, be it as a null."""
        path = self.written(path)
        return not path or _within(self.typed_value(path[:-1]), path[-1])

    def typed_value(self, path: KeyPath) -> Any:
        """What is typed at a path, or None where nothing stands there."""
        return _at(self.data if self.typed is None else self.typed, self.written(path))

    def problem(self, path: KeyPath, message: str, remedy: str, *, unit: str | None = None) -> InputProblem:
        """Make a problem of a key, with the file, line, value and unit that belong to it.

        `unit` takes the place of the one that is read from the key's name.
        """
        where = self.where(path)
        path = self.written(path)
        source = self.source(path)
        written = self.has(path)
        value = self.typed_value(path)
        leaf = next((part for part in reversed(path) if isinstance(part, str)), "")
        if unit is None:
            unit = "" if isinstance(value, str | dict | list | tuple) or value is None else unit_of(leaf)
        return InputProblem(
            file=source.file,
            key=source.called(path),
            message=message,
            remedy=remedy,
            value=shown(value) if written and source.called(path) else "",
            unit=unit,
            line=source.line(path if written else path[:-1]),
            where=where,
        )

    def where(self, path: KeyPath) -> str:
        """Say in words which list elements are on a path: `1st goal of target "Cradle Nebula"`.

        Of a goal that a target takes from a set, both are told.
        """
        written = self.written(path)
        told = self._elements(written)
        if written[:1] == ("sets",) and path[:1] == ("targets",):
            told = f"{told}, for {self._elements(path[:2])}"
        return told

    def _elements(self, path: KeyPath) -> str:
        told = []
        for index in range(len(path) - 1, 0, -1):
            part, holder = path[index], path[index - 1]
            if isinstance(part, int) and isinstance(holder, str) and holder in _ELEMENT:
                word = "month" if path[: index + 1][-3:-1] == ("season", "clear_odds") else _ELEMENT[holder]
                told.append(self._element(path[: index + 1], word, asked=path))
            elif holder == "sets" and index == 1 and len(path) > 2:
                told.append(f"set {quoted(str(part))}")
        return " of ".join(told)

    def _element(self, path: KeyPath, word: str, *, asked: KeyPath) -> str:
        element, index = self.typed_value(path), self.source(path).in_file(path)[-1]
        name = element.get("name") if isinstance(element, dict) else None
        if isinstance(name, str) and name.strip() and asked != (*path, "name"):
            return f"{word} {quoted(name)}"
        number = element.get("step") if isinstance(element, dict) and word == "step" else None
        if isinstance(number, int) and not isinstance(number, bool) and asked != (*path, "step"):
            return f"step {shown(number)}"
        return f"{ordinal(int(index))} {word}"

    def in_file_order(self, problems: Iterable[InputProblem]) -> list[InputProblem]:
        """Sort problems by file, the request's own first, and by line, those without one first."""
        files = list(dict.fromkeys(source.file for source in self.origin.values()))
        files = [self.origin[()].file, *files]
        return sorted(
            problems,
            key=lambda problem: (
                files.index(problem.file) if problem.file in files else len(files),
                problem.line or 0,
            ),
        )
