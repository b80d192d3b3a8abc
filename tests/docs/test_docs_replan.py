"""What the README shows of a replan is what the command says of the stored list."""

from __future__ import annotations

import re
from pathlib import Path

from tests.support.cli_cases import darkfill
from tests.support.docs_files import README, ROOT, text


def test_first_lines_of_a_replan_are_those_of_the_readme(tmp_path: Path) -> None:
    shown = re.search(r"<!-- replan -->\n```text\n(.*?)```", text(README), re.DOTALL)
    line = re.search(r"^darkfill replan (.*)$", text(README).replace("\\\n", ""), re.MULTILINE)
    assert shown is not None
    assert line is not None
    path, *options = line[1].split()
    ran = darkfill("replan", ROOT / path, *options, "--time-limit", 0.3, "--out", tmp_path)
    assert ran.code == 0, ran.stderr
    assert "\n".join(ran.stdout.splitlines()[:2]) + "\n" == shown[1]
    names = sorted(each.name for each in tmp_path.iterdir())
    assert all(f"`{name}`" in text(README) or name.endswith(".csv") for name in names)
