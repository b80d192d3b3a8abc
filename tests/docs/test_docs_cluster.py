"""The page on a cluster: each of its commands is run as it is written, but for the port, which is a free one."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from optimizer.models.season import SeasonFile
from tests.support.docs_files import README, ROOT, fences
from tests.support.speeds import deep

PORT = "8786"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder as the clone is, for what the commands read and leave."""
    shutil.copytree(ROOT / "plans" / "shared-season", tmp_path / "plans" / "shared-season")
    return tmp_path


def shell(line: str, folder: Path) -> subprocess.Popen[str]:
    programs = [str(Path(sys.executable).parent), os.environ["PATH"]]
    return subprocess.Popen(
        ["sh", "-c", f"exec {line}"],
        cwd=folder,
        env={
            **os.environ,
            "PATH": os.pathsep.join(programs),
            "PYTHONPATH": str(ROOT),
            "DARKFILL_CACHE": str(folder / "cache"),
        },
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


@contextmanager
def running(lines: list[str], folder: Path) -> Iterator[None]:
    """Commands that are left running for the block; what they print is not read."""
    children = [shell(f"{line} >/dev/null 2>&1", folder) for line in lines]
    try:
        yield
    finally:
        for child in reversed(children):
            child.send_signal(signal.SIGINT)
        for child in children:
            child.communicate(timeout=60)


def seasons(folder: Path) -> dict[str, SeasonFile]:
    paths = (folder / "tried").glob("*.season.json")
    return {path.name: SeasonFile.model_validate_json(path.read_text(encoding="utf-8")) for path in paths}


@deep
@pytest.mark.skipif(sys.platform == "win32", reason="lines of a shell")
def test_cluster_of_this_machine_is_begun_as_written(folder: Path) -> None:
    (lines,) = fences(README, "sh", mark="cluster here")
    done = shell(lines.strip(), folder)
    out, _ = done.communicate(timeout=300)
    assert done.returncode == 0, out
    assert "what the workers do is shown at http://127.0.0.1:" in out
    assert list(seasons(folder)) == ["long.season.json"]


@deep
@pytest.mark.skipif(sys.platform == "win32", reason="lines of a shell")
def test_cluster_of_several_machines_is_begun_as_written(folder: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    (of_cluster,) = fences(README, "sh", mark="cluster")
    (of_season,) = fences(README, "sh", mark="cluster season")
    scheduler, workers = of_cluster.replace(PORT, port).splitlines()
    with running([f"{scheduler} --dashboard-address 127.0.0.1:0", workers], folder):
        done = shell(of_season.replace(PORT, port).strip(), folder)
        out, _ = done.communicate(timeout=300)
    assert done.returncode == 0, out
    (found,) = seasons(folder).values()
    assert [rig.name for rig in found.rigs] == ["long", "wide"]
