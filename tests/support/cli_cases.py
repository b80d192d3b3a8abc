"""A request small enough to be planned in a moment, and the command line called in this process."""

from __future__ import annotations

import contextlib
import io
import json
import sys
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from typer.testing import CliRunner

from benchmarks.plain_aim import PLAIN_AIM_LINES
from optimizer.cli.app import app, run

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
SMALL += PLAIN_AIM_LINES
NEVER = "clear = [[2026-11-14T13:00:00Z, 2026-11-14T13:40:00Z]]"
CLEAR = "clear = [[2026-11-14T22:00:00Z, 2026-11-14T22:40:00Z]]"
FILES = ["request.2026-11-14.shots.csv", "request.2026-11-14.shots.json", "request.toml"]
COMMANDS = ("plan", "windows", "flip", "sides", "targets")


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


class Terminal(io.FileIO):
    """A file that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def called(
    monkeypatch: pytest.MonkeyPatch,
    out: Path | str | None,
    err: Path | str | None,
    *args: object,
    encoding: str = "utf-8",
    kind: type[io.FileIO] = io.FileIO,
) -> int:
    """The code of a command line in this process, its streams led to these files (None: closed)."""
    with contextlib.ExitStack() as open_files:

        def stream(path: Path | str | None) -> io.TextIOWrapper | None:
            if path is None:
                return None
            beneath = io.BufferedWriter(kind(str(path), "w"))
            return open_files.enter_context(io.TextIOWrapper(beneath, encoding))

        with monkeypatch.context() as patched:
            patched.setattr(sys, "stdout", stream(out))
            patched.setattr(sys, "stderr", stream(err))
            patched.setattr(sys, "argv", ["darkfill", *map(str, args)])
            return run()


def content(folder: Path) -> dict[str, bytes]:
    """Every file below a folder; hidden ones too."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
