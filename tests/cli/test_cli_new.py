"""`darkfill new`: four files or none, nothing written over, and what to do next."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from optimizer.reading import evening
from optimizer.reading.load import load_request
from tests.support.cli_cases import content, darkfill

NAMES = ["darkfill-request.schema.json", "request.toml", "rig.toml", "site.toml"]


@pytest.fixture(autouse=True)
def _in_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(evening, "utc_now", lambda: dt.datetime(2026, 11, 15, 3, tzinfo=dt.UTC))


def test_it_makes_the_folder_and_says_what_is_next(tmp_path: Path) -> None:
    ran = darkfill("new", "nights/mine")
    folder = Path("nights/mine")
    files = [str(folder / name) for name in ("request.toml", "site.toml", "rig.toml", NAMES[0])]
    assert (ran.code, ran.stdout) == (0, "")
    assert ran.stderr.splitlines() == [
        f"wrote {files[0]}, {files[1]}, {files[2]} and {files[3]}",
        f"1. Plan it as it stands: darkfill plan {files[0]} --evening tonight",
        f"2. Write your site into {files[1]} and your rig into {files[2]}; measure contact by hand, by day, for contact_min.",
        f"3. Do the numbers of the mount fit together? darkfill flip {files[0]}",
    ]
    assert sorted(path.name for path in (tmp_path / folder).iterdir()) == NAMES
    assert load_request(tmp_path / files[0]).request.night.evening == dt.date(2026, 11, 14)  # at 04:00 there
    assert (folder / NAMES[0]).read_text() == darkfill("schema", "request").stdout


def test_without_a_folder_it_writes_here(tmp_path: Path) -> None:
    assert darkfill("new").code == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == NAMES


def test_a_folder_with_other_files_is_taken(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    assert darkfill("new", ".").code == 0
    assert (tmp_path / "mine.txt").read_text() == "mine"


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_written_over(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text("mine")
    before = content(tmp_path)
    ran = darkfill("new")
    assert (ran.code, ran.stdout) == (2, "")
    assert (
        ran.stderr
        == f"{name}: is there already; nothing was written; name another folder, or move it away first\n"
    )
    assert content(tmp_path) == before


def test_all_that_is_there_is_named() -> None:
    assert darkfill("new").code == 0
    ran = darkfill("new")
    assert (ran.code, len(ran.stderr.splitlines())) == (2, 4)


def test_a_link_that_leads_nowhere_is_there_too(tmp_path: Path) -> None:
    (tmp_path / "rig.toml").symlink_to(tmp_path / "nowhere")
    assert darkfill("new").code == 2
    assert [path.name for path in tmp_path.iterdir()] == ["rig.toml"]


def test_a_file_in_the_way_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("mine")
    for name in ("mine", "mine/deeper"):
        ran = darkfill("new", name)
        assert (ran.code, ran.stdout) == (2, "")
        assert ran.stderr == f"command line: DIR = {name}: mine is a file; name another folder\n"


def test_where_writing_fails_no_folder_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from optimizer.errors import InputProblem, OutputError
    from optimizer.export import atomic

    def full(contents: dict[Path, bytes]) -> None:
        raise OutputError(
            [InputProblem("request.toml", "", "cannot be written: the disk is full", "make room")]
        )

    monkeypatch.setattr(atomic, "write_group", full)
    ran = darkfill("new", "deep/deeper")
    assert (ran.code, ran.stderr) == (2, "request.toml: cannot be written: the disk is full; make room\n")
    assert content(tmp_path) == {}
    assert not (tmp_path / "deep").exists()


def test_its_commands_can_be_pasted_where_names_have_blanks() -> None:
    ran = darkfill("new", "my night")
    assert "darkfill flip 'my night/request.toml'" in ran.stderr


def test_schema_wants_a_kind_that_it_knows() -> None:
    ran = darkfill("schema", "night")
    assert (ran.code, ran.stdout) == (2, "")
    assert "request" in ran.stderr


def test_a_name_too_long_for_any_file_is_refused(tmp_path: Path) -> None:
    ran = darkfill("new", "a" * 300)
    assert (ran.code, ran.stdout) == (2, "")
    assert ran.stderr.rstrip().endswith("cannot be made (File name too long); name another folder")
    assert content(tmp_path) == {}
