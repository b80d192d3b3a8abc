"""The lines of a request to change by what was learned: which, from what to what, and where they stand."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from optimizer.diagnostics.document import Document
from optimizer.errors import InputError, InputProblem
from optimizer.learn.acts import Learned, LearnedAct
from optimizer.models.request import Request
from optimizer.reading.files import read_source
from optimizer.reading.include import files_of, gather
from optimizer.words import KeyPath, number, quoted, safe, unit_of

TENTHS = 1  # decimals of a number that is written: a plan counts whole seconds, rounded up
LEAST_S = 1.0  # a smaller difference changes no plan that counts whole seconds
LEAST_RUN_S = 0.1  # of an autofocus, whose length must be above 0
FILTERS = "filters"
TABLES = ("mount", "camera", "focus")  # in the order of the models


@dataclass(frozen=True)
class Change:
    """A key of the request whose number differs from what was measured, in seconds.

    `key` is like `camera.dither_s`; for `filters.change_s` `filter` is the filter's name, else None. `count`
    is how many times the act was seen.
    """

    key: str
    old: float
    new: float
    count: int
    filter: str | None = None

    @property
    def unit(self) -> str:
        """The unit in words, as in messages."""
        return unit_of(self.key)

    @property
    def line(self) -> str:
        """The line as a TOML file has it: `dither_s = 14.5`."""
        return f"{self.key.rpartition('.')[2]} = {number(self.new)}"


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


def changes_of(request: Request, learned: Learned) -> tuple[Change, ...]:
    """The keys to change: those whose act surely takes longer or shorter than planned, by a second or more.

    What a sub takes beside its exposure goes to `overhead_s` as far as it is more than the download, what a
    slew takes beyond the planned motion of the axes to `centre_s`. A flip's numbers are never changed.
    """
    return tuple(_changes(request, learned))


def sure(act: LearnedAct | None) -> bool:
    """Whether an act surely takes longer or shorter than planned, by so much that it matters."""
    if act is None or not act.known or act.longer_s is None:
        return False
    if act.longer_from_s is None or act.longer_to_s is None:
        return False
    return abs(act.longer_s) >= LEAST_S and (act.longer_from_s > 0 or act.longer_to_s < 0)


def _changes(request: Request, learned: Learned) -> Iterator[Change]:
    camera = request.camera
    slew = learned.of("slew")
    if slew is not None and sure(slew):
        old = request.mount.centre_s
        yield from _change("mount.centre_s", old, max(0.0, old + (slew.longer_s or 0.0)), slew)
    between = learned.of("between_subs")
    if between is not None and sure(between):
        over = rounded((between.median_s or 0.0) - camera.download_s)
        if over < 0:
            download = max(0.0, between.median_s or 0.0)
            yield from _change("camera.download_s", camera.download_s, download, between)
        yield from _change("camera.overhead_s", camera.overhead_s, max(0.0, over), between)
    for key, old, act in (
        ("camera.dither_s", camera.dither_s, learned.of("dither")),
        ("focus.run_s", request.focus.run_s, learned.of("focus")),
    ):
        if act is not None and sure(act):
            yield from _change(key, old, act.median_s or 0.0, act)
    for each in request.filters:
        act = _filter_act(request, learned, each.name)
        if act is not None and sure(act):
            yield from _change("filters.change_s", each.change_s, act.median_s or 0.0, act, each.name)


def _filter_act(request: Request, learned: Learned, name: str) -> LearnedAct | None:
    """What tells of the changes to a filter: its own row or, where that is not known, the row of all filters.

    The latter only for a filter that was put in, and where all that were are planned alike.
    """
    own, every = learned.of("filter", name), learned.of("filter")
    if own is None or own.known or every is None:
        return own
    planned = {each.change_s for each in request.filters if learned.of("filter", each.name) is not None}
    return every if len(planned) == 1 else own


def _change(
    key: str, old: float, new: float, act: LearnedAct, filter_name: str | None = None
) -> Iterator[Change]:
    """The change of a key, unless it comes to the same number; an act of no length is one of a tenth."""
    new = rounded(max(new, LEAST_RUN_S if key == "focus.run_s" else 0.0))
    if new != old:
        yield Change(key, old, new, act.count, filter_name)


def rounded(seconds: float) -> float:
    """A learned length as it is written into a file."""
    return round(seconds, TENTHS)


def changed_request(request: Request, changes: Iterable[Change]) -> Request:
    """Return the request with the learned numbers in place of its own, and nothing else changed."""
    tables: dict[str, dict[str, float]] = {}
    filters = {each.filter: each.new for each in changes if each.filter is not None}
    for each in changes:
        if each.filter is None:
            table, _, leaf = each.key.partition(".")
            tables.setdefault(table, {})[leaf] = each.new
    updated: dict[str, object] = {
        table: getattr(request, table).model_copy(update=keys) for table, keys in tables.items()
    }
    if filters:
        updated[FILTERS] = tuple(
            each.model_copy(update={"change_s": filters[each.name]}) if each.name in filters else each
            for each in request.filters
        )
    return request.model_copy(update=updated)


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
    yield "# It counts once the request includes it, after all other files:"
    yield f"#   {include}"
    yield "# A key that stands in the request itself wins over the one here."
    for table in TABLES:
        own = [each for each, _ in changes if each.key.startswith(f"{table}.")]
        if own:
            yield from ("", f"[{table}]")
        for each in own:
            times = "once" if each.count == 1 else f"{each.count} times"
            yield f"{each.line}  # seen {times}; the request had {number(each.old)}"
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
