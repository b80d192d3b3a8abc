"""The two written files, read as plain data and held against each other."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

from tests.support.recheck.facts import Finding


def read_shots(path: Path) -> dict[str, Any]:
    """The written list, by the json module alone."""
    data: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return data


def csv_findings(shots: dict[str, Any], path: Path) -> list[Finding]:
    """The CSV tells the same rows as the JSON, by the csv module alone."""
    with path.open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    rows = shots["steps"]
    if len(lines) != len(rows) + 1:
        return [Finding("csv", 0, f"{len(lines) - 1} rows beside {len(rows)} steps")]
    found = []
    for row, line in zip(rows, lines[1:], strict=True):
        if lines[0] != list(row):
            return [Finding("csv", 0, f"columns {lines[0]}")]
        for (key, value), cell in zip(row.items(), line, strict=True):
            if not _same(value, cell):
                found.append(Finding("csv", row["step"], f"{key}: {cell!r} beside {value!r}"))
    return found


def _same(value: Any, cell: str) -> bool:
    if value is None:
        return cell == ""
    if isinstance(value, bool):
        return cell == str(value).lower()
    if isinstance(value, int | float):
        return cell != "" and float(cell) == value
    return bool(cell == value)
