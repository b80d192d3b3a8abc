"""A list that a person named -> the newest list that goes on with it, in the same folder."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer.models.shots import ShotList


@dataclass(frozen=True)
class Newest:
    """The newest list of a chain: its file, its list, the SHA-256 of the file, and files passed over.

    `skipped` has a sentence for each list of the folder that cannot be read just now. `trouble` is a clause
    that says why the folder or the named list cannot be read; the rest is then as it was last known.
    """

    path: Path
    shots: ShotList
    sha256: str
    skipped: tuple[str, ...] = ()
    trouble: str | None = None


class NewestList:
    """The chain of lists that begins with one that a person named, followed as it grows."""

    def __init__(self, named: Path) -> None:
        """Follow the chain of this list; nothing is read before the first `poll`."""
        self._named = named

    def poll(self) -> Newest:
        """Find the newest list by now. Raises InputError where the named list could never be read."""
        raise NotImplementedError


def newest_list(named: Path) -> tuple[Path, ShotList]:
    """Find the newest list of the chain that begins with the named one: its path and the list.

    Raises InputError where the named list cannot be read.
    """
    newest = NewestList(named).poll()
    return newest.path, newest.shots
