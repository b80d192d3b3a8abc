"""A request small enough to be planned in a moment, and the command line called in this process."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, NamedTuple

from typer.testing import CliRunner

from optimizer.cli.app import app

SMALL = """\
schema = "darkfill-request/1"

[night]
evening = 2026-11-14
clear = [[2026-11-14T22:00:00Z, 2026-11-14T22:40:00Z]]
ut1_utc_s = 0.0

[site]
name = "Heron Flat"
latitude_deg = 38.92
longitude_deg = -3.11
time_zone = "Europe/Madrid"
floor_deg = 25

[mount]
contact_min = 40

[[filters]]
name = "L"

[[targets]]
name = "Cradle"
ra_deg = 52.297
dec_deg = 31.31

  [[targets.goals]]
  filter = "L"
  exposure_s = 300
  frames = 50

[aim]
workers = 1
time_limit_s = 3
"""
NEVER = "clear = [[2026-11-14T13:00:00Z, 2026-11-14T13:40:00Z]]"
CLEAR = "clear = [[2026-11-14T22:00:00Z, 2026-11-14T22:40:00Z]]"
FILES = ["request.shots.csv", "request.shots.json", "request.toml"]
COMMANDS = ("plan", "windows", "flip", "sides")


class Ran(NamedTuple):
    code: int
    stdout: str
    stderr: str

    @property
    def json(self) -> Any:
        return json.loads(self.stdout)


def request(folder: Path, *swaps: tuple[str, str], name: str = "request.toml") -> Path:
    """A request in a folder, the small one with parts exchanged."""
    text = SMALL
    for old, new in swaps:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def darkfill(*args: object, env: dict[str, str] | None = None) -> Ran:
    """Call the command line; nothing may come out of it but words and a code."""
    result = CliRunner().invoke(app, [str(arg) for arg in args], env=env)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert "Traceback" not in result.stdout + result.stderr
    return Ran(result.exit_code, result.stdout, result.stderr)


def content(folder: Path) -> dict[str, bytes]:
    """Every file below a folder; hidden ones too."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
