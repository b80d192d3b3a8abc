"""The installed command as a process of its own: imports, pipes, encodings, Ctrl-C."""

from __future__ import annotations

import json
import os
import pty
import shlex
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from benchmarks.plain_aim import PLAIN_AIM_LINES
from optimizer.export.json_file import read_json
from optimizer.export.shot_files import read_shots
from tests.support.cli_cases import FILES, content, request
from tests.support.speeds import deep

pytestmark = deep

DARKFILL = str(Path(sys.executable).with_name("darkfill"))
WINTER = Path(__file__).parents[2] / "plans" / "long-winter-night"
HEAVY = (
    "ortools",
    "astropy",
    "numpy",
    "jinja2",
    "markupsafe",
    "playwright",
    "erfa",
    "pyongc",
    "pandas",
    "rich.table",
    "optimizer.night",
)


def run(
    *args: object, env: dict[str, str] | None = None, stdout: int = subprocess.PIPE
) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [DARKFILL, *map(str, args)],
        stdout=stdout,
        stderr=subprocess.PIPE,
        env={**os.environ, **(env or {})},
        check=False,
        timeout=120,
    )


@pytest.mark.parametrize(
    "args",
    [
        ["--help"],
        ["plan", "--help"],
        ["sides", "--help"],
        ["chart", "--help"],
        ["export", "--help"],
        ["season", "--help"],
        ["--version"],
    ],
)
def test_help_answers_at_once_since_nothing_heavy_is_imported(args: list[str]) -> None:
    """What was imported is asked of the interpreter that showed the help."""
    code = (
        "import sys\n"
        f"sys.argv = ['darkfill', *{args!r}]\n"
        "from optimizer.cli.app import main\n"
        "try:\n    main()\nexcept SystemExit as end:\n    print('code', end.code)\n"
        "print('loaded', *sorted(sys.modules))\n"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "\ncode 0\n" in out
    loaded = out[out.rindex("loaded ") :].split()[1:]
    assert "optimizer.cli.plan" in loaded
    assert [name for name in loaded if name in HEAVY] == []


def test_whole_way_through_pipes(tmp_path: Path) -> None:
    ran = run("plan", request(tmp_path), "--json")
    assert ran.returncode == 0
    assert json.loads(ran.stdout)["schema"] == "darkfill-shots/1"
    assert ran.stderr.decode().splitlines() == [f"wrote {tmp_path / name}" for name in reversed(FILES[:2])]


def run_without_reader(*args: object) -> tuple[int, str]:
    """Whoever should have read stdout has gone before the first word; code and stderr."""
    with subprocess.Popen(
        [DARKFILL, *map(str, args)], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        told = process.stderr.read().decode()
        return process.wait(60), told


@pytest.mark.parametrize("options", [[], ["--json"]])
def test_reader_that_has_gone_loses_no_plan(options: list[str], tmp_path: Path) -> None:
    """`darkfill plan request.toml | head -1`: the plan is on the disk all the same, and nobody complains."""
    code, told = run_without_reader("plan", request(tmp_path), *options)
    assert code == 0
    assert "Broken" not in told
    assert "Traceback" not in told
    assert sorted(content(tmp_path)) == FILES


@pytest.mark.parametrize("options", [[], ["--json"]])
def test_reader_that_has_gone_gets_no_complaint(options: list[str], tmp_path: Path) -> None:
    path = request(tmp_path)
    assert run_without_reader("windows", path, *options) == (0, "")
    assert run("plan", path).returncode == 0
    assert run_without_reader("check", tmp_path / "request.2026-11-14.shots.json", *options) == (0, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_full_disk_behind_stdout_loses_no_plan(tmp_path: Path) -> None:
    """Nor what is told: the files are named, and the process's own end does not stumble over what is left."""
    with Path("/dev/full").open("wb") as full:
        ran = run("plan", request(tmp_path), stdout=full.fileno())
    assert ran.returncode == 2
    wrote = [f"wrote {tmp_path / name}" for name in reversed(FILES[:2])]
    told = "stdout did not take all that was written: No space left on device"
    assert ran.stderr.decode().splitlines() == [*wrote, told]
    assert sorted(content(tmp_path)) == FILES


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("plan {request} 1>&- 2>&-", 0),
        ("windows {request} --json 2>/dev/full", 0),
        ("--help >/dev/full", 2),
        ("--version >&-", 0),
        ("nonsense 2>&-", 2),
    ],
)
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_closed_and_full_streams_cost_neither_files_nor_exit_code(
    line: str, code: int, tmp_path: Path
) -> None:
    """What is opened while a stream is closed must not be written to by whoever prints."""
    command = f"exec {shlex.quote(DARKFILL)} {line.format(request=shlex.quote(str(request(tmp_path))))}"
    ran = subprocess.run(["sh", "-c", command], capture_output=True, check=False, timeout=120)
    assert ran.returncode == code
    assert b"Exception" not in ran.stderr
    assert b"Traceback" not in ran.stderr
    if "plan" in line:
        assert ran.stdout == ran.stderr == b""
        assert (
            read_shots(tmp_path / "request.2026-11-14.shots.csv").steps
            == read_json(tmp_path / FILES[1]).steps
        )


def read(terminal: int) -> bytes:
    """What comes next; empty once the other end is closed."""
    try:
        return os.read(terminal, 65536)
    except OSError:
        return b""


def test_interrupt_keeps_the_best_plan_found_so_far(tmp_path: Path) -> None:
    """Ctrl-C once the progress line, which a terminal gets on stderr, tells of a first plan."""
    folder = tmp_path / "night"
    shutil.copytree(WINTER, folder, ignore=shutil.ignore_patterns("*.shots.*", "*.html", "*.old*", "stored"))
    path = folder / "request.toml"
    path.write_text(
        path.read_text(encoding="utf-8") + "\n[aim]\ngap = 0\ntime_limit_s = 900\n" + PLAIN_AIM_LINES
    )
    ours, theirs = pty.openpty()
    with subprocess.Popen([DARKFILL, "plan", str(path)], stdout=subprocess.PIPE, stderr=theirs) as process:
        os.close(theirs)
        told = b""
        while b"keeps it" not in told and (part := read(ours)):
            told += part
        process.send_signal(signal.SIGINT)
        out = process.communicate(timeout=60)[0].decode()
    os.close(ours)
    assert process.returncode == 0
    assert "stopped early" in out
    assert b"Ctrl-C keeps it" in told
    shots = read_json(folder / "request.2026-12-28.shots.json")
    assert shots.proof.status == "stopped"
    assert shots.audit_report.violations == ()
    assert (folder / "request.2026-12-28.shots.csv").exists()


def test_interrupt_while_relief_is_asked_for_keeps_the_plan(tmp_path: Path) -> None:
    """The line on the terminal says that it does."""
    folder = tmp_path / "night"
    shutil.copytree(WINTER, folder, ignore=shutil.ignore_patterns("*.shots.*", "*.html", "*.old*", "stored"))
    args = ["plan", str(folder / "request.toml"), "--time-limit", "3", "--relief"]
    ours, theirs = pty.openpty()
    with subprocess.Popen([DARKFILL, *args], stdout=subprocess.PIPE, stderr=theirs) as process:
        os.close(theirs)
        told = b""
        while b"Ctrl-C keeps the plan" not in told and (part := read(ours)):
            told += part
        assert (folder / "request.2026-12-28.shots.json").exists()
        process.send_signal(signal.SIGINT)
        out = process.communicate(timeout=60)[0].decode()
    os.close(ours)
    assert process.returncode == 0
    assert out.startswith("Night of ")
    shots = read_json(folder / "request.2026-12-28.shots.json")
    assert shots.proof.status == "feasible"
    assert any(entry.relief is None for entry in shots.unplanned)


def test_interrupt_before_the_search_says_that_nothing_was_written(tmp_path: Path) -> None:
    """Imports and the sky take their time; Ctrl-C then is no accident that needs a traceback."""
    path = request(tmp_path)
    process = subprocess.Popen(
        [sys.executable, "-c", BEFORE, str(path)], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    out, told = process.communicate(timeout=60)
    assert process.returncode == 130
    assert out == b""
    assert told == b"stopped; nothing was written\n"
    assert sorted(content(tmp_path)) == ["request.toml"]


BEFORE = """
import os, signal, sys
from optimizer import night
def interrupted(request):
    os.kill(os.getpid(), signal.SIGINT)
    import time
    time.sleep(5)
night.night_sky = interrupted
sys.argv = ["darkfill", "plan", sys.argv[1]]
from optimizer.cli.app import main
main()
"""
