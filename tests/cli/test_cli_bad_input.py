"""The whole table of bad input through every command that reads it: code 2, the exact words, no file made."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.cli import season
from optimizer.night import Night
from tests.support.bad_input.cases import REQUESTS, SHOTS
from tests.support.bad_input.shots import GOOD_CSV
from tests.support.bad_input.table import GOOD, Case
from tests.support.bad_input.tally import TALLY
from tests.support.cli_cases import COMMANDS, content, darkfill

READ_A_REQUEST = (*COMMANDS, "season")


@pytest.fixture(autouse=True)
def _in_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(Night, "plan", None)  # none of these may come so far
    monkeypatch.setattr(season, "_planned", None)


@pytest.mark.parametrize("case", REQUESTS, ids=lambda case: case.name)
def test_bad_request(case: Case, tmp_path: Path) -> None:
    case.write(tmp_path)
    before = content(tmp_path)
    for command in READ_A_REQUEST:
        # a request without targets is good enough for `flip`
        if command == "flip" and any("targets: " in line for line in case.lines):
            continue
        ran = darkfill(command, case.input, "--json")
        assert ran.code == 2
        assert ran.stdout == ""
        assert ran.stderr.splitlines() == case.lines
    assert content(tmp_path) == before


@pytest.mark.parametrize("case", TALLY, ids=lambda case: case.name)
def test_nothing_is_counted_where_request_or_tally_is_bad(case: Case, tmp_path: Path) -> None:
    case.write(tmp_path)
    before = content(tmp_path)
    ran = darkfill("tally", ".", case.input)
    assert (ran.code, ran.stdout) == (2, "")
    assert ran.stderr.splitlines() == case.lines
    assert content(tmp_path) == before


@pytest.mark.parametrize("case", SHOTS, ids=lambda case: case.name)
def test_bad_shot_list(case: Case, tmp_path: Path) -> None:
    case.write(tmp_path)
    before = content(tmp_path)
    ran = darkfill("check", case.input)
    assert ran.code == 2
    assert ran.stdout == ""
    assert ran.stderr.splitlines() == case.lines
    assert content(tmp_path) == before


def test_bad_shot_lists_are_refused_by_export_in_the_same_words(tmp_path: Path) -> None:
    for case in SHOTS[:5]:
        case.write(tmp_path)
        ran = darkfill("export", case.input, "--as", "json", "-o", "-")
        assert (ran.code, ran.stdout, ran.stderr.splitlines()) == (2, "", case.lines)


def test_bad_request_beside_a_good_list(tmp_path: Path) -> None:
    (tmp_path / "request.toml").write_text(GOOD.replace("floor_deg = 25", "floor_deg = 95"))
    (tmp_path / "plan.csv").write_text(GOOD_CSV)
    ran = darkfill("check", "plan.csv", "request.toml")
    assert (ran.code, ran.stdout) == (2, "")
    assert ran.stderr.startswith("request.toml:9: site.floor_deg = 95")


@pytest.mark.parametrize("command", READ_A_REQUEST)
def test_missing_file(command: str, tmp_path: Path) -> None:
    ran = darkfill(command, "nowhere.toml")
    assert (ran.code, ran.stdout) == (2, "")
    assert ran.stderr.startswith("nowhere.toml: there is no such file; ")
    assert content(tmp_path) == {}


def test_every_command_was_tried() -> None:
    from optimizer.cli.app import app

    others = {"check", "chart", "export", "follow", "learn", "new", "replan", "schema", "tally"}
    assert {each.name for each in app.registered_commands} == {*READ_A_REQUEST, *others}
