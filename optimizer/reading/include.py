"""Requests spread over several files: `include = ["site.toml", "rig.toml"]`.

Paths are relative to the file that names them. Tables are merged key by key, everything else is replaced:
a later file of the list wins over an earlier one, the including file over all it includes.
"""

from __future__ import annotations

import datetime as dt
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from optimizer.catalogue.objects import OwnCatalogue
from optimizer.diagnostics.document import Document, Source
from optimizer.diagnostics.lines import Lines
from optimizer.diagnostics.nights import night_asked
from optimizer.errors import InputError, InputProblem
from optimizer.models.request import REQUEST_SCHEMA
from optimizer.reading.catalogue_file import CATALOGUE_KEY, own_catalogue
from optimizer.reading.catalogue_file import CONTENT as CATALOGUE
from optimizer.reading.catalogue_file import LARGEST_BYTES as LARGEST_CATALOGUE_BYTES
from optimizer.reading.evening import Tonight
from optimizer.reading.files import LARGEST_BYTES, read_source, read_text
from optimizer.reading.for_rig import leave_out_others
from optimizer.reading.odds_file import CONTENT as ODDS
from optimizer.reading.odds_file import LARGEST_BYTES as LARGEST_ODDS_BYTES
from optimizer.reading.odds_file import OddsRow, instants_of, odds_rows
from optimizer.reading.season_odds_file import CONTENT as SEASON_ODDS
from optimizer.reading.season_odds_file import evening_odds
from optimizer.reading.short_forms import write_out
from optimizer.reading.skyline_file import skyline_pairs
from optimizer.reading.targets_file import TARGETS_KEY, TargetsFile, add_targets, read_targets
from optimizer.words import KeyPath, safe, shown

ODDS_AT: KeyPath = ("night", "clear_odds")
DEEPEST_INCLUDE = 10  # files that include one another; more is a slip, not a plan
DEEPEST_TABLE = 8  # tables within tables that are merged; the models have two


@dataclass(frozen=True)
class _Layer:
    data: dict[str, Any]
    origin: dict[KeyPath, Source]


def gather(
    path: Path,
    *,
    allow_outside: bool = False,
    evening: dt.date | Tonight | None = None,
    evening_from: str = "",
) -> Document:
    """Read the request at `path` with all that it includes, merged into one document.

    Included files must lie in the folder of the request or below it, symbolic links followed, unless
    `allow_outside`. `evening` replaces `night.evening`, `evening_from` is what messages name as its source:
    local times are those of that night. Targets for other rigs are left out, and what is typed short is
    written out. Raises InputError where the request itself cannot be read or no target is left; problems with
    included files are kept in the document, so that the rest can still be checked.
    """
    source, data = read_source(path, str(path))
    reader = _Gatherer(path.parent.resolve(), allow_outside)
    layer = reader.with_includes(path, source, data, chain=(path.resolve(),))
    document = Document(layer.data, layer.origin, reader.problems, incomplete=reader.incomplete)
    if evening is not None:
        _replace_evening(document, evening, evening_from)
    reader.resolve_odds(document)
    reader.resolve_catalogue(document)
    reader.resolve_targets(document)
    leave_out_others(document, path)
    write_out(document)
    return document


def files_of(path: Path, *, allow_outside: bool = False) -> frozenset[Path]:
    """Say where the request at `path` and all files that it includes really lie.

    Raises InputError where the request itself cannot be read.
    """
    source, data = read_source(path, str(path))
    reader = _Gatherer(path.parent.resolve(), allow_outside)
    reader.with_includes(path, source, data, chain=(path.resolve(),))
    return frozenset({path.resolve(), *reader.done})


def _replace_evening(document: Document, evening: dt.date | Tonight, source: str) -> None:
    night = document.data.get("night", {})
    if isinstance(night, dict):
        date = evening.evening(None) if isinstance(evening, Tonight) else evening
        document.data["night"] = {**night, "evening": date}
        document.origin[("night", "evening")] = Source(source, "toml")
    if isinstance(evening, Tonight) and (asked := night_asked(document)) is not None:  # now the site is known
        document.data["night"]["evening"] = evening.evening(asked[1])


class _Gatherer:
    def __init__(self, root: Path, allow_outside: bool) -> None:
        self.root, self.allow_outside = root, allow_outside
        self.problems: list[InputProblem] = []
        self.incomplete = False
        self.odds: list[tuple[Source, list[OddsRow], bool]] = []  # of each file: is it whole?
        self.catalogues: list[tuple[Source, OwnCatalogue]] = []
        self.targets: list[tuple[Source, TargetsFile | None]] = []
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
        layer = self._with_skyline(path, here, _Layer(own, _origins(own, source)))
        self._read_catalogue(path, here)
        self._read_targets(path, here)
        return _overlay(merged, self._with_season_odds(path, here, self._with_odds(path, here, layer)))

    def _with_skyline(self, path: Path, here: Document, layer: _Layer) -> _Layer:
        """The layer with `site.skyline = "file"` replaced by the pairs in that file, each with its line."""
        site = layer.data.get("site")
        if not isinstance(site, dict) or not isinstance(site.get("skyline"), str):
            return layer
        origin = dict(layer.origin)
        at: KeyPath = ("site", "skyline")
        pairs: dict[int, list[float]] = {}
        if (found := self._named(path, here, at, site["skyline"], "the skyline")) is not None:
            file, text = found
            pairs, problems = skyline_pairs(text, file)
            self.problems.extend(problems)
            lines = Lines({(*at, index): line for index, line in enumerate(pairs)})
            origin[at] = Source(file, "toml", known_lines=lines)
        return _Layer({**layer.data, "site": {**site, "skyline": list(pairs.values())}}, origin)

    def _with_odds(self, path: Path, here: Document, layer: _Layer) -> _Layer:
        """The layer with `night.clear_odds_file` replaced by the pairs in that file, as they are written."""
        night = layer.data.get("night")
        at: KeyPath = ("night", "clear_odds_file")
        if not isinstance(night, dict) or at[1] not in night:
            return layer
        name = night[at[1]]
        pairs: list[list[str | float]] = []
        origin = {key: source for key, source in layer.origin.items() if key != at}
        if "clear_odds" in night:
            self.problems.append(here.problem(at, "clear_odds is given as well", "keep one of the two"))
        elif not isinstance(name, str) or not name.strip():
            remedy = 'write it like clear_odds_file = "tonight.csv"'
            self.problems.append(here.problem(at, "this is not the name of a file", remedy))
        elif (found := self._named(path, here, at, name, ODDS, LARGEST_ODDS_BYTES)) is not None:
            file, text = found
            rows, problems = odds_rows(text, file)
            self.problems.extend(problems)
            pairs = [[row.time, row.percent] for row in rows]
            lines = Lines({(*ODDS_AT, index): row.line for index, row in enumerate(rows)})
            origin[ODDS_AT] = Source(file, "toml", known_lines=lines)
            self.odds.append((origin[ODDS_AT], rows, not problems))
        kept = {key: value for key, value in night.items() if key != at[1]}
        return _Layer({**layer.data, "night": {**kept, "clear_odds": pairs}}, origin)

    def _with_season_odds(self, path: Path, here: Document, layer: _Layer) -> _Layer:
        """The layer with `season.clear_odds_file` replaced by the pairs in that file, each with its line."""
        season = layer.data.get("season")
        at, into = ("season", "clear_odds_file"), "clear_odds_by_evening"
        if not isinstance(season, dict) or at[1] not in season:
            return layer
        name = season[at[1]]
        pairs: dict[int, list[Any]] = {}
        origin = {key: source for key, source in layer.origin.items() if key != at}
        if into in season:
            self.problems.append(here.problem(at, f"{into} is given as well", "keep one of the two"))
        elif not isinstance(name, str) or not name.strip():
            remedy = 'write it like clear_odds_file = "odds.csv"'
            self.problems.append(here.problem(at, "this is not the name of a file", remedy))
        elif (found := self._named(path, here, at, name, SEASON_ODDS, LARGEST_ODDS_BYTES)) is not None:
            file, text = found
            pairs, problems = evening_odds(text, file)
            self.problems.extend(problems)
            lines = Lines({("season", into, index): line for index, line in enumerate(pairs)})
            origin["season", into] = Source(file, "toml", known_lines=lines)
        kept = {key: value for key, value in season.items() if key not in (at[1], into)}
        return _Layer({**layer.data, "season": {**kept, into: list(pairs.values())}}, origin)

    def resolve_odds(self, document: Document) -> None:
        """Turn the times of the file of odds that the document took into instants; the night is known now."""
        source = document.origin.get(ODDS_AT)
        taken = next(((rows, whole) for given, rows, whole in self.odds if given is source), None)
        if source is None or taken is None:
            return
        rows, whole = taken
        asked, pairs = night_asked(document), list[list[dt.datetime | float]]()
        if asked is not None:  # else its own problems are told, and without it there is nothing to say
            instants, problems = instants_of(rows, source.file, *asked, whole=whole)
            self.problems.extend(problems)
            if whole and not problems:
                pairs = [[instant, row.percent] for instant, row in zip(instants, rows, strict=True)]
        document.data["night"] = {**document.data["night"], "clear_odds": pairs}

    def _read_catalogue(self, path: Path, here: Document) -> None:
        """Read the user's own catalogue, if this file names one; problems are noted."""
        if CATALOGUE_KEY not in here.data:
            return
        name, own = here.data[CATALOGUE_KEY], OwnCatalogue("", {}, whole=False)
        if not isinstance(name, str) or not name.strip():
            remedy = 'write it like catalogue = "mine.csv"'
            self.problems.append(here.problem((CATALOGUE_KEY,), "this is not the name of a file", remedy))
        elif found := self._named(path, here, (CATALOGUE_KEY,), name, CATALOGUE, LARGEST_CATALOGUE_BYTES):
            file, text = found
            own, problems = own_catalogue(text, file)
            self.problems.extend(problems)
        self.catalogues.append((here.source(()), own))

    def resolve_catalogue(self, document: Document) -> None:
        """Give the document the catalogue that it names last, and take the key, which is read, out of it."""
        source = document.origin.get((CATALOGUE_KEY,))
        document.data.pop(CATALOGUE_KEY, None)
        document.catalogue = next((own for given, own in self.catalogues if given is source), None)

    def _read_targets(self, path: Path, here: Document) -> None:
        """Read the spreadsheet of targets, if this file names one; problems are noted."""
        if TARGETS_KEY not in here.data:
            return
        name, at, found = here.data[TARGETS_KEY], (TARGETS_KEY,), None
        if not isinstance(name, str) or not name.strip():
            remedy = 'write it like targets_csv = "targets.csv"'
            self.problems.append(here.problem(at, "this is not the name of a file", remedy))
        elif self._allowed(path.parent / name, here, at) is not None:
            try:
                found = read_targets(Path(os.path.normpath(path.parent / name)))
            except InputError as error:
                self._note(error, here, at)
        self.targets.append((here.source(()), found))

    def resolve_targets(self, document: Document) -> None:
        """Add the targets of the spreadsheet that the document names last to its own."""
        source = document.origin.get((TARGETS_KEY,))
        document.data.pop(TARGETS_KEY, None)
        if source is not None:
            add_targets(document, next((found for given, found in self.targets if given is source), None))

    def _named(
        self,
        path: Path,
        here: Document,
        at: KeyPath,
        name: str,
        content: str,
        largest_bytes: int = LARGEST_BYTES,
    ) -> tuple[str, str] | None:
        """The name for people and the text of a file beside that at `path`; else the problem is noted."""
        place = path.parent / name
        if self._allowed(place, here, at) is None:
            return None
        file = os.path.normpath(place)
        try:
            return safe(file), read_text(place, file, content=content, largest_bytes=largest_bytes)
        except InputError as error:
            self._note(error, here, at)
        return None

    def _note(self, error: InputError, here: Document, at: KeyPath) -> None:
        """Note why a named file cannot be used: on its own line, else where it is named."""
        for problem in error.problems:
            if problem.line is None:  # nothing in that file to look at: the line that names it helps more
                problem = here.problem(at, f"{problem.file}: {problem.message}", problem.remedy)
            self.problems.append(problem)

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
            self._note(error, here, at)
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
