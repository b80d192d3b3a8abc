"""The shot list as JSON (`darkfill-shots/1`)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from optimizer.diagnostics.document import Document, Source
from optimizer.errors import UnauditedError
from optimizer.export.atomic import write_atomically
from optimizer.models.base import as_json_data
from optimizer.models.shots import ShotList, WrittenShotList
from optimizer.reading.checking import checked
from optimizer.reading.files import LARGEST_LIST_BYTES, parse, read_text
from optimizer.words import safe

CONTENT = "the shot list"


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


def read_json(path: Path) -> ShotList:
    """Read a shot list from a file and check its form; its sense is for the audit to check.

    Raises InputError with every problem, in the request it carries as well.
    """
    text = read_text(path, str(path), content=CONTENT, largest_bytes=LARGEST_LIST_BYTES)
    data = parse(text, str(path), "json", content=CONTENT)
    return _checked(data, Source(safe(str(path)), "json", text))


def shots_from_data(data: dict[str, Any], name: str) -> ShotList:
    """Make a shot list from plain data, as `json` reads it; `name` stands for the file in messages.

    Raises InputError with every problem; none of them has a line.
    """
    return _checked(data, Source(safe(name), "json"))


def _checked(data: dict[str, Any], source: Source) -> ShotList:
    read = checked(Document(data, {(): source}), WrittenShotList, request_at=("request",))
    return ShotList.model_construct(**dict(read))
