"""A list that a person named -> the newest list that goes on with it, in the same folder."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import stat
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

from optimizer.errors import InputError, InputProblem
from optimizer.models.shots import ShotList
from optimizer.reading.files import LARGEST_LIST_BYTES, refuse
from optimizer.reading.shots_file import read_json, sha256_of_file
from optimizer.words import safe

ENDING = ".shots.json"  # in whatever case; a list that was renamed to .old is none of the chain
CHANGED = "it changed while it was read"


@dataclass(frozen=True)
class Newest:
    """The newest list of a chain: its file, the list, the file's SHA-256, and files passed over.

    `skipped` has a clause for each list of the folder that cannot be read just now, its name first. `trouble`
    is a clause that says why folder or list cannot be read just now; the rest is then as it was last known.
    """

    path: Path
    shots: ShotList
    sha256: str
    skipped: tuple[str, ...] = ()
    trouble: str | None = None


class _Key(NamedTuple):
    """What changes with a file's content: its size, its time of change, and the file itself."""

    size_bytes: int
    changed_ns: int
    number: int


@dataclass(frozen=True)
class _Head:
    """What a file tells of its place in a chain; `older` is the SHA-256 of the list it goes on with, if any.

    `fault` is a clause that says why it cannot be used.
    """

    path: Path
    key: _Key
    sha256: str = ""
    older: str = ""
    created_utc: dt.datetime | None = None
    fault: str = ""


class NewestList:
    """The chain of lists that begins with one that a person named, followed as it grows.

    A list goes on with another if its `continues.sha256` is that of the other's file. Where several go on
    with one, that of the latest `created_utc` counts, and what goes on with it.
    """

    def __init__(self, named: Path) -> None:
        """Follow the chain of this list; nothing is read before the first `poll`."""
        self._named = named
        self._heads: dict[Path, _Head] = {}
        self._newest: Newest | None = None

    def poll(self) -> Newest:
        """Find the newest list by now; only files that have changed are read again.

        It is the same object as before where nothing has changed. Raises InputError where the named list
        could not be read yet.
        """
        try:
            return self._found()
        except InputError as error:
            if self._newest is None:
                raise
            problem = error.problems[0]
            return replace(self._newest, trouble=f"{problem.file}: {_clause(problem)}")

    def _found(self) -> Newest:
        keys = _listed(self._named)
        self._heads = {
            path: head
            if (head := self._heads.get(path)) is not None and head.key == key
            else _head(path, key)
            for path, key in keys.items()
        }
        while True:
            head = self._last()
            try:
                shots = self._read(head)
            except InputError as error:
                if head.path == self._named:
                    raise
                # passed over until it changes; what it goes on with may have another to follow
                self._heads[head.path] = replace(head, older="", fault=_clause(error.problems[0]))
                continue
            skipped = (f"{safe(each.path.name)}: {each.fault}" for each in self._heads.values() if each.fault)
            newest = Newest(head.path, shots, head.sha256, tuple(sorted(skipped)))
            if newest != self._newest:
                self._newest = newest
            return self._newest

    def _last(self) -> _Head:
        """The last of the chain, by what the files tell of themselves."""
        following: dict[str, list[_Head]] = defaultdict(list)
        for each in self._heads.values():
            if each.older:
                following[each.older].append(each)
        head = self._heads[self._named]
        while after := following.get(head.sha256):
            head = max(after, key=lambda each: (each.created_utc, each.path))
        return head

    def _read(self, head: _Head) -> ShotList:
        """Read the list of a file. Raises InputError where it is none, or no longer what its head told."""
        if self._newest is not None and self._newest.sha256 == head.sha256:
            return self._newest.shots
        shots = read_json(head.path)
        try:
            same = sha256_of_file(head.path) == head.sha256
        except OSError:
            same = False
        if not same:
            raise refuse(str(head.path), CHANGED, "try again")
        return shots


def _clause(problem: InputProblem) -> str:
    return f"{problem.key}: {problem.message}" if problem.key else problem.message


def _listed(named: Path) -> dict[Path, _Key]:
    """The lists in the folder of the named one, itself included, whatever it is called.

    Raises InputError where there is no such file, or the folder cannot be read.
    """
    folder = named.parent
    try:
        with os.scandir(folder) as entries:
            names = {entry.name for entry in entries if _named_as_list(entry.name)}
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise refuse(str(folder), f"the folder cannot be read: {reason}", "check its name") from error
    keys: dict[Path, _Key] = {}
    for path in (named, *(folder / name for name in sorted(names - {named.name}))):
        try:
            status = path.stat()
            regular = stat.S_ISREG(status.st_mode)
        except OSError:
            regular = False
        if regular:
            keys[path] = _Key(status.st_size, status.st_mtime_ns, status.st_ino)
        elif path == named:
            read_json(named)  # which says in words what is wrong
            raise refuse(str(named), CHANGED, "try again")
    return keys


def _named_as_list(name: str) -> bool:
    return name.casefold().endswith(ENDING) and not name.startswith(".")


def _head(path: Path, key: _Key) -> _Head:
    """Read what a file tells of its place in a chain."""
    if key.size_bytes > LARGEST_LIST_BYTES:
        return _Head(path, key, fault=f"it is larger than {LARGEST_LIST_BYTES // 10**6} MB")
    try:
        raw = path.read_bytes()
    except OSError as error:
        return _Head(path, key, fault=f"it cannot be read: {(error.strerror or str(error)).lower()}")
    sha256 = hashlib.sha256(raw).hexdigest()
    if not raw.rstrip().endswith(b"}"):
        return _Head(path, key, sha256, fault="it is not whole: it does not end as a shot list does")
    if b'"continues"' not in raw:  # so lists that begin a night, one for each night, need not be parsed
        return _Head(path, key, sha256)
    try:
        data = json.loads(raw)
        continues = data.get("continues")
        if continues is None:
            return _Head(path, key, sha256)
        older, created_utc = continues["sha256"], dt.datetime.fromisoformat(data["created_utc"])
        if not isinstance(older, str) or created_utc.tzinfo is None:
            raise ValueError
    except (ValueError, TypeError, LookupError, AttributeError, RecursionError):
        return _Head(path, key, sha256, fault="it is no shot list that can be read")
    return _Head(path, key, sha256, older, created_utc)


def newest_list(named: Path) -> tuple[Path, ShotList]:
    """Find the newest list of the chain that begins with the named one: its path and the list.

    Raises InputError where the named list cannot be read.
    """
    newest = NewestList(named).poll()
    return newest.path, newest.shots
