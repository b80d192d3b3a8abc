"""A shot list's JSON file (`darkfill-shots/1`): what is read from it, and the SHA-256 that it is known by."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

from optimizer.diagnostics.document import Document, Source
from optimizer.models.shots import ShotList, WrittenShotList
from optimizer.reading.checking import checked
from optimizer.reading.files import LARGEST_LIST_BYTES, parse, read_text
from optimizer.words import safe

CONTENT = "the shot list"


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


def sha256_of_file(path: Path) -> str:
    """Compute the SHA-256 of a file as 64 hexadecimal digits. Raises OSError where it cannot be read."""
    return hashlib.sha256(path.read_bytes()).hexdigest()
