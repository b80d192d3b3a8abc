"""A shot list for `check`: ours, or a plan that was typed by hand with as few columns as a person types."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optimizer.models.request import Request
    from optimizer.models.shots import ShotList, Step
    from optimizer.typed import Typed


@dataclass(frozen=True)
class ToCheck:
    """What is to be checked: steps, the whole list where it is JSON, the request that was named.

    `typed` is what was made of a plan typed by hand, None for a list in our own columns.
    """

    steps: tuple[Step, ...]
    shots: ShotList | None
    asked: Request | None
    typed: Typed | None

    @property
    def request(self) -> Request:
        """The request to go by: the one that was named, else the list's own."""
        if self.asked is not None:
            return self.asked
        assert self.shots is not None
        return self.shots.request

    @property
    def zone(self) -> str:
        """The site's time zone."""
        return self.request.site.time_zone


def to_check(shots: Path, request: Path | None, *, include_outside: bool) -> ToCheck:
    """Read a list, and the request where one is named. Raises InputError.

    A CSV file with other columns than our own is a plan typed by hand, which takes its names from a request.
    """
    from optimizer import load
    from optimizer.cli.arguments import request_missing
    from optimizer.export.shot_files import looks_typed, read_shots

    if request is None:
        if looks_typed(shots, few=True):
            raise request_missing(shots, "check")
        read = read_shots(shots)
        if read.shots is None:
            raise request_missing(shots, "check")
        return ToCheck(read.steps, read.shots, None, None)
    if not looks_typed(shots):
        read = read_shots(shots)
        return ToCheck(read.steps, read.shots, load(request, include_outside=include_outside).request, None)
    from optimizer.reading.typed_file import read_typed
    from optimizer.typed import typed_steps

    asked = load(request, include_outside=include_outside).request
    typed = typed_steps(asked, read_typed(shots, asked))
    return ToCheck(typed.steps, None, asked, typed)
