"""The file of learned numbers: written whole or not at all, an older one kept."""

from __future__ import annotations

from pathlib import Path

from optimizer.export.atomic import check_writable, write_beside_older
from optimizer.learn.changes import check_file


def check_learned_file(request: Path, file: Path, *, allow_outside: bool = False) -> None:
    """See to it, before anything is computed, that learned numbers may be written to a file.

    Raises InputError where it is no TOML file or one of those that the request is read from, OutputError
    where the system would refuse.
    """
    check_file(request, file, allow_outside=allow_outside)
    check_writable([file])


def write_learned(file: Path, text: str) -> Path | None:
    """Write the text; a file of this name with another text becomes NAME.old, and that path is returned.

    Raises OutputError, and then nothing is changed.
    """
    content = text.encode()
    if _holds(file, content):
        return None
    return write_beside_older({file: content}).get(file)


def _holds(file: Path, content: bytes) -> bool:
    try:
        return file.read_bytes() == content
    except OSError:
        return False
