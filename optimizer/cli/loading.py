"""Loading a request as the commands ask for it: with another evening, with another time limit."""

from __future__ import annotations

import datetime as dt
import tempfile
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.cli.failures import say
from optimizer.errors import InputError, InputProblem
from optimizer.models.request import sha256_of
from optimizer.models.site import night_span
from optimizer.reading.evening import EVENING_LIKE, Tonight, evening_from_text
from optimizer.reading.instants import instant_of
from optimizer.reading.load import EVENING_OPTION, LoadedRequest, load_request
from optimizer.words import safe, said

if TYPE_CHECKING:
    from optimizer.models.shots import ShotList

COMMAND_LINE = "command line"


def load(
    request: Path,
    *,
    evening: str | None = None,
    evening_from: str = EVENING_OPTION,
    time_limit_s: float | None = None,
    include_outside: bool = False,
    targets_needed: bool = True,
) -> LoadedRequest:
    """Load a request. Raises InputError for the options as for the file."""
    positive_seconds("--time-limit", time_limit_s)
    loaded = load_request(
        request,
        allow_outside=include_outside,
        evening=None if evening is None else _evening(evening, evening_from),
        evening_from=evening_from,
        targets_needed=targets_needed,
    )
    if time_limit_s is None:
        return loaded
    changed = loaded.request.with_aim(time_limit_s=time_limit_s)
    return replace(loaded, request=changed, sha256=sha256_of(changed))


def announce(*loaded: LoadedRequest, but: Collection[str] = ()) -> None:
    """Tell what catalogue names stand for, and what is worth a second look, but for some warnings.

    What several requests say alike, as they include the same file, is told once.
    """
    for line in dict.fromkeys(line for each in loaded for line in each.resolved):
        say(line)
    for warning in dict.fromkeys(line for each in loaded for line in each.warnings):
        if warning not in but:
            say(f"warning: {warning}")


def positive_seconds(option: str, value: float | None) -> None:
    """Raise InputError where an option is given that is not within (0, 86400] seconds."""
    if value is not None and not 0 < value <= 86400:
        raise refused(option, f"{value:g}", "is out of range", "give seconds above 0, at most 86400")


def is_there(path: Path) -> bool:
    """Whether a path leads to something; one that no system takes, as a name too long, does not."""
    try:
        return path.exists()
    except OSError:
        return False


def writable_folder(request: Path, out: Path | None) -> Path:
    """Where to write, made where it is missing. Raises InputError before the search where that cannot be."""
    folder = request.parent if out is None else out
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        there = [path for path in (folder, *folder.parents) if is_there(path)]
        file = next((path for path in there if not path.is_dir()), None)
        what = f"cannot be made ({error.strerror})" if file is None else f"{safe(str(file))} is a file"
        raise refused("--out", str(folder), what, "name another folder") from None
    try:
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        message = f"cannot be written to ({error.strerror})"
        raise refused("--out", str(folder), message, "name another folder") from None
    return folder


def _evening(text: str, option: str) -> dt.date | Tonight:
    try:
        return evening_from_text(text)
    except ValueError:
        raise refused(option, text, "is no date", EVENING_LIKE) from None


def refused(option: str, value: str, message: str, remedy: str) -> InputError:
    """What is wrong with an option of the command line, to be raised."""
    return InputError([InputProblem(COMMAND_LINE, option, message, remedy, value)])


def instant_in_night(shots: ShotList, option: str, text: str) -> dt.datetime:
    """The instant that a time means in the night of a list, as `replan --now` reads it; else InputError."""
    site = shots.request.site
    night = night_span(shots.request.night, site.longitude_deg, site.time_zone)
    try:
        instant = instant_of(text.strip(), night, site.time_zone)
    except ValueError as error:
        message, remedy = said(str(error))
        raise refused(option, text, message, remedy) from None
    if night[0] <= instant <= night[1]:
        return instant
    begin, end = (f"{each:%Y-%m-%dT%H:%M}Z" for each in night)
    message = f"is outside the night of {shots.request.night.evening}, which lasts from {begin} to {end}"
    raise refused(option, text, message, "give a time of that night, or name the list of another one")
