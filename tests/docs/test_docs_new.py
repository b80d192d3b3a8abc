"""The README's own request begins with two lines that do what is said of them."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from tests.support.cli_cases import darkfill
from tests.support.docs_files import README, ROOT, fences


def test_lines_that_begin_a_request_run_as_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (lines,) = fences(README, "sh", mark="new")
    made, planned = (shlex.split(line)[1:] for line in lines.splitlines())
    monkeypatch.chdir(tmp_path)
    assert darkfill(*made).code == 0
    ran = darkfill(*planned, "--time-limit", "0.5")
    assert ran.code == 0
    assert "rules checked again by separate code: none broken" in ran.stdout
    assert len(list((tmp_path / "my-night").glob("request.*.shots.json"))) == 1


def test_what_these_lines_write_is_no_change_of_the_clone() -> None:
    assert "/my-night/" in (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()
