"""One input file: its text and its data, or why it cannot be used."""

from __future__ import annotations

import difflib
import errno
import json
import stat
import tomllib
from pathlib import Path
from typing import Any

from optimizer.diagnostics.document import Kind, Source
from optimizer.diagnostics.lines import lines_of
from optimizer.diagnostics.syntax import doubled_key, json_problem, toml_problem
from optimizer.errors import InputError, InputProblem
from optimizer.words import safe, shown

LARGEST_BYTES = 20_000_000  # a request of a thousand targets takes about one
# A night of 24 h of exposures that take a second, a dither after each, with the longest names takes less.
LARGEST_LIST_BYTES = 700_000_000


def refuse(file: str, message: str, remedy: str, *, value: str = "", line: int | None = None) -> InputError:
    """Make the error, to be raised, for a file that cannot be used at all; `line` counts from 1."""
    return InputError([InputProblem(safe(file), "", message, remedy, value, line=line)])


def read_bytes(path: Path, file: str, *, content: str, largest_bytes: int = LARGEST_BYTES) -> bytes:
    """Read a file as it stands; `file` is its name in messages, `content` says what it should hold.

    Raises InputError where there is no such file, or it is a folder, a device, unreadable, or larger than
    `largest_bytes`.
    """
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise refuse(file, "this is a folder, not a file", f"name the file in it that holds {content}")
        if not stat.S_ISREG(status.st_mode):  # reading a pipe or a device may never end
            raise refuse(file, "this is not a regular file", f"save {content} to a file first")
        if status.st_size > largest_bytes:
            raise refuse(
                file, f"the file is larger than {largest_bytes // 10**6} MB", f"check that it holds {content}"
            )
        raw = path.read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise _unreadable(path, file, error) from error
    return raw


def read_text(path: Path, file: str, *, content: str, largest_bytes: int = LARGEST_BYTES) -> str:
    """Read a UTF-8 file as text, without its byte order mark; `file` is its name in messages.

    `content` says in words what the file should hold ("the request"). Line ends stay as they are.
    Raises InputError where there is no such file, or it is a folder, a device, unreadable, empty, larger than
    `largest_bytes`, or in another encoding.
    """
    raw = read_bytes(path, file, content=content, largest_bytes=largest_bytes)
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise refuse(file, "the file is written in UTF-16", "save it with the encoding UTF-8")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        what = f"the byte 0x{raw[error.start]:02X} is not UTF-8 text"
        raise refuse(file, what, "save the file with the encoding UTF-8", line=line) from error
    if not text.strip():
        raise refuse(file, "the file is empty", f"write {content} into it")
    return text


def _unreadable(path: Path, file: str, error: OSError | ValueError) -> InputError:
    code = error.errno if isinstance(error, OSError) else errno.ENOENT
    if code in (errno.ENOENT, errno.ENOTDIR, errno.ENAMETOOLONG):
        return refuse(file, "there is no such file", _similar(path) or "check the name and the folder")
    if code in (errno.EACCES, errno.EPERM):
        return refuse(file, "the file may not be read", "give yourself the right to read it")
    if code == errno.ELOOP:
        return refuse(file, "the symbolic links run in a circle", "let them end at a file")
    reason = error.strerror if isinstance(error, OSError) else str(error)
    return refuse(file, f"the file cannot be read: {reason}", "check the disk and the name")


def _similar(path: Path) -> str:
    try:
        names = [entry.name for entry in path.parent.iterdir()]
    except (OSError, ValueError):
        return ""
    near = difflib.get_close_matches(path.name, sorted(names), 1, 0.7)
    return f"did you mean {safe(near[0])}?" if near else ""


def parse(text: str, file: str, kind: Kind, *, content: str) -> dict[str, Any]:
    """Parse TOML or JSON text; `content` says in words what it should hold.

    Raises InputError where the text is broken, a key is given twice, or its outermost value is no table.
    """
    if kind == "toml":
        try:
            return tomllib.loads(text)
        except (ValueError, RecursionError) as error:
            raise InputError(toml_problem(safe(file), text, error)) from error
    doubled = False

    def pairs_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        nonlocal doubled
        data = dict(pairs)
        doubled = doubled or len(data) < len(pairs)
        return data

    try:
        data = json.loads(text, object_pairs_hook=pairs_once)
    except (ValueError, RecursionError) as error:
        raise InputError([json_problem(safe(file), text, error)]) from error
    if doubled:
        twice = lines_of(text, "json").twice
        if not twice:
            raise refuse(file, "a key is given twice, very deep down", "keep one of the two")
        raise InputError(doubled_key(safe(file), *entry) for entry in twice)
    if not isinstance(data, dict):
        raise refuse(
            file, f"{content} must be an object", "put it in braces: { ... }", value=shown(data), line=1
        )
    return data


def kind_of(path: Path, file: str, *, content: str) -> Kind:
    """Tell TOML from JSON by the ending of the name; raises InputError for any other."""
    ending = path.suffix.lower()
    if ending == ".toml":
        return "toml"
    if ending == ".json":
        return "json"
    what = f"the ending {safe(ending)} is not known" if ending else "the name has no ending"
    raise refuse(file, what, f"name {content} .toml (written by hand) or .json (written by a program)")


def read_source(path: Path, file: str, *, content: str = "the request") -> tuple[Source, dict[str, Any]]:
    """Read a TOML or JSON file: where its data came from, and the data.

    Raises InputError where it cannot be read, is neither of the two, or is broken.
    """
    kind = kind_of(path, file, content=content)
    text = read_text(path, file, content=content)
    source = Source(safe(file), kind, text)
    return source, parse(text, file, kind, content=content)
