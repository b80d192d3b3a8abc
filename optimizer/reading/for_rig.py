"""Targets that a request shares with those of other rigs, limited to those that are for its own rig."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from optimizer.diagnostics.document import Document, Source
from optimizer.errors import InputError
from optimizer.words import KeyPath, count, listing, quoted, safe

MOST_NAMED = 5
AT: KeyPath = ("targets",)


def rig_name(path: Path, given: object) -> str:
    """The name of the rig whose request lies at `path`: the one given in it, else that of the file."""
    return given if isinstance(given, str) and given.strip() else path.stem


def leave_out_others(document: Document, path: Path) -> None:
    """Take out of the request at `path` the targets whose `rigs` do not name its rig; say which they are.

    One name may so stand twice in the list, for different rigs. What is left is known by its new place, and
    told by that in its file. Nothing else is checked of what is left out. Raises InputError where no target
    is left.
    """
    targets = document.data.get("targets")
    if not isinstance(targets, list):
        return
    name = rig_name(path, document.data.get("rig"))
    left = tuple(place for place, row in enumerate(targets) if not _is_for_others(row, name))
    if len(left) == len(targets):
        return
    if not left:
        what = f"neither this target nor another one is for the rig {quoted(name)}"
        remedy = "name it there, or check the name of the rig (the key rig, or the file's)"
        problem = document.problem((*AT, 0, "rigs"), what, remedy)
        raise InputError(document.in_file_order([*document.problems, problem]))
    gone = [row for place, row in enumerate(targets) if place not in left]
    document.left_out = tuple(_names(gone, aliases=True))
    document.data["targets"] = [targets[place] for place in left]
    document.said += _sentences(document.source(()).file, name, gone, document.data["targets"])
    document.origin = _origin(document.origin, left)


def _is_for_others(row: object, name: str) -> bool:
    """Whether a target names rigs, and not this one; what is no list of names is refused elsewhere."""
    rigs = row.get("rigs") if isinstance(row, dict) else None
    return isinstance(rigs, list | tuple) and len(rigs) > 0 and name not in rigs


def _names(rows: Iterable[Any], *, aliases: bool = False) -> Iterator[str]:
    """The names of some targets, and their aliases too if asked for; what is none is passed over."""
    for row in rows:
        given = row if isinstance(row, dict) else {}
        others = given.get("aliases") if aliases else None
        for each in (given.get("name"), *(others if isinstance(others, list | tuple) else ())):
            if isinstance(each, str):
                yield each


def _sentences(file: str, name: str, gone: Iterable[Any], left: Iterable[Any]) -> Iterator[str]:
    """Say which targets are left out, but for those of which this rig has goals of its own."""
    here = set(_names(left))
    named = [each for each in dict.fromkeys(_names(gone)) if each not in here]
    if not named:
        return
    are = "is" if len(named) == 1 else "are"
    which = listing(map(safe, named), "and", most=MOST_NAMED)
    what = f"{count(len(named), 'target')} {are} for other rigs than {safe(name)} and left out: {which}"
    yield f"{file}: {what}"


def _origin(origin: dict[KeyPath, Source], left: tuple[int, ...]) -> dict[KeyPath, Source]:
    """The sources by path, those of single targets by their new place; each knows which targets are left."""
    new_place = {old: new for new, old in enumerate(left)}
    made: dict[int, Source] = {}
    found: dict[KeyPath, Source] = {}
    for path, source in origin.items():
        if path[:1] == AT and len(path) > 1:
            if path[1] not in new_place:
                continue
            path = (*AT, new_place[int(path[1])], *path[2:])
        found[path] = made.setdefault(id(source), replace(source, targets_left=left))
    return found
