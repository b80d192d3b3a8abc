"""Trap 4: with the network cut, caches empty and warnings as errors, past and far future nights are planned.

Whole processes: sockets raise and leave a mark, HOME and every cache folder are empty. astropy left to itself
fails under this (see the last test), once its tables are old.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.speeds import deep

pytestmark = deep

PLANS = Path(__file__).resolve().parents[2] / "plans"
EVENINGS = ["1990-01-15", "2026-10-10", "2029-06-01", "2060-12-24"]
CACHES = ["empty", "missing"]
# What stderr may hold: what catalogue names stand for, what was written, advice about the request itself.
TOLD = re.compile(
    r"(IC 5070|M 33 is NGC 598|NGC 1333): .*"
    r"|wrote \S*request\.\d{4}-\d\d-\d\d\.shots\.(json|csv)"
    r"|warning: .*request\.toml.*"
    r"|nothing can be scheduled on this night; no shot list was written"
)
CUT = """
import os, socket, sys
def refuse(*args, **kwargs):
    with open(os.environ["TRIED"], "a") as mark:
        mark.write(repr(args[-1:]) + chr(10))
    raise OSError("the network is cut")
for owner, names in (
    (socket, ("create_connection", "getaddrinfo", "gethostbyname", "gethostbyname_ex", "gethostbyaddr")),
    (socket.socket, ("connect", "connect_ex", "sendto", "sendmsg")),
):
    for name in names:
        if hasattr(owner, name):
            setattr(owner, name, refuse)
"""
# Tables as they are years after the installation: no list of leap seconds is fresh enough for astropy.
OLD_TABLES = """
import pathlib, re
import astropy_iers_data
kept = pathlib.Path(astropy_iers_data.IERS_LEAP_SECOND_FILE).read_text(encoding="ascii")
old = pathlib.Path(os.environ["TRIED"]).with_name("old-leap-seconds")
old.write_text(re.sub("(File expires on).*", r"\\1 28 June 2020", kept), encoding="ascii")
astropy_iers_data.IERS_LEAP_SECOND_FILE = str(old)
"""
RUN = """
from optimizer.cli.app import main
main()
"""


def _run(
    code: str, tmp_path: Path, *arguments: str, caches: str = "empty"
) -> tuple[subprocess.CompletedProcess[str], list[str]]:
    """The process, and the connections that it tried."""
    empty, tried = tmp_path / "caches", tmp_path / "tried"
    if caches == "empty":
        empty.mkdir()
    kept = {name: os.environ[name] for name in ("PATH", "SYSTEMROOT", "LANG") if name in os.environ}
    folders = ["HOME", "USERPROFILE", "XDG_CACHE_HOME", "XDG_CONFIG_HOME"]
    folders += ["ASTROPY_CACHE_DIR", "ASTROPY_CONFIG_DIR"]
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", CUT + code, *arguments],
        env={**kept, **dict.fromkeys(folders, str(empty)), "TRIED": str(tried)},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    return done, tried.read_text(encoding="utf-8").splitlines() if tried.exists() else []


def _request(tmp_path: Path) -> str:
    shutil.copytree(PLANS / "first-night", tmp_path / "night")
    for old in (tmp_path / "night").glob("*.shots.*"):
        old.unlink()
    return str(tmp_path / "night" / "request.toml")


def _judge(done: subprocess.CompletedProcess[str], tried: list[str]) -> None:
    assert tried == []
    unasked = [line for line in done.stderr.splitlines() if not TOLD.fullmatch(line)]
    assert unasked == []
    assert done.returncode in (0, 3)
    assert done.stdout.strip()


@pytest.mark.parametrize("evening", EVENINGS)
def test_trap_4_windows_need_no_network_no_cache_and_warn_of_nothing(evening: str, tmp_path: Path) -> None:
    done, tried = _run(RUN, tmp_path, "windows", _request(tmp_path), "--evening", evening)
    _judge(done, tried)
    assert done.returncode == 0
    assert evening in done.stdout


@pytest.mark.parametrize("evening", EVENINGS)
def test_trap_4_plans_need_no_network_no_cache_and_warn_of_nothing(evening: str, tmp_path: Path) -> None:
    request = _request(tmp_path)
    done, tried = _run(RUN, tmp_path, "plan", request, "--time-limit", "1", "--evening", evening)
    _judge(done, tried)
    written = sorted(path.name for path in Path(request).parent.glob("*.shots.*"))
    assert written == (
        [f"request.{evening}.shots.{ending}" for ending in ("csv", "json")] if done.returncode == 0 else []
    )
    assert (done.returncode == 0) == ("wrote" in done.stderr)


@pytest.mark.parametrize("caches", CACHES)
def test_trap_4_a_plan_with_tables_of_years_ago_needs_no_network(caches: str, tmp_path: Path) -> None:
    arguments = ("plan", _request(tmp_path), "--time-limit", "1")
    done, tried = _run(OLD_TABLES + RUN, tmp_path, *arguments, caches=caches)
    _judge(done, tried)
    assert done.returncode == 0


def test_trap_4_is_one_that_these_tests_would_see(tmp_path: Path) -> None:
    alone = "from astropy.time import Time; Time('2026-10-10', scale='utc').ut1"
    done, tried = _run(OLD_TABLES + "import warnings; warnings.simplefilter('ignore')\n" + alone, tmp_path)
    assert tried  # it asks the network as soon as it has an instant
    (tmp_path / "strict").mkdir()
    done, _ = _run(OLD_TABLES + alone, tmp_path / "strict")
    assert done.returncode != 0
    assert "Warning" in done.stderr
