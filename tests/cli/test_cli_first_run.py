"""The first run on a machine, where no loop has been compiled yet: processes with an empty cache folder."""

from __future__ import annotations

import os
import pty
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.support.cli_cases import FILES, content, request

pytestmark = pytest.mark.deep

START = "from optimizer.cli.start import main; main()"
# far more than fits, in more runs than the constraint model is asked for
MORE = """
[[targets]]
name = "T{}"
ra_deg = {}
dec_deg = 30
  [[targets.goals]]
  filter = "L"
  exposure_s = 60
  frames = 300
"""
MUCH = (
    ("clear = [[2026-11-14T22:00:00Z, 2026-11-14T22:40:00Z]]", ""),
    ("frames = 50", "frames = 60\n" + "".join(MORE.format(number, 25 * number) for number in range(5))),
)


def started(folder: Path, cache: Path, stderr: int = subprocess.DEVNULL) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", START, "plan", str(folder / "request.toml")],
        stdout=subprocess.DEVNULL,
        stderr=stderr,
        env={**os.environ, "NUMBA_CACHE_DIR": str(cache)},
    )


def on_terminal(folder: Path, cache: Path, press_at: str | None = None) -> str:
    """What stderr tells of a plan; Ctrl-C comes as soon as it tells `press_at`."""
    ours, theirs = pty.openpty()
    process, told = started(folder, cache, theirs), ""
    os.close(theirs)
    while True:
        try:
            told += os.read(ours, 4096).decode()
        except OSError:  # the process has ended
            break
        if press_at is not None and press_at in told:
            process.send_signal(signal.SIGINT)
            press_at = None
    os.close(ours)
    assert process.wait(60) == 0, told
    assert press_at is None, told
    return told


def users_of(cache: Path) -> list[int]:
    """Processes that keep loops in a folder."""
    mark, found = f"NUMBA_CACHE_DIR={cache}".encode(), []
    for each in Path("/proc").glob("[0-9]*/environ"):
        try:
            if mark in each.read_bytes().split(b"\0"):
                found.append(int(each.parent.name))
        except OSError:
            continue
    return found


def test_first_and_later_runs_make_the_same_plan_with_one_worker(tmp_path: Path) -> None:
    for name in ("first", "second"):
        (tmp_path / name).mkdir()
        request(tmp_path / name, *MUCH)
    cache = tmp_path / "cache"
    first = on_terminal(tmp_path / "first", cache)
    assert first.count("compiling the search for this machine, this once") == 1
    assert "compiling: " in first
    assert "compiling" not in on_terminal(tmp_path / "second", cache)
    plans = [content(tmp_path / name)["request.2026-11-14.shots.csv"] for name in ("first", "second")]
    assert plans[0] == plans[1]


def test_ctrl_c_while_loops_are_compiled_keeps_the_plan_and_leaves_no_process(tmp_path: Path) -> None:
    request(tmp_path, *MUCH)
    cache = tmp_path / "cache"
    told = on_terminal(tmp_path, cache, press_at="Ctrl-C keeps it")
    assert "wrote " in told
    assert "Traceback" not in told
    assert set(FILES) <= set(content(tmp_path))
    until = time.monotonic() + 30
    while users_of(cache) and time.monotonic() < until:
        time.sleep(0.1)
    assert users_of(cache) == []
    assert list(cache.rglob("*.tmp.*")) == []
    assert "wrote " in on_terminal(tmp_path, cache)  # what is there already is whole


def test_two_first_runs_at_once_both_work(tmp_path: Path) -> None:
    running, cache = [], tmp_path / "cache"
    for name, aim in (("hours", "hours"), ("depth", "depth")):
        (tmp_path / name).mkdir()
        request(tmp_path / name, *MUCH, ('value = "hours"', f'value = "{aim}"'))
        running.append(started(tmp_path / name, cache))
    assert [process.wait(300) for process in running] == [0, 0]
    assert users_of(cache) == []


def test_processes_that_compile_end_with_their_parent(tmp_path: Path) -> None:
    request(tmp_path, *MUCH)
    cache = tmp_path / "cache"
    process = started(tmp_path, cache)
    while len(users_of(cache)) < 3 and process.poll() is None:
        time.sleep(0.05)
    assert process.poll() is None
    process.kill()
    process.wait()
    until = time.monotonic() + 30
    while users_of(cache) and time.monotonic() < until:
        time.sleep(0.1)
    assert users_of(cache) == []
