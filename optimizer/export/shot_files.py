"""The files of a shot list, as the command line names them: STEM.shots.json and STEM.shots.csv."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer.diagnostics.document import Document
from optimizer.errors import InputError, InputProblem
from optimizer.export.atomic import write_group
from optimizer.export.csv_file import csv_text, read_csv
from optimizer.export.json_file import json_text, read_json
from optimizer.models.request import REQUEST_SCHEMA
from optimizer.models.shots import ShotList, Step
from optimizer.reading.checking import plan_first
from optimizer.reading.files import read_source, refuse
from optimizer.words import safe


@dataclass(frozen=True)
class ReadShots:
    """The content of a file: its steps, and from JSON the whole list (None from CSV)."""

    steps: tuple[Step, ...]
    shots: ShotList | None


def shot_paths(folder: Path, stem: str) -> tuple[Path, Path]:
    """The paths of the JSON and the CSV of a shot list."""
    return folder / f"{stem}.shots.json", folder / f"{stem}.shots.csv"


def page_path(shots: Path) -> Path:
    """The path of the page of a shot list: STEM.html beside it."""
    return shots.with_name(shots.stem.removesuffix(".shots") + ".html")


def write_shots(folder: Path, stem: str, shots: ShotList) -> tuple[Path, Path]:
    """Write STEM.shots.json and STEM.shots.csv into the folder, both or neither, and return their paths.

    Raises OutputError where they cannot be written.
    """
    json_path, csv_path = shot_paths(folder, stem)
    write_group(shot_contents(shots, json_path, csv_path))
    return json_path, csv_path


def shot_contents(shots: ShotList, json_path: Path, csv_path: Path) -> dict[Path, bytes]:
    """The content of the two files of a shot list, by path."""
    return {json_path: json_text(shots).encode(), csv_path: csv_text(shots.steps).encode()}


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


def _request_given(path: Path) -> InputProblem | None:
    """The problem to report where the file is a request; None where it is something else or no TOML."""
    try:
        source, data = read_source(path, str(path), content="the shot list")
    except InputError:
        return None
    if data.get("schema") != REQUEST_SCHEMA:
        return None
    return Document(data, {(): source}).problem(("schema",), *plan_first(source.file))
