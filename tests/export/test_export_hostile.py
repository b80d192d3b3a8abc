"""Templates that mean harm: each is ended in time with one sentence, and nothing is written, left or harmed."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import pytest

from optimizer.cli import export
from optimizer.export import template
from tests.support.cli_cases import Ran, content, darkfill
from tests.support.docs_files import PLANS, stored_list
from tests.support.speeds import deep
from tests.support.template_cases import BROKE, HOSTILE, STOPPED, Hostile, audited_view

WITHIN_S = 5.0  # the product's own promise, by the wall clock
SHOTS = stored_list(PLANS[0])


@pytest.fixture
def children(monkeypatch: pytest.MonkeyPatch) -> list[subprocess.Popen[bytes]]:
    """The processes that are started in the test."""
    started: list[subprocess.Popen[bytes]] = []

    class Noted(subprocess.Popen[bytes]):
        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            started.append(self)

    monkeypatch.setattr(subprocess, "Popen", Noted)
    return started


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with an older file, whose own folder is the one for temporary files as well."""
    monkeypatch.setattr(export, "_audited_view", lambda *_: audited_view())  # a second less for each
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    (tmp_path / "out.txt").write_bytes(b"an older file\n")
    return tmp_path


def exported(folder: Path, text: str) -> Ran:
    path = folder / "t.txt"
    path.write_bytes(text.encode())
    return darkfill("export", SHOTS, "--template", path, "-o", folder / "out.txt")


def is_gone(child: subprocess.Popen[bytes]) -> bool:
    """Whether a process has ended and was waited for: a zombie still has its number."""
    if child.returncode is None:
        return False
    if sys.platform == "win32":
        return True
    try:
        os.kill(child.pid, 0)
    except ProcessLookupError:
        return True
    return False


@pytest.mark.parametrize(
    "hostile",
    [pytest.param(case, id=case.name, marks=[deep] if case.slow else []) for case in HOSTILE],
)
def test_hostile_template_ends_in_time_with_one_sentence_and_nothing_is_left(
    hostile: Hostile, folder: Path, children: list[subprocess.Popen[bytes]]
) -> None:
    began = time.monotonic()
    ran = exported(folder, hostile.text)
    assert time.monotonic() - began < WITHIN_S
    assert ran.stderr in hostile.told(folder / "t.txt")
    assert (ran.code, ran.stdout) == (2, "")
    assert content(folder) == {"out.txt": b"an older file\n", "t.txt": hostile.text.encode()}
    assert sorted(path.name for path in folder.iterdir()) == ["out.txt", "t.txt"]
    assert all(map(is_gone, children))
    assert len(children) == (0 if "there is the control character" in ran.stderr else 1)


def test_hostile_templates_are_thirty_and_more() -> None:
    assert len({case.text for case in HOSTILE}) == len(HOSTILE) >= 30


def test_after_one_that_broke_down_the_next_is_written_as_ever(folder: Path) -> None:
    assert exported(folder, "{{ " + "-" * 60_000 + "1 }}").code == 2
    ran = exported(folder, "{{ plan.evening }}\n")
    assert (ran.code, (folder / "out.txt").read_bytes()) == (0, b"2026-10-10\n")
    assert (folder / "out.txt.old").read_bytes() == b"an older file\n"


def test_time_is_up_by_the_wall_clock(
    folder: Path, children: list[subprocess.Popen[bytes]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same limit, shorter, for the quick tests; the engine itself has none against this."""
    monkeypatch.setattr(template.render, "__kwdefaults__", {"longest_s": 0.3})
    ran = exported(folder, "{{ ([[1]*100000]*100000) == ([[1]*100000]*100000) }}")
    said = STOPPED.replace("4 s", "0.3 s")
    assert (ran.code, ran.stderr) == (2, f"{folder / 't.txt'}: {said}\n")
    assert [is_gone(child) for child in children] == [True]


def test_ctrl_c_ends_the_process_too(
    folder: Path, children: list[subprocess.Popen[bytes]], monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(pipes: object, until: float) -> bool:
        raise KeyboardInterrupt

    monkeypatch.setattr(template._Pipes, "done_before", interrupted)
    ran = exported(folder, "{{ ([[1]*100000]*100000) == ([[1]*100000]*100000) }}")
    assert (ran.code, ran.stderr) == (130, "stopped; nothing was written\n")
    assert [is_gone(child) for child in children] == [True]
    assert (folder / "out.txt").read_bytes() == b"an older file\n"


@pytest.mark.skipif(sys.platform != "linux", reason="other systems do not hold a process to this limit")
def test_memory_has_a_limit_of_its_own(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the limit the template is done in a moment; under it, it breaks down."""
    text = "{% set t = 'a' * 9000000 %}{{ (t ~ t ~ t)|length }}"
    assert exported(folder, text).code == 0
    assert (folder / "out.txt").read_bytes() == b"27000000"
    monkeypatch.setattr(template, "MOST_MEMORY_BYTES", 30_000_000)
    assert exported(folder, text).stderr == f"{folder / 't.txt'}: {BROKE}\n"
