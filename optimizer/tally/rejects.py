"""Names of subs that are not good enough, one a line."""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterable
from pathlib import PurePath

_ENDING = re.compile(r"\.(fits|fit|fts)(\.gz|\.fz)?$", re.IGNORECASE)


class Rejects:
    """A list of names of files, each with or without its ending, and with folders before it at will."""

    def __init__(self, lines: Iterable[str] = ()) -> None:
        """Read the lines; empty ones and those that begin with `#` name nothing."""
        names = [line.strip() for line in lines]
        self._subs: dict[str, set[Hashable]] = {
            name: set() for name in names if name and not name.startswith("#")
        }
        self._by_last: dict[str, list[tuple[tuple[str, ...], str]]] = {}
        for name in self._subs:
            parts = tuple(part for part in re.split(r"[/\\]", name) if part not in ("", "."))
            if parts:
                self._by_last.setdefault(bare_name(parts[-1]), []).append((parts, name))

    def has(self, path: PurePath, sub: Hashable) -> bool:
        """Whether a file is named, by its path within the folder that is counted.

        `sub` tells the sub that it holds from others; it is noted for each name that means it.
        """
        parts = path.parts
        found = False
        for wanted, name in self._by_last.get(bare_name(parts[-1]), ()):
            whole = _ENDING.search(wanted[-1]) is None or wanted[-1] == parts[-1]
            if whole and tuple(parts[-len(wanted) : -1]) == wanted[:-1]:
                self._subs[name].add(sub)
                found = True
        return found

    @property
    def hits(self) -> dict[str, int]:
        """For each name, as it was written, the number of subs that it means."""
        return {name: len(subs) for name, subs in self._subs.items()}


def reject_lines(text: str) -> list[str]:
    """The lines of a file of names."""
    return text.splitlines()


def bare_name(name: str) -> str:
    """A file's name without the endings of FITS and of its packing."""
    return _ENDING.sub("", name)
