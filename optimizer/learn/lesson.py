"""All that a folder of images and a request come to: what was learned, what to change, what it brings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from optimizer.learn.acts import Learned, learned
from optimizer.learn.changes import Change, changed_request, changes_of
from optimizer.learn.found import Found, found_in
from optimizer.learn.lines import Place, places_of
from optimizer.learn.parted import Parted, parted
from optimizer.learn.tonight import LIMIT_S, Tonight, tonight_with
from optimizer.models.request import Request
from optimizer.models.shots import ShotList
from optimizer.tally.folder import Tell


@dataclass(frozen=True)
class Lesson:
    """What was found in a folder, and what follows; each change has its place in the request's files.

    `evening` is that of the request's night. `tonight` is None where nothing changes or nothing can be
    scheduled, `parted` where no list was given.
    """

    evening: dt.date
    found: Found
    learned: Learned
    changes: tuple[tuple[Change, Place], ...]
    tonight: Tonight | None
    parted: Parted | None


def lesson_of(
    folder: Path,
    path: Path,
    request: Request,
    shots: ShotList | None = None,
    *,
    allow_outside: bool = False,
    limit_s: float = LIMIT_S,
    tell: Tell | None = None,
    doing: Callable[[str], None] | None = None,
) -> Lesson:
    """Learn from a folder's images for the request at `path`, and plan its night with what was learned.

    `tell` hears of files, `doing` of what comes after them, `limit_s` is for each of the two searches. Raises
    what `found_in`, `places_of` and `tonight_with` do.
    """
    found = found_in(folder, request, tell)
    if doing is not None:
        doing("measuring the gaps between subs")
    taught = learned(request, found.frames, shots)
    beside = None if shots is None else parted(shots, found.frames, found.damaged)
    changes = changes_of(request, taught)
    places = places_of(path, changes, allow_outside=allow_outside)
    tonight = None
    if changes:
        tonight = tonight_with(request, changed_request(request, changes), limit_s=limit_s, tell=doing)
    evening = request.night.evening
    return Lesson(evening, found, taught, tuple(zip(changes, places, strict=True)), tonight, beside)
