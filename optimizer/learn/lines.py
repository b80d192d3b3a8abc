"""Where the keys that change stand in a request's files, and the file of learned numbers to be included."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from optimizer.diagnostics.document import Document
from optimizer.errors import InputError, InputProblem
from optimizer.learn.changes import FILTERS, Change
from optimizer.learn.rows import WORDS
from optimizer.reading.files import read_source
from optimizer.reading.include import files_of, gather
from optimizer.words import KeyPath, listing, number, quoted, safe

TABLES = ("mount", "camera", "focus")  # in the order of the models


@dataclass(frozen=True)
class Place:
    """Where a key stands: the file as people name it, the line, and whether that is the request itself.

    `written` is false where only the table or filter that the key belongs to stands there. `file` is empty
    where not even that is written: the key has its default.
    """

    file: str = ""
    line: int | None = None
    own: bool = False
    written: bool = False


def places_of(path: Path, changes: Sequence[Change], *, allow_outside: bool = False) -> tuple[Place, ...]:
    """Find where the key of each change stands in a request's file and in those that it includes.

    Raises InputError where the request cannot be read.
    """
    document = gather(path, allow_outside=allow_outside)
    return tuple(_place(document, each) for each in changes)


def _place(document: Document, change: Change) -> Place:
    at = _key_path(document, change)
    if at is None:
        return Place()
    written = document.has(at)
    if not written and not document.has(at[:-1]):
        return Place()
    source = document.source(at)
    line = source.lines.at(at if written else at[:-1])
    return Place(source.file, line, source is document.source(()), written)


def _key_path(document: Document, change: Change) -> KeyPath | None:
    table, _, leaf = change.key.partition(".")
    if change.filter is None:
        return (table, leaf)
    rows = document.value((FILTERS,))
    for index, row in enumerate(rows if isinstance(rows, list) else ()):
        if isinstance(row, dict) and row.get("name") == change.filter:
            return (FILTERS, index, leaf)
    return None


@dataclass(frozen=True)
class Included:
    """How a file of learned numbers comes to count.

    `line` is the line of the request that includes it after all others, which then win over none of its
    numbers; `within`: it lies in the folder of the request or below it, so that it may be included.
    """

    line: str
    within: bool


@dataclass(frozen=True)
class Written:
    """A file of learned numbers, how the request includes it, and where an older file of its name is now."""

    file: Path
    included: Included
    older: Path | None


def check_file(path: Path, file: Path, *, allow_outside: bool = False) -> None:
    """Raise InputError where learned numbers may not go to a file: no TOML, or one of the request's own."""
    if file.suffix.lower() != ".toml":
        raise _refused(file, "the name does not end in .toml", 'name a file like "rig-learned.toml"')
    try:
        real = file.resolve()
    except (OSError, RuntimeError, ValueError):
        return  # whoever writes it will say what is wrong with it
    if real in files_of(path, allow_outside=allow_outside):
        raise _refused(
            file,
            "the request is read from it, and nothing is written into a request",
            'name another file, like "rig-learned-2.toml", and include it after this one',
        )


def included_as(path: Path, file: Path) -> Included:
    """Say how the request at `path` includes `file` last. Raises InputError where it cannot be read."""
    source, data = read_source(path, str(path))
    names = data.get("include", [])
    home, real = path.resolve().parent, file.resolve()
    within = real.is_relative_to(home)
    name = Path(os.path.relpath(real, home)).as_posix() if within else real.as_posix()
    every = [*(each for each in names if isinstance(each, str)), name]
    array = f"[{', '.join(quoted_whole(each) for each in every)}]"
    return Included(f'"include": {array}' if source.kind == "json" else f"include = {array}", within)


def learned_text(changes: Sequence[tuple[Change, Place]], seen: str, include: str) -> str | None:
    """The text of a TOML file with the learned numbers, to be included by a request.

    `seen` says from how many subs and nights they are, `include` is the line that includes the file. Filters
    are a list, which a file replaces as a whole: their lines stand in it as comments. None where no number
    outside that list changes.
    """
    lines = list(_lines(changes, seen, include))
    return None if all(line.startswith("#") or not line for line in lines) else "\n".join(lines) + "\n"


def _lines(changes: Sequence[tuple[Change, Place]], seen: str, include: str) -> Iterator[str]:
    yield f"# What the rig really takes, learned from {seen}."
    above = ", above its first [table]" if include.startswith("include") else ""
    yield f"# It counts once the request includes it after all other files{above}:"
    yield f"#   {include}"
    yield "# A key that stands in the request itself wins over the one here."
    for table in TABLES:
        own = [each for each, _ in changes if each.key.startswith(f"{table}.")]
        if own:
            yield from ("", f"[{table}]")
        for each in own:
            times = "once" if each.count == 1 else f"{each.count} times"
            in_sum = listing((WORDS[act] for act in each.together), "and")
            sums = f", for {in_sum} in sum" if in_sum else ""
            yield f"{each.line}  # seen {times}{sums}; the request had {number(each.old)}"
    filters = [each for each in changes if each[0].filter is not None]
    if filters:
        yield ""
        yield "# Filters are a list, which a file would replace as a whole, so these are changed by hand:"
        for each, place in filters:
            yield f"#   {filter_words(each, place)}"


def filter_words(change: Change, place: Place) -> str:
    """A filter's line to change, and where: `change_s = 11 for filter "Ha" (rig.toml, line 41)`."""
    stands = f" ({place_text(place)})" if place.file else ""
    return f"{change.line} for filter {quoted(change.filter or '')}{stands}"


def place_text(place: Place) -> str:
    """A place for people: `rig.toml, line 41`."""
    return place.file if place.line is None else f"{place.file}, line {place.line}"


def quoted_whole(name: str) -> str:
    """A file's name as a string of TOML or JSON, however long it is."""
    return '"' + safe(name.replace("\\", "\\\\").replace('"', '\\"')) + '"'


def _refused(file: Path, message: str, remedy: str) -> InputError:
    return InputError([InputProblem(safe(str(file)), "", f"cannot be written: {message}", remedy)])
