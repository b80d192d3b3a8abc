"""The shot list as JSON (`darkfill-shots/1`): written here, read as `reading.shots_file` has it."""

from __future__ import annotations

import json
from pathlib import Path

from optimizer.errors import UnauditedError
from optimizer.export.atomic import write_atomically
from optimizer.models.base import as_json_data
from optimizer.models.shots import ShotList
from optimizer.reading.shots_file import read_json, shots_from_data

__all__ = ["json_text", "read_json", "shots_from_data", "write_json"]


def json_text(shots: ShotList) -> str:
    """Write a shot list as JSON text, indented, with a line end after it.

    Raises UnauditedError where it was never audited: a written list always carries its audit.
    """
    if shots.audit is None:
        raise UnauditedError
    return json.dumps(as_json_data(shots), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def write_json(path: Path, shots: ShotList) -> None:
    """Write a shot list to a file, whole or not at all; raises OutputError, or UnauditedError."""
    write_atomically(path, json_text(shots).encode())
