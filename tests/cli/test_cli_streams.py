"""Streams that are full, closed or gone: no command loses a file, its code or its words to them."""

from __future__ import annotations

import io
import os
from pathlib import Path

import pytest

from optimizer.cli.streams import Lenient, lenient
from tests.support.cli_cases import CLEAR, FILES, NEVER, called, content, request

pytestmark = pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
TOLD = "stdout did not take all that was written: No space left on device\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A request, and the shot list made from it."""
    made = tmp_path_factory.mktemp("night")
    with pytest.MonkeyPatch.context() as monkeypatch:
        assert called(monkeypatch, os.devnull, os.devnull, "plan", request(made)) == 0
    assert sorted(content(made)) == FILES
    return made


LINES = [
    ["plan", "request.toml"],
    ["plan", "request.toml", "--json"],
    ["windows", "request.toml"],
    ["windows", "request.toml", "--json"],
    ["flip", "request.toml"],
    ["flip", "request.toml", "--json"],
    ["sides", "request.toml"],
    ["check", "request.2026-11-14.shots.json"],
    ["check", "request.2026-11-14.shots.json", "--json"],
    ["chart", "request.2026-11-14.shots.json", "-o", "night.svg"],
    ["--help"],
    ["plan", "--help"],
    ["--version"],
]


@pytest.mark.parametrize("args", LINES, ids=" ".join)
def test_full_and_closed_streams_cost_nothing_but_the_words(
    args: list[str], folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    err = tmp_path / "err.txt"
    silent = args[0] == "chart"  # it shows nothing
    assert called(monkeypatch, "/dev/full", err, *args) == (0 if silent else 2)
    assert err.read_text().endswith(TOLD) != silent
    if args[0] in ("plan", "chart") and "--help" not in args:
        assert "wrote " in err.read_text()
    out = tmp_path / "out.txt"
    assert called(monkeypatch, out, "/dev/full", *args) == 0
    assert bool(out.read_text()) != silent
    assert called(monkeypatch, None, None, *args) == 0


def test_the_command_s_own_code_counts_more_than_a_full_stdout(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    err = tmp_path / "err.txt"
    path = request(tmp_path, (CLEAR, NEVER))
    assert called(monkeypatch, "/dev/full", err, "plan", path) == 3
    assert err.read_text().endswith(TOLD)
    assert called(monkeypatch, os.devnull, "/dev/full", "plan", tmp_path / "none.toml") == 2


def test_a_full_pipe_that_does_not_block_is_waited_for() -> None:
    """As some terminals and supervisors hand them on."""
    read, write = os.pipe()
    os.set_blocking(write, False)
    beneath = io.TextIOWrapper(io.BufferedWriter(io.FileIO(write, "w")), "utf-8")
    text, raw = lenient(beneath)
    sent = "x" * 200_000
    got = []

    class Reader(io.RawIOBase):
        """Reads some each time the pipe was found full."""

        def write(self, data: object) -> int | None:
            taken = inner.write(data)  # type: ignore[arg-type]
            if taken is None:
                got.append(os.read(read, 65536))
            return taken

    assert raw is not None
    inner, raw.raw = raw.raw, Reader()
    text.write(sent)
    text.flush()
    got.append(os.read(read, 65536))
    os.close(read)
    beneath.close()
    assert b"".join(got).decode() == sent
    assert raw.error is None


def test_the_first_error_is_kept_and_nothing_is_tried_again() -> None:
    class Broken(io.RawIOBase):
        tries = 0

        def write(self, data: object) -> int:
            self.tries += 1
            raise OSError(28, "No space left on device")

    broken = Broken()
    raw = Lenient(io.TextIOWrapper(io.BytesIO()))
    raw.raw = broken
    assert (raw.write(b"abc"), raw.write(b"de")) == (3, 2)
    assert broken.tries == 1
    assert raw.error is not None


def test_a_line_is_held_back_neither_by_a_terminal_nor_with_unbuffered_streams(tmp_path: Path) -> None:
    """With PYTHONUNBUFFERED the streams that Python makes pass all through at once."""
    for how in ({"line_buffering": True}, {"write_through": True}):
        path = tmp_path / f"{next(iter(how))}.txt"
        with path.open("wb", buffering=0) as beneath:
            text, _ = lenient(io.TextIOWrapper(beneath, "utf-8", **how))  # type: ignore[arg-type]
            print("On this computer: http://localhost:8777/", file=text)
            assert path.read_text() == "On this computer: http://localhost:8777/\n"
