"""The file of learned numbers: written whole or not at all, an older one kept."""

from __future__ import annotations

from pathlib import Path

from optimizer.export.atomic import check_writable, write_beside_older
from optimizer.learn.lesson import Lesson
from optimizer.learn.lines import Written, check_file, included_as, learned_text


def check_learned_file(request: Path, file: Path, *, allow_outside: bool = False) -> None:
    """See to it, before anything is computed, that learned numbers may be written to a file.

    Raises InputError where it is no TOML file or one of those that the request is read from, OutputError
    where the system would refuse.
    """
    check_file(request, file, allow_outside=allow_outside)
    check_writable([file])


def write_learned(request: Path, file: Path, lesson: Lesson, seen: str) -> Written | None:
    """Write the learned numbers for the request at a path; None where there is none outside its filters.

    `seen` says from how many subs and nights they are. A file of this name with another text becomes
    NAME.old. Raises OutputError, and then nothing is changed.
    """
    included = included_as(request, file)
    text = learned_text(lesson.changes, seen, included.line)
    if text is None:
        return None
    content = text.encode()
    older = None if _holds(file, content) else write_beside_older({file: content}).get(file)
    return Written(file, included, older)


def _holds(file: Path, content: bytes) -> bool:
    try:
        return file.read_bytes() == content
    except OSError:
        return False
