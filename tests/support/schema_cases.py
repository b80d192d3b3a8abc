"""What schemas are asked: the data of files as an editor sees it, judged by two validators that share nothing."""

from __future__ import annotations

import copy
import datetime as dt
import functools
import json
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema
import jsonschema_rs

from optimizer.schemas.texts import SCHEMAS, Kind
from optimizer.starter.files import REQUEST, RIG, SITE, starter_files

EVENING = dt.date(2026, 11, 14)


@functools.cache
def validators(kind: Kind) -> tuple[Any, Any]:
    schema = SCHEMAS[kind]()
    return jsonschema.Draft202012Validator(schema), jsonschema_rs.Draft202012Validator(schema)


def taken(kind: Kind, data: Any) -> bool:
    """Whether a schema takes the data; both validators must say the same."""
    reference, other = (each.is_valid(as_json(data)) for each in validators(kind))
    assert reference == other, data
    return bool(reference)


def faults(kind: Kind, data: Any) -> list[str]:
    return [error.message for error in validators(kind)[0].iter_errors(as_json(data))]


def as_json(data: Any) -> Any:
    """TOML's own dates and times as text, as JSON has them."""
    if isinstance(data, dict):
        return {key: as_json(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [as_json(value) for value in data]
    return data.isoformat() if isinstance(data, dt.date | dt.time) else data


def toml_of(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


@functools.cache
def _texts() -> dict[str, str]:
    return {name: text.decode() for name, text in starter_files(EVENING).items() if name.endswith(".toml")}


def starter_texts() -> dict[str, str]:
    return dict(_texts())


def whole_request() -> dict[str, Any]:
    """The starter's request with site and rig in it, as plain data without includes."""
    data: dict[str, Any] = {}
    for name in (REQUEST, SITE, RIG):
        data |= as_json(tomllib.loads(_texts()[name]))
    del data["include"]
    return copy.deepcopy(data)


@dataclass(frozen=True)
class Unset:
    """A key that stands in a remark of the starter, on a line counted from 0; "" is the top of a file."""

    file: str
    line: int
    table: str
    key: str


def keys_not_set() -> list[Unset]:
    found = []
    for name, text in _texts().items():
        table = ""
        for number, line in enumerate(text.splitlines()):
            if opened := re.fullmatch(r"\[+([a-z.]+)\]+", line):
                table = opened[1]
            if match := re.match(r"#([a-z0-9_]+) = ", line):
                found.append(Unset(name, number, table, match[1]))
    return found


def with_set(unset: Unset) -> dict[str, str]:
    """The starter's files with the sign taken away from one of the keys."""
    lines = _texts()[unset.file].splitlines()
    lines[unset.line] = lines[unset.line].removeprefix("#")
    return {**_texts(), unset.file: "\n".join(lines) + "\n"}


def put(data: dict[str, Any], path: tuple[str | int, ...], value: Any) -> dict[str, Any]:
    """The same data with another value at a path."""
    changed = copy.deepcopy(data)
    holder: Any = changed
    for part in path[:-1]:
        holder = holder.setdefault(part, {}) if isinstance(holder, dict) else holder[part]
    holder[path[-1]] = value
    return changed


def without(data: dict[str, Any], path: tuple[str | int, ...]) -> dict[str, Any]:
    changed = copy.deepcopy(data)
    holder: Any = changed
    for part in path[:-1]:
        holder = holder[part]
    del holder[path[-1]]
    return changed


def written(folder: Path, data: dict[str, Any]) -> Path:
    path = folder / "request.json"
    path.write_text(json.dumps(as_json(data)), encoding="utf-8")
    return path
