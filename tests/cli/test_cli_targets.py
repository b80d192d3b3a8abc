"""`darkfill targets`: what is shown, what is written to stdout and nothing else there."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.reading.load import load_request
from tests.support.cli_cases import content, darkfill
from tests.support.targets_cases import BASE, SHEET, write

TALLY = """\
target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source
Triangulum,L,120.5,,,1,2026-11-12,31,1,
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    (tmp_path / "in-hand.csv").write_text(TALLY, encoding="utf-8")
    return write(tmp_path, SHEET, BASE.replace("[night]", 'tally = "in-hand.csv"\n[night]'))


def test_table_has_objects_as_resolved_places_and_what_is_in_hand(path: Path) -> None:
    ran = darkfill("targets", path)
    assert (ran.code, ran.stdout) == (
        0,
        """\
4 targets, in subs
target       object             place (ICRS)             filter   exposure   wanted   in hand   left
────────────────────────────────────────────────────────────────────────────────────────────────────
Triangulum   M 33 is NGC 598    01h33m50.9s +30d39m37s   L         120.5 s       90        33     57
                                                         Ha          300 s       48         0     48
                                                         L            60 s       20         0     20
Pelicanø                        20h51m01.5s +44d24m05s   Ha          300 s       60         0     60
Bode         M 81 is NGC 3031   09h55m33.2s +69d03m55s   L            60 s       20         0     20
Plain                           20h51m01.0s -04d30m00s   Ha          600 s        5         0      5
""",
    )
    assert "4 targets. Read 5 rows, commas between the columns and UTF-8." in ran.stderr


def test_narrow_terminal_has_a_line_for_each_goal(path: Path) -> None:
    out = darkfill("targets", path, env={"COLUMNS": "60"}).stdout
    assert "Triangulum (M 33 is NGC 598), 01h33m50.9s +30d39m37s" in out
    assert "  L 120.5 s: 33 in hand of 90, 57 left" in out
    assert max(map(len, out.splitlines())) <= 60


def test_json_has_all_of_it(path: Path) -> None:
    first, *_, last = darkfill("targets", path, "--json").json["targets"]
    assert (first["object"], first["called"], first["ra"]) == ("M 33", "M 33 is NGC 598", "01h33m50.9s")
    assert [(goal["wanted"], goal["in_hand"], goal["left"]) for goal in first["goals"]] == [
        (90, 33, 57), (48, 0, 48), (20, 0, 20),
    ]  # fmt: skip
    assert (last["called"], last["floor_deg"], last["dec_deg"]) == (None, 25.0, -4.5)


def test_table_for_a_spreadsheet_is_all_of_stdout_and_gives_the_same_request(path: Path) -> None:
    """`done` stands there as it is typed: the tally is counted again when the table is read."""
    before, whole = content(path.parent), load_request(path)
    ran = darkfill("targets", path, "--csv")
    assert ran.code == 0
    assert content(path.parent) == before
    lines = ran.stdout.splitlines()
    assert lines[1] == (
        "Triangulum,M 33,23.462041666666668,30.66022222222222,22.5,1.5,,0,either,tri; pinwheel 2,,"
        "L,120.5,90,,3,,,1,yes"
    )
    assert lines[2] == "Triangulum,,,,,,,,,,,Ha,300,,4,0,120,,1,no"
    (path.parent / "targets.csv").write_text(ran.stdout, encoding="utf-8")
    assert load_request(path).sha256 == whole.sha256
    assert darkfill("targets", path, "--csv").stdout == ran.stdout


def test_one_of_the_two_forms_is_asked_for(path: Path) -> None:
    ran = darkfill("targets", path, "--csv", "--json")
    assert (ran.code, ran.stdout) == (2, "")
    assert ran.stderr == "command line: --csv: cannot be given with --json; give one of the two\n"
