"""What the README shows of a night that is followed is what the command says of the stored list."""

from __future__ import annotations

import datetime as dt
import random
import re
import shutil
from pathlib import Path

import pytest

from tests.support.cli_cases import darkfill
from tests.support.docs_files import README, ROOT, fences, text
from tests.support.picture_cases import shots_path, stored
from tests.support.run_night import run_night


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
    happened = run_night(stored("first-night"), random.Random(1), stalls={80: 480.0}, lost=(71,))
    happened.write_until(tmp_path / "images", dt.datetime(2026, 10, 10, 23, 20, tzinfo=dt.UTC))
    shutil.copy(shots_path("first-night"), tmp_path)
    monkeypatch.chdir(tmp_path)
    name, path, *options = command_line()
    ran = darkfill(name, Path(path).name, "--images", "images", *options)
    assert ran.code == 0, ran.stderr
    assert ran.stdout.endswith(f"\n\n{shown}")
