"""Requests spread over several files: `include = ["site.toml", "rig.toml"]`.

Paths are relative to the file that names them. Tables are merged key by key, everything else is replaced:
a later file of the list wins over an earlier one, the including file over all it includes.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from optimizer.diagnostics.document import Document, Source
from optimizer.diagnostics.lines import Lines
from optimizer.errors import InputError, InputProblem
from optimizer.models.request import REQUEST_SCHEMA
from optimizer.reading.files import read_source, read_text
from optimizer.reading.skyline_file import skyline_pairs
from optimizer.words import KeyPath, safe, shown

DEEPEST_INCLUDE = 10  # files that include one another; more is a slip, not a plan
DEEPEST_TABLE = 8  # tables within tables that are merged; the models have two


@dataclass(frozen=True)
class _Layer:
    data: dict[str, Any]
    origin: dict[KeyPath, Source]


def gather(path: Path, *, allow_outside: bool = False) -> Document:
    """Read the request at `path` with all that it includes, merged into one document.

    Included files must lie in the folder of the request or below it, symbolic links followed, unless
    `allow_outside`. Raises InputError where the request itself cannot be read; problems with included
    files are kept in the document, so that the rest can still be checked.
    """
    source, data = read_source(path, str(path))
    reader = _Gatherer(path.parent.resolve(), allow_outside)
    layer = reader.with_includes(path, source, data, chain=(path.resolve(),))
    return Document(layer.data, layer.origin, reader.problems, incomplete=reader.incomplete)


class _Gatherer:
    def __init__(self, root: Path, allow_outside: bool) -> None:
        self.root, self.allow_outside = root, allow_outside
        self.problems: list[InputProblem] = []
        self.incomplete = False
        self.done: dict[Path, _Layer] = {}  # a file included by two routes is read and complained of once

    def with_includes(
        self, path: Path, source: Source, data: dict[str, Any], chain: tuple[Path, ...]
    ) -> _Layer:
        """Lay a file's data over that of the files it includes."""
        here = Document(data, {(): source})
        own = {key: value for key, value in data.items() if key != "include"}
        merged = _Layer({}, {})
        for index, name in enumerate(self._names(here)):
            at: KeyPath = ("include", index)
            if not isinstance(name, str) or not name.strip():
                self._refuse(
                    here, at, "this is not the name of a file", 'write it like include = ["site.toml"]'
                )
                continue
            under = self._included(path, name, here, at, chain)
            if under is not None:
                merged = _overlay(merged, under)
        return _overlay(merged, self._with_skyline(path, here, _Layer(own, _origins(own, source))))

    def _with_skyline(self, path: Path, here: Document, layer: _Layer) -> _Layer:
        """The layer with `site.skyline = "file"` replaced by the pairs in that file, each with its line."""
        site = layer.data.get("site")
        if not isinstance(site, dict) or not isinstance(site.get("skyline"), str):
            return layer
        origin = dict(layer.origin)
        at: KeyPath = ("site", "skyline")
        place = path.parent / site["skyline"]
        pairs: dict[int, list[float]] = {}
        if self._allowed(place, here, at) is not None:
            try:
                text = read_text(place, os.path.normpath(place), content="the skyline")
            except InputError as error:
                for problem in error.problems:
                    self.problems.append(
                        here.problem(at, f"{problem.file}: {problem.message}", problem.remedy)
                    )
            else:
                file = safe(os.path.normpath(place))
                pairs, problems = skyline_pairs(text, file)
                self.problems.extend(problems)
                lines = Lines({(*at, index): line for index, line in enumerate(pairs)})
                origin[at] = Source(file, "toml", known_lines=lines)
        return _Layer({**layer.data, "site": {**site, "skyline": list(pairs.values())}}, origin)

    def _names(self, here: Document) -> list[Any]:
        names = here.data.get("include", [])
        if isinstance(names, list):
            return names
        like = f"include = [{shown(names)}]" if isinstance(names, str) else 'include = ["site.toml"]'
        self._refuse(here, ("include",), "this is not a list of file names", f"write {like}")
        return []

    def _included(
        self, parent: Path, name: str, here: Document, at: KeyPath, chain: tuple[Path, ...]
    ) -> _Layer | None:
        path = parent.parent / name
        real = self._allowed(path, here, at)
        if real is None:
            return None
        if real in chain:
            circle = " -> ".join(safe(link.name) for link in (*chain[chain.index(real) :], real))
            self._refuse(
                here, at, f"the files include one another in a circle: {circle}", "remove one of the includes"
            )
            return None
        if len(chain) > DEEPEST_INCLUDE:
            remedy = "name the files in the request itself"
            self._refuse(here, at, f"files include one another more than {DEEPEST_INCLUDE} deep", remedy)
            return None
        if real not in self.done:
            self.done[real] = self._read(path, here, at, (*chain, real))
        return self.done[real]

    def _allowed(self, path: Path, here: Document, at: KeyPath) -> Path | None:
        """Where a named file really lies, if it may be read; else the problem is noted."""
        try:
            real = path.resolve()
        except (OSError, RuntimeError, ValueError):  # links in a circle, a NUL in the name
            self._refuse(here, at, "this file cannot be found", "check its name and the links on the way")
            return None
        if not self.allow_outside and not real.is_relative_to(self.root):
            remedy = "move it there, or allow it with --include-outside"
            self._refuse(here, at, "this file lies outside the folder of the request", remedy)
            return None
        return real

    def _read(self, path: Path, here: Document, at: KeyPath, chain: tuple[Path, ...]) -> _Layer:
        file = os.path.normpath(path)  # people want rig.toml, not nights/../rig.toml
        try:
            source, data = read_source(path, file, content="the included part")
        except InputError as error:
            self.incomplete = True
            unread = [problem for problem in error.problems if problem.line is None]
            for problem in unread:  # nothing in that file to look at: the line that names it helps more
                self.problems.append(here.problem(at, f"{problem.file}: {problem.message}", problem.remedy))
            self.problems.extend(problem for problem in error.problems if problem.line is not None)
            return _Layer({}, {})
        schema = data.pop("schema", REQUEST_SCHEMA)
        if schema != REQUEST_SCHEMA:
            shell = Document({"schema": schema}, {(): source})
            remedy = f'write schema = "{REQUEST_SCHEMA}", or leave the key out of included files'
            self.problems.append(shell.problem(("schema",), "this is no part of a request", remedy))
        return self.with_includes(path, source, data, chain)

    def _refuse(self, here: Document, at: KeyPath, message: str, remedy: str) -> None:
        self.incomplete = True
        self.problems.append(here.problem(at, message, remedy))


def _overlay(under: _Layer, over: _Layer) -> _Layer:
    return _Layer(_merged(under.data, over.data), under.origin | over.origin)


def _merged(under: dict[str, Any], over: dict[str, Any], depth: int = 0) -> dict[str, Any]:
    result = dict(under)
    for key, value in over.items():
        beneath = result.get(key)
        if isinstance(value, dict) and isinstance(beneath, dict) and depth < DEEPEST_TABLE:
            result[key] = _merged(beneath, value, depth + 1)
        else:
            result[key] = value
    return result


def _origins(data: dict[str, Any], source: Source, path: KeyPath = ()) -> dict[KeyPath, Source]:
    """The source for every table and key, down to the first list."""
    found = {path: source}
    for key, value in data.items():
        found[(*path, key)] = source
        if isinstance(value, dict) and len(path) < DEEPEST_TABLE:
            found |= _origins(value, source, (*path, key))
    return found
