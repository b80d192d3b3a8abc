"""The files of a list that goes on with a night: STEM.EVENING.replan-HHMM, and which list it goes on with."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from pathlib import Path

from optimizer.export.json_file import json_text
from optimizer.export.shot_files import shot_paths
from optimizer.models.shots import ShotList

_ENDING = re.compile(r"(\.shots)?\.json$", re.IGNORECASE)
_REPLANNED = re.compile(r"\.replan-[0-9]{4}(-[0-9]+)?$")


def replan_name(older: Path, evening: str, now: dt.datetime, folder: Path) -> str:
    """What the files are called before their endings: as the older list, with the time of the replan in UTC.

    A name without the evening gets it. A list that was replanned is named like the first one. The older list
    itself is never meant: made in the same minute, the new one is called `...-2` and so on.
    """
    stem = _REPLANNED.sub("", _ENDING.sub("", older.name))
    if evening not in stem:
        stem = f"{stem}.{evening}"
    name = plain = f"{stem}.replan-{now.astimezone(dt.UTC):%H%M}"
    number = 1
    while any(_same(path, older) for path in shot_paths(folder, name)):
        number += 1
        name = f"{plain}-{number}"
    return name


def sha256_of_list(shots: ShotList) -> str:
    """Compute the SHA-256 of the JSON file that a list makes, as `save` writes it."""
    return hashlib.sha256(json_text(shots).encode()).hexdigest()


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False
