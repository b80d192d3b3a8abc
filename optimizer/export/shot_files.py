"""The files of a shot list: STEM.EVENING.shots.json and the like, as the command line names them."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from optimizer.diagnostics.document import Document
from optimizer.errors import InputError, InputProblem, OutputError, UnauditedError
from optimizer.export.atomic import write_beside_older, write_group
from optimizer.export.csv_file import csv_text, other_columns, read_csv
from optimizer.export.json_file import json_text, read_json
from optimizer.models.request import REQUEST_SCHEMA
from optimizer.models.shots import ShotList, Step
from optimizer.reading.checking import plan_first
from optimizer.reading.files import read_source, refuse
from optimizer.words import safe

LONGEST_HEADER_BYTES = 10_000


@dataclass(frozen=True)
class ReadShots:
    """What a shot list's file holds: its steps, and the whole list from JSON (None from CSV)."""

    steps: tuple[Step, ...]
    shots: ShotList | None


def night_name(request: Path, evening: dt.date) -> str:
    """What the files of a night are called before their endings: the request's stem and the evening."""
    return f"{request.stem}.{evening.isoformat()}"


def shot_paths(folder: Path, name: str) -> tuple[Path, Path]:
    """The paths of the JSON and the CSV of a shot list of this name."""
    return folder / f"{name}.shots.json", folder / f"{name}.shots.csv"


def page_path(shots: Path) -> Path:
    """The path of the page of a shot list: NAME.html beside NAME.shots.json."""
    return shots.with_name(shots.stem.removesuffix(".shots") + ".html")


def list_path(place: Path, shots: ShotList) -> Path:
    """Where the JSON of a list belongs: `place` itself if it ends in .json, else EVENING.shots.json in it.

    A list that goes on with a night is EVENING.replan-HHMM.shots.json, by the time of the replan in UTC.
    Raises OutputError where the name is neither that of a folder nor of such a file.
    """
    if place.is_dir() or not place.suffix:
        again = "" if shots.continues is None else f".replan-{shots.continues.now_utc:%H%M}"
        return shot_paths(place, f"{shots.night.evening}{again}")[0]
    if place.suffix.lower() == ".json":
        return place
    what = f"the ending {safe(place.suffix)} is not known"
    raise _refused(place, what, "name a folder, or a file that ends in .json")


def save_shots(
    shots: ShotList, json_path: Path, *, page: Callable[[], bytes] | None = None, replace: bool = False
) -> tuple[Path, ...]:
    """Write a list as JSON and CSV, and the page where one is wanted, all or none; the paths written.

    The CSV lies beside the JSON, the page too. Without `replace`, files that are there must belong to a list
    of the same evening and site; those of another list of that night become NAME.old, an older page as well.
    A missing folder is made.

    Raises UnauditedError where the list was not audited or its audit found violations, OutputError where it
    has no steps, where files of these names are not this night's, and where the system refuses.
    """
    _check_worth_keeping(shots, json_path)
    paths = [json_path, json_path.with_suffix(".csv"), *([page_path(json_path)] if page else [])]
    there = [path for path in paths if path.exists()]
    if there and not replace:
        _refuse_other_nights(json_path, there, shots)
    texts = [json_text(shots).encode(), csv_text(shots.steps).encode(), *([page()] if page else [])]
    contents = dict(zip(paths, texts, strict=True))
    _make_folder(json_path)
    if replace or all(_holds(path, contents[path]) for path in there):
        write_group(contents)
    else:
        write_beside_older(contents, [page_path(json_path)])
    return tuple(paths)


def save_new_plan(shots: ShotList, json_path: Path) -> dict[Path, Path]:
    """Write a list as JSON and CSV, both or neither; what has these names, or the page's, becomes NAME.old.

    Returns the new path of each file that was there. Raises UnauditedError and OutputError as `save_shots`.
    """
    _check_worth_keeping(shots, json_path)
    contents = {
        json_path: json_text(shots).encode(),
        json_path.with_suffix(".csv"): csv_text(shots.steps).encode(),
    }
    _make_folder(json_path)
    return write_beside_older(contents, [page_path(json_path)])


def _check_worth_keeping(shots: ShotList, path: Path) -> None:
    """Raise UnauditedError where a list may not be trusted, OutputError where it has no steps."""
    audit = shots.audit_report
    if audit.violations:
        raise UnauditedError(violation.message for violation in audit.violations)
    if not shots.steps:
        raise _refused(path, "the list has no steps", "see unplanned for why nothing was scheduled")


def _make_folder(path: Path) -> None:
    """Make the folder of a file where it is missing. Raises OutputError where that cannot be."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        what = f"the folder cannot be made ({error.strerror})"
        raise _refused(path, what, "name another folder") from error


def _holds(path: Path, content: bytes) -> bool:
    """Whether a file is there that can be read and holds just this."""
    try:
        return path.read_bytes() == content
    except OSError:
        return False


def _refuse_other_nights(path: Path, there: list[Path], shots: ShotList) -> None:
    """Raise OutputError unless the JSON that is there is a list of the same evening and site."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        site = data["request"]["site"]
        found = data["night"]["evening"], site["latitude_deg"], site["longitude_deg"]
    except (OSError, ValueError, TypeError, LookupError):
        found = None
    own = shots.request.site
    if found != (shots.night.evening, own.latitude_deg, own.longitude_deg):
        what = f"{safe(there[0].name)} is there, and no shot list of this night and site with it"
        raise _refused(there[0], what, "name another place, or pass replace=True")


def _refused(path: Path, message: str, remedy: str) -> OutputError:
    return OutputError([InputProblem(safe(str(path)), "", f"cannot be written: {message}", remedy)])


def read_shots(path: Path) -> ReadShots:
    """Read a shot list from JSON or CSV, by the ending. Raises InputError with every problem."""
    ending = path.suffix.lower()
    if ending == ".json":
        shots = read_json(path)
        return ReadShots(shots.steps, shots)
    if ending == ".csv":
        return ReadShots(read_csv(path), None)
    if ending == ".toml" and (problem := _request_given(path)) is not None:
        raise InputError([problem])
    what = f"the ending {safe(ending)} is not known" if ending else "the name has no ending"
    raise refuse(str(path), what, "name a shot list that ends in .json or .csv")


def looks_typed(path: Path, *, few: bool = False) -> bool:
    """Whether a CSV file begins with other columns than ours; with `few`, also without the kinds of steps.

    Such a file is a plan that a person or another program wrote. False for what cannot be read at all.
    """
    if path.suffix.lower() != ".csv":
        return False
    try:
        with path.open("rb") as file:
            first = file.readline(LONGEST_HEADER_BYTES)
            while first and not first.strip():
                first = file.readline(LONGEST_HEADER_BYTES)
    except (OSError, ValueError):
        return False
    if not first.strip() or path.is_dir():
        return False
    return other_columns(first.decode("utf-8-sig", errors="replace"), few=few)


def _request_given(path: Path) -> InputProblem | None:
    """The problem to report where the file is a request; None where it is something else or no TOML."""
    try:
        source, data = read_source(path, str(path), content="the shot list")
    except InputError:
        return None
    if data.get("schema") != REQUEST_SCHEMA:
        return None
    return Document(data, {(): source}).problem(("schema",), *plan_first(source.file))
