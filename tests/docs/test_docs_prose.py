"""How the documents are set: lines that fit an editor and a side-by-side view."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.support.docs_files import DEVELOPERS, DOCUMENTS, ROOT, text

WIDEST = 110
MOST_LINES_OF_THE_MAP = 200
SHOWN = ("text", "csv")  # fences that hold what a command prints or writes, as it is
ONE_LINERS = ("<!-- run-demo -->", "<!-- run-tests -->")  # .ci/run needs each command on one line


def too_wide(whole: str) -> list[str]:
    """Lines over the limit that are neither of a table, nor shown output, nor one of the two commands."""
    found, fence, before = [], None, ""
    for line in whole.splitlines():
        mark = re.match(r" *```(\w*)$", line)
        if mark:
            fence = None if fence is not None else "shown" if before in ONE_LINERS else mark[1]
        elif len(line) > WIDEST and not line.startswith("|") and fence not in (*SHOWN, "shown"):
            found.append(line)
        before = line
    return found


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_line_is_wider_than_the_limit(path: Path) -> None:
    assert too_wide(text(path)) == []


def test_wide_lines_are_seen_wherever_they_may_not_be() -> None:
    wide = "x" * (WIDEST + 1)
    assert too_wide(f"{wide}\n\n```toml\n{wide}\n```\n```sh\n{wide}\n```\n") == [wide] * 3
    assert too_wide(f"| {wide} |\n\n```text\n{wide}\n```\n<!-- run-demo -->\n```sh\n{wide}\n```\n") == []


def test_map_for_contributors_stays_a_map() -> None:
    """The law, the bound's story and the tables have files of their own."""
    assert len(text(DEVELOPERS).splitlines()) <= MOST_LINES_OF_THE_MAP
