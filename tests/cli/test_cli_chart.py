"""`darkfill chart` and `plan --page`: which files appear, and how each refusal is told."""

from __future__ import annotations

import json
import shutil
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from tests.support.cli_cases import FILES, content, darkfill, request

PLAN = Path(__file__).parents[2] / "plans" / "first-night"


@pytest.fixture
def shots(tmp_path: Path) -> Path:
    """A shot list of its own folder, to be drawn and spoilt."""
    shutil.copy(PLAN / "stored" / "request.2026-10-10.shots.json", tmp_path)
    return tmp_path / "request.2026-10-10.shots.json"


def test_page_lies_beside_the_list_where_nothing_is_said(shots: Path) -> None:
    ran = darkfill("chart", shots)
    page = shots.with_name("request.2026-10-10.html")
    assert (ran.code, ran.stdout, ran.stderr) == (0, "", f"wrote {page}\n")
    assert page.read_text(encoding="utf-8").lower().startswith("<!doctype html>")
    assert sorted(content(shots.parent)) == ["request.2026-10-10.html", "request.2026-10-10.shots.json"]


@pytest.mark.parametrize(
    ("ending", "start"),
    [("svg", b"<svg "), ("png", b"\x89PNG\r\n"), ("pdf", b"%PDF-"), ("HTML", b"<!doctype")],
)
def test_ending_says_what_is_drawn(ending: str, start: bytes, shots: Path) -> None:
    out = shots.with_name(f"night.{ending}")
    assert darkfill("chart", shots, "-o", out).code == 0
    assert out.read_bytes().startswith(start)


def test_pdf_is_one_sheet_of_a4_landscape(shots: Path) -> None:
    out = shots.with_name("night.pdf")
    darkfill("chart", shots, "-o", out)
    data = out.read_bytes()
    assert data.count(b"/Type /Page\n") + data.count(b"/Type/Page/") <= 1
    assert b"841.89" in data


@pytest.mark.parametrize(("theme", "ground"), [("light", "#ffffff"), ("dark", "#12161b"), ("red", "#000000")])
def test_theme_colours_the_picture(theme: str, ground: str, shots: Path) -> None:
    out = shots.with_name("night.svg")
    assert darkfill("chart", shots, "-o", out, "--theme", theme).code == 0
    assert f".ground{{fill:{ground}}}" in out.read_text(encoding="utf-8")


def test_theme_is_what_a_page_opens_with(shots: Path) -> None:
    darkfill("chart", shots, "--theme", "red")
    assert '<html lang="en" data-theme="red">' in shots.with_name("request.2026-10-10.html").read_text(
        encoding="utf-8"
    )


def test_table_needs_its_request(tmp_path: Path) -> None:
    out = tmp_path / "night.svg"
    table = PLAN / "stored" / "request.2026-10-10.shots.csv"
    ran = darkfill("chart", table, "-o", out)
    assert ran.code == 2
    assert "name its request too: chart SHOTS REQUEST" in ran.stderr
    assert content(tmp_path) == {}
    assert darkfill("chart", table, PLAN / "request.toml", "-o", out).code == 0
    assert len(ET.parse(out).findall(".//*[@data-i]")) == len(table.read_text().splitlines()) - 1


def test_list_without_steps_is_drawn(shots: Path) -> None:
    data = json.loads(shots.read_text())
    shots.write_text(json.dumps({**data, "steps": []}))
    for ending in ("html", "svg"):
        assert darkfill("chart", shots, "-o", shots.with_name(f"night.{ending}")).code == 0


@pytest.mark.parametrize("name", ["night", "night.jpg", "night.svg.gz"])
def test_unknown_ending_is_refused(name: str, shots: Path) -> None:
    ran = darkfill("chart", shots, "-o", shots.with_name(name))
    assert ran.code == 2
    assert "end it in .html, .svg, .png, .pdf" in ran.stderr
    assert sorted(content(shots.parent)) == ["request.2026-10-10.shots.json"]


def test_missing_list_is_refused(tmp_path: Path) -> None:
    ran = darkfill("chart", tmp_path / "nowhere.json")
    assert (ran.code, ran.stdout) == (2, "")
    assert "there is no such file" in ran.stderr
    assert content(tmp_path) == {}


def test_missing_folder_is_refused_before_anything_is_drawn(shots: Path) -> None:
    ran = darkfill("chart", shots, "-o", shots.parent / "nowhere" / "night.html")
    assert ran.code == 2
    assert "there is no such folder" in ran.stderr


def test_unreadable_list_leaves_the_old_page_alone(shots: Path) -> None:
    page = shots.with_name("request.2026-10-10.html")
    page.write_text("old")
    shots.write_text('{"schema": "darkfill-shots/1"}')
    ran = darkfill("chart", shots)
    assert ran.code == 2
    assert page.read_text() == "old"


@pytest.mark.parametrize("ending", ["png", "pdf"])
def test_missing_package_is_told_with_its_remedy(
    ending: str, shots: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "vl_convert", None)
    ran = darkfill("chart", shots, "-o", shots.with_name(f"night.{ending}"))
    assert ran.code == 2
    assert "pip install 'darkfill[print]'" in ran.stderr
    assert sorted(content(shots.parent)) == ["request.2026-10-10.shots.json"]


def test_plan_draws_its_page(tmp_path: Path) -> None:
    ran = darkfill("plan", request(tmp_path), "--page")
    assert ran.code == 0
    assert sorted(content(tmp_path)) == sorted([*FILES, "request.2026-11-14.html"])
    assert f"wrote {tmp_path / 'request.2026-11-14.html'}" in ran.stderr
    page = (tmp_path / "request.2026-11-14.html").read_text(encoding="utf-8")
    shots = json.loads((tmp_path / "request.2026-11-14.shots.json").read_text())
    assert f"All {len(shots['steps'])} steps" in page


def test_plan_tells_before_the_search_that_its_page_cannot_be_written(tmp_path: Path) -> None:
    path = request(tmp_path)
    (tmp_path / "request.2026-11-14.html").mkdir()
    ran = darkfill("plan", path, "--page")
    assert ran.code == 2
    assert "this is a folder, not a file" in ran.stderr
    assert not (tmp_path / "request.2026-11-14.shots.json").exists()


@pytest.mark.parametrize("command", ["chart", "check"])
@pytest.mark.parametrize("ending", ["toml", "json"])
def test_request_in_place_of_a_list_is_to_be_planned_first(command: str, ending: str, tmp_path: Path) -> None:
    """The command that is named makes the list that is asked for."""
    path = request(tmp_path)
    if ending == "json":
        path = path.with_suffix(".json")
        path.write_text('{"schema": "darkfill-request/1"}')
    ran = darkfill(command, path)
    assert (ran.code, ran.stdout) == (2, "")
    assert ran.stderr == (
        f'{path}:1: schema = "darkfill-request/1": this is a request, not a shot list; '
        f"plan it first: darkfill plan {path}, then name the shot list that it writes\n"
    )
    assert [name for name in content(tmp_path) if name.endswith(".html")] == []
