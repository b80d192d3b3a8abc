"""Files by evening: names, older plans of the same evening, other evenings, as the command line has them."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path, PurePosixPath, PureWindowsPath

import pytest

from optimizer.cli.plan_files import PlanFiles
from optimizer.errors import OutputError
from optimizer.export.json_file import read_json
from optimizer.export.shot_files import night_name, page_path, shot_paths
from tests.support.cli_cases import CLEAR, content, darkfill, request

NAMES = [f"request.2026-11-14.{ending}" for ending in ("shots.json", "shots.csv", "html")]
FEWER = ("frames = 50", "frames = 3")
RENAMED = "renamed older files of the same evening: "


def left(folder: Path) -> dict[str, bytes]:
    """All but the request."""
    return {name: held for name, held in content(folder).items() if name != "request.toml"}


def older(held: dict[str, bytes], number: str = "") -> dict[str, bytes]:
    return {f"{name}.old{number}": each for name, each in held.items()}


# --- names -------------------------------------------------------------------------------------------------


def test_stem_with_dots_is_kept_whole() -> None:
    name = night_name(Path("plans/tonight.v2.toml"), dt.date(2026, 11, 4))
    paths = shot_paths(Path("out"), name)
    assert [path.name for path in (*paths, page_path(paths[0]))] == [
        "tonight.v2.2026-11-04.shots.json",
        "tonight.v2.2026-11-04.shots.csv",
        "tonight.v2.2026-11-04.html",
    ]
    assert page_path(Path("2026-11-04.shots.csv")).name == "2026-11-04.html"


def test_names_are_good_on_windows_too(tmp_path: Path) -> None:
    """None of the characters that it refuses, no blank or dot at the end; a drive's colon would be a path."""
    path = request(tmp_path)
    for _ in range(3):
        assert darkfill("plan", path, "--page").code == 0
    names = left(tmp_path)
    assert len(names) == 9
    for name in names:
        assert re.fullmatch(r"[a-z0-9.-]+[a-z0-9]", name)
        assert PureWindowsPath(name).name == PurePosixPath(name).name == name


# --- a second plan of the same evening ---------------------------------------------------------------------


def test_second_plan_keeps_the_first_one_byte_for_byte_and_says_so_in_one_line(tmp_path: Path) -> None:
    path = request(tmp_path)
    plain = darkfill("plan", path, "--page")
    assert RENAMED not in plain.stderr
    first = left(tmp_path)
    assert sorted(first) == sorted(NAMES)
    request(tmp_path, FEWER)
    ran = darkfill("plan", path, "--page")
    assert ran.code == 0
    assert ran.stderr.splitlines() == [
        f"{RENAMED}{NAMES[0]}.old, {NAMES[1]}.old and {NAMES[2]}.old",
        *(f"wrote {tmp_path / name}" for name in NAMES),
    ]
    both = left(tmp_path)
    second = {name: both[name] for name in NAMES}
    assert both == {**second, **older(first)}
    assert all(second[name] != first[name] for name in NAMES)
    assert read_json(tmp_path / NAMES[0]).steps
    assert darkfill("plan", path, "--page").code == 0
    three = left(tmp_path)
    assert {name: held for name, held in three.items() if ".old" in name} == older(first) | older(
        second, ".2"
    )


def test_page_of_the_older_plan_is_not_left_beside_the_new_one(tmp_path: Path) -> None:
    """It tells other steps; with or without a page of its own the new plan puts it aside."""
    path = request(tmp_path)
    darkfill("plan", path, "--page")
    first = left(tmp_path)
    ran = darkfill("plan", path)
    assert sorted(left(tmp_path)) == sorted([*NAMES[:2], *older(first)])
    assert f"and {NAMES[2]}.old\n" in ran.stderr


def test_files_of_one_plan_get_one_number(tmp_path: Path) -> None:
    path = request(tmp_path)
    (tmp_path / f"{NAMES[2]}.old").write_text("a page alone")
    darkfill("plan", path)
    first = left(tmp_path)
    darkfill("plan", path)
    kept = {name: held for name, held in left(tmp_path).items() if ".old" in name}
    page = f"{NAMES[2]}.old"
    assert kept == {page: first.pop(page), **older(first, ".2")}


def test_another_evening_touches_none_of_it(tmp_path: Path) -> None:
    path = request(tmp_path, (CLEAR, ""), ("frames = 50", "frames = 2"))
    darkfill("plan", path, "--page")
    darkfill("plan", path)
    before = left(tmp_path)
    ran = darkfill("plan", path, "--evening", "2026-11-15", "--page")
    assert ran.code == 0
    assert RENAMED not in ran.stderr
    after = left(tmp_path)
    new = [name.replace("11-14", "11-15") for name in NAMES]
    assert {name: held for name, held in after.items() if name not in new} == before
    assert read_json(tmp_path / new[0]).request.night.evening == dt.date(2026, 11, 15)


def test_relief_of_the_same_run_is_no_second_plan(tmp_path: Path) -> None:
    path = request(tmp_path, ("frames = 50", "frames = 500"))
    ran = darkfill("plan", path, "--relief", "--page")
    assert sorted(left(tmp_path)) == sorted(NAMES)
    assert RENAMED not in ran.stderr
    assert read_json(tmp_path / NAMES[0]).unplanned[0].relief is not None


def test_link_goes_on_leading_to_the_newest_list(tmp_path: Path) -> None:
    """Some put the list where their acquisition software looks for it."""
    (tmp_path / "shared").mkdir()
    path = request(tmp_path)
    darkfill("plan", path)
    aim = tmp_path / "shared" / "list.json"
    (tmp_path / NAMES[0]).rename(aim)
    (tmp_path / NAMES[0]).symlink_to(aim)
    first = aim.read_bytes()
    assert darkfill("plan", request(tmp_path, FEWER)).code == 0
    assert (tmp_path / NAMES[0]).is_symlink()
    assert aim.read_bytes() != first
    assert (tmp_path / f"{NAMES[0]}.old").read_bytes() == first


def test_what_cannot_be_written_is_found_before_anything_is_renamed(tmp_path: Path) -> None:
    for name in NAMES[:2]:
        (tmp_path / name).write_text("mine")
    (tmp_path / NAMES[1]).chmod(0o444)
    before = content(tmp_path)
    with pytest.raises(OutputError, match="write-protected"):
        PlanFiles(tmp_path, "request.2026-11-14", with_page=False)
    assert content(tmp_path) == before
