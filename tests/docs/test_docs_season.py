"""The page on seasons names every column and key that the models have, and the schema says what it says."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
from pathlib import Path
from typing import get_args

import pytest
from pydantic import BaseModel

from optimizer.export.season_files import COLUMNS
from optimizer.models.season import ProjectStep, SeasonProof, SeasonStep
from optimizer.reading.load import load_request
from optimizer.reading.season_file import read_season
from optimizer.report.season_view import season_view
from optimizer.report.season_words import proven_words
from optimizer.season.agreeing import rigs_given
from optimizer.season.shared import shared_projects
from optimizer.words import unit_of
from tests.support.cli_cases import darkfill
from tests.support.docs_files import README, ROOT, SEASON, fences, first_cells, marked
from tests.support.report_cases import text
from tests.support.season_cases import season
from tests.support.season_rigs_cases import two_rigs
from tests.support.season_words import TABLES, WORDS_FILE, words_text
from tests.support.speeds import deep


@pytest.mark.parametrize("mark", TABLES)
def test_table_names_the_keys_of_its_model_in_order(mark: str) -> None:
    fields = TABLES[mark].model_fields
    assert first_cells(SEASON, mark) == [field.alias or name for name, field in fields.items()]


def test_columns_of_the_csv_are_told_with_their_units() -> None:
    assert tuple(first_cells(SEASON, "season columns")) == COLUMNS
    rows = re.findall(r"^\| `(\w+)` \| ([^|]*) \|", marked(SEASON, "season columns"), re.MULTILINE)
    assert {name: unit.strip() for name, unit in rows} == {name: unit_of(name) for name in COLUMNS}


@pytest.mark.parametrize(
    ("model", "key", "mark"),
    [
        (SeasonProof, "by", "season proof"),
        (SeasonProof, "ended", "season proof"),
        (ProjectStep, "change", "season step"),
        (SeasonStep, "change", "season change"),
    ],
)
def test_values_of_a_closed_list_are_told_in_full(model: type[BaseModel], key: str, mark: str) -> None:
    row = re.search(rf"^\| `{key}` \| (.+) \|$", marked(SEASON, mark), re.MULTILINE)
    assert row
    assert re.findall(r"`(\w+)`:", row[1]) == list(get_args(model.model_fields[key].annotation))


def test_words_of_the_schema_are_those_of_the_page() -> None:
    """`python -m tests.support.season_words` writes them anew."""
    assert WORDS_FILE.read_text(encoding="utf-8") == words_text()


# --- the example --------------------------------------------------------------------------------------------

LONG = ROOT / "plans" / "long-season"


def test_example_is_a_season_of_25_projects_without_a_warning() -> None:
    loaded = load_request(LONG / "projects.toml")
    assert loaded.warnings == ()
    assert len(loaded.request.targets) == 25
    assert loaded.request.season is not None
    assert sum(goal.done for _, goal in loaded.request.goals()) > 300  # by its tally
    assert all(0 < goal.done <= goal.frames for _, goal in loaded.request.goals() if goal.done)


SHARED = ROOT / "plans" / "shared-season"
RIGS = ("long", "wide", "lines")


def test_example_of_three_rigs_shares_projects_and_goals_without_a_warning() -> None:
    loaded = [load_request(SHARED / f"{name}.toml") for name in RIGS]
    found = rigs_given(loaded, "season()")
    assert [each.name for each in found.rigs] == list(RIGS)
    assert found.lines == ()
    assert [line for each in loaded for line in each.warnings if line not in found.answered] == []
    projects, numbers = shared_projects([rig.in_all for rig in found.rigs])
    long, wide, lines = ({int(goal) for goal in own} for own in numbers)
    assert long & wide
    assert wide & lines
    assert not long & lines
    spanning = [own for own in map(set, projects.sets) if own <= lines and own & wide and not own <= wide]
    assert len(spanning) == 2  # filter sets that take both rigs
    assert sum(goal.done for goal in projects.goals) == 252  # each row of the tally once, less those rejected


def test_what_a_season_leaves_is_no_change_of_the_clone() -> None:
    if subprocess.run(["git", "rev-parse"], cwd=ROOT, capture_output=True, check=False).returncode:
        pytest.skip("this is no clone")
    left = [f"plans/long-season/projects.season.{ending}" for ending in ("json", "csv", "ics", "html")]
    left += [f"{name}.old" for name in left] + ["plans/long-season/projects.2026-10-05.shots.json"]
    left += [f"my-season/{name}" for name in ("projects.toml", "projects.season.json", "request.toml")]
    left += ["plans/shared-season/long.season.json", "my-rigs/long.toml", "my-rigs/long.season.ics"]
    kept = [
        "plans/long-season/projects.toml",
        "plans/long-season/in-hand.csv",
        "plans/shared-season/long.toml",
    ]
    ignored = subprocess.run(
        ["git", "check-ignore", "--no-index", *left, *kept], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.splitlines()  # fmt: skip
    assert ignored == left


# --- the story of the README --------------------------------------------------------------------------------


def story(mark: str = "season") -> list[list[str]]:
    (lines,) = fences(README, "sh", mark=mark)
    return [shlex.split(line) for line in lines.splitlines()]


def test_story_begins_with_new_and_ends_with_tonight() -> None:
    assert [(words[0], words[1]) for words in story()] == [
        ("darkfill", "new"),
        ("cp", "plans/long-season/projects.toml"),
        ("darkfill", "targets"),
        ("darkfill", "season"),
        ("darkfill", "plan"),
    ]


def test_sample_has_the_labels_and_columns_that_are_shown() -> None:
    """It is cut from a season of minutes: what the values mean is as now, the values are of that day."""
    shown = [" ".join(line.split()) for line in text(season_view(season())).splitlines()]
    (sample,) = fences(README, "text", mark="season sample")
    lines = sample.splitlines()
    labels = re.findall(r"^(\w+) {2,}\w|^(Proof) ", "\n".join(lines[: lines.index("")]), re.MULTILINE)
    told = ["".join(each) for each in labels]
    assert told == ["Plan", "Goals", "Proof"]
    assert all(any(line.startswith(f"{label} ") for line in shown) for label in told)
    proof = season().proof.model_copy(
        update={"value": 168.4 * 3600, "bound": 182.3 * 3600, "gap": 0.0826, "ended": "time"}
    )
    assert f"Proof {proven_words(proof)}" in " ".join(sample.split())
    heads = [" ".join(line.split()) for line in lines if line.startswith("project ")]
    assert len(heads) == 2
    assert set(heads) <= set(shown)
    projects = {target.name for target in load_request(LONG / "projects.toml").request.targets}
    rows = [
        line.split("  ")[0] for line in lines[lines.index("") :] if line and not line.startswith("project")
    ]
    assert rows
    assert set(rows) <= projects


@deep
def test_story_runs_line_by_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As written, but for a season of six nights and a single round."""
    shutil.copytree(LONG, tmp_path / "plans" / "long-season")
    monkeypatch.chdir(tmp_path)
    for program, *words in story():
        if program == "cp":
            for name in words[:-1]:
                shutil.copy(name, words[-1])
            continue
        few = ["--nights", "6", "--rounds", "1", "--cache", "cache"] if words[0] == "season" else []
        ran = darkfill(*words, *few)
        assert ran.code == 0, (words, ran.stderr)
    names = {path.name for path in (tmp_path / "my-season").iterdir()}
    assert {f"projects.season.{ending}" for ending in ("json", "csv", "ics", "html")} <= names
    assert "In view of the season" in ran.stdout


def test_sample_of_several_rigs_has_the_heads_and_words_that_are_shown() -> None:
    shown = [" ".join(line.split()) for line in text(season_view(two_rigs())).splitlines()]
    (sample,) = fences(README, "text", mark="rigs sample")
    lines = [" ".join(line.split()) for line in sample.splitlines()]
    assert lines[0].startswith(
        "Rigs the bottleneck is lines: one more clear night of it raises what all nights"
    )
    assert any(line.startswith("Rigs the bottleneck is ") for line in shown)
    for line in ("step finished brought", "project rigs"):
        assert line in lines
        assert line in shown
    for begins in ("one more rig like ", "without "):
        assert any(line.startswith(begins) for line in lines)
        assert any(line.startswith(begins) for line in shown)
    week = [re.sub(r"[0-9.]+", "#", line) for line in (*lines, *shown) if line.startswith("without the last")]
    assert week[0] == week[1]


@deep
def test_story_of_several_rigs_runs_line_by_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As written, but for a season of two nights and a single round."""
    shutil.copytree(SHARED, tmp_path / "plans" / "shared-season")
    monkeypatch.chdir(tmp_path)
    (copied, asked, tonight) = story("rigs")
    assert copied[:2] == ["cp", "-r"]
    shutil.copytree(copied[2], copied[3])
    few = ["--nights", "2", "--rounds", "1", "--engine", "threads", "--cache", "cache"]
    ran = darkfill(*asked[1:], *few)
    assert ran.code == 0, ran.stderr
    told = read_season(tmp_path / "my-rigs" / "long.season.json")
    assert [rig.name for rig in told.rigs] == list(RIGS)
    assert [night.rig for night in told.nights] == list(RIGS) * 2
    assert 0 < told.proof.value <= told.proof.bound
    ran = darkfill(*tonight[1:], "--time-limit", "3")
    assert ran.code == 0, ran.stderr
    assert "In view of the season" in ran.stdout
    assert "5 other nights of 3 rigs" in ran.stdout
