"""What the README shows of a night that is followed is what the command says of the stored list."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from tests.support.cli_cases import darkfill
from tests.support.docs_files import README, ROOT, fences, text
from tests.support.follow_clock import FIRST, HANG_S, HUNG, LOST, PATH, night


def command_line() -> list[str]:
    """The words behind `darkfill` that the README gives for the stored list."""
    line = re.search(r"^darkfill (follow .*)$", text(README), re.MULTILINE)
    assert line is not None
    return line[1].split()


def test_plan_that_is_followed_is_shown_as_the_readme_has_it() -> None:
    (shown,) = fences(README, "text", mark="follow")
    name, path, *options = command_line()
    ran = darkfill(name, ROOT / path, *options)
    assert (ran.code, ran.stderr) == (0, "")
    assert shown in ran.stdout


def test_images_of_a_late_night_are_told_as_the_readme_has_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (shown,) = fences(README, "text", mark="follow images")
    happened = night(stalls={HUNG.step: HANG_S}, lost=(LOST.step,))
    happened.write_until(tmp_path / "images", FIRST.steps[-1].end_utc)
    shutil.copy(PATH, tmp_path)
    monkeypatch.chdir(tmp_path)
    name, path, *options = command_line()
    ran = darkfill(name, Path(path).name, "--images", "images", *options)
    assert ran.code == 0, ran.stderr
    assert ran.stdout.endswith(f"\n\n{shown}")
