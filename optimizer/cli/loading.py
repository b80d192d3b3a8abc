"""Loading a request as the commands ask for it: with another evening, with another time limit."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from optimizer.models.base import InputError, InputProblem
from optimizer.models.load import LoadedRequest, load_request, sha256_of

COMMAND_LINE = "command line"


def load(
    request: Path,
    *,
    evening: str | None = None,
    time_limit_s: float | None = None,
    include_outside: bool = False,
) -> LoadedRequest:
    """Load a request. Raises InputError for the options as for the file."""
    loaded = load_request(request, allow_outside=include_outside, evening=_date(evening))
    if time_limit_s is None:
        return loaded
    if not 0 < time_limit_s <= 86400:
        raise _refused(
            "--time-limit", f"{time_limit_s:g}", "is no time to search", "give seconds above 0, at most 86400"
        )
    changed = loaded.request.model_copy(
        update={"aim": loaded.request.aim.model_copy(update={"time_limit_s": time_limit_s})}
    )
    return LoadedRequest(changed, loaded.warnings, sha256_of(changed))


def writable_folder(request: Path, out: Path | None) -> Path:
    """Where to write. Raises InputError before the search where that cannot be, not after it."""
    folder = request.parent if out is None else out
    if not folder.is_dir():
        raise _refused("--out", str(folder), "is no folder", "make it first or name another")
    return folder


def _date(text: str | None) -> dt.date | None:
    if text is None:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise _refused("--evening", text, "is no date", "write it like 2026-11-14") from None


def _refused(option: str, value: str, message: str, remedy: str) -> InputError:
    return InputError([InputProblem(COMMAND_LINE, option, message, remedy, value)])
