"""The nights in plans/: requests without a warning, and stored with each the plan made from it, still right."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from optimizer.audit import audit_shot_list, audit_steps
from optimizer.export.csv_file import csv_text
from optimizer.export.json_file import json_text, read_json
from optimizer.export.shot_files import read_shots
from optimizer.models.shots import ShotList
from optimizer.reading.load import load_request
from optimizer.report.plan_view import plan_view
from optimizer.report.proof_words import shortfall
from optimizer.report.set_words import counts_sets
from optimizer.report.tables import show
from tests.support.docs_files import PLANS, README, fences, stored_list

each_night = pytest.mark.parametrize("folder", PLANS, ids=lambda folder: folder.name)


def stored(folder: Path) -> ShotList:
    return read_json(stored_list(folder))


@each_night
def test_stored_files_carry_the_evening(folder: Path) -> None:
    evening = load_request(folder / "request.toml").request.night.evening
    names = [f"request.{evening}.shots.{ending}" for ending in ("csv", "json")]
    assert sorted(path.name for path in (folder / "stored").iterdir() if ".old" not in path.name) == names


def test_there_are_three_nights() -> None:
    assert [folder.name for folder in PLANS] == ["first-night", "long-winter-night", "short-summer-night"]


@each_night
def test_what_a_run_writes_is_no_change_of_the_clone(folder: Path) -> None:
    """The README's first line writes beside a request; nothing that git keeps lies there."""
    if subprocess.run(["git", "rev-parse"], cwd=folder, capture_output=True, check=False).returncode:
        pytest.skip("this is no clone")
    night = stored_list(folder).name.removesuffix(".shots.json")
    left = [f"{night}.shots.json", f"{night}.shots.csv", f"{night}.html", f"{night}.shots.json.old"]
    left += [f"{night}.shots.csv.old.2", f"stored/{night}.shots.json.old"]
    ignored = subprocess.run(
        ["git", "check-ignore", "--no-index", *left, "request.toml", f"stored/{night}.shots.json"],
        cwd=folder, capture_output=True, text=True, check=False,
    ).stdout.splitlines()  # fmt: skip
    assert ignored == left
    kept = subprocess.run(["git", "ls-files"], cwd=folder, capture_output=True, text=True, check=True)
    assert [name for name in kept.stdout.splitlines() if "/" not in name and "toml" not in name] == []


@each_night
def test_request_loads_without_a_warning(folder: Path) -> None:
    assert load_request(folder / "request.toml").warnings == ()


@each_night
def test_plan_was_made_from_its_request(folder: Path) -> None:
    """Made anew by `darkfill plan plans/NIGHT/request.toml --out plans/NIGHT/stored` where the request or a default has changed."""
    loaded = load_request(folder / "request.toml")
    shots = stored(folder)
    assert shots.request == loaded.request
    assert shots.request_sha256 == loaded.sha256


@each_night
def test_plan_still_passes_its_audit(folder: Path) -> None:
    shots = stored(folder)
    report = audit_shot_list(shots)
    assert report.violations == ()
    assert shots.audit_report.violations == ()
    assert shots.audit_report.rules == report.rules
    if report.least_margin_min is not None:
        assert shots.audit_report.least_margin_min == pytest.approx(report.least_margin_min, abs=0.01)


@each_night
def test_table_holds_the_same_steps(folder: Path) -> None:
    steps = read_shots(stored_list(folder, "csv")).steps
    assert steps == stored(folder).steps
    assert audit_steps(load_request(folder / "request.toml").request, steps).violations == ()


@each_night
def test_files_are_as_darkfill_writes_them(folder: Path) -> None:
    shots = stored(folder)
    assert stored_list(folder).read_text(encoding="utf-8") == json_text(shots)
    assert stored_list(folder, "csv").read_text(encoding="utf-8") == csv_text(shots.steps)


@each_night
def test_plan_is_a_good_one(folder: Path) -> None:
    """Nobody learns from an example that was cut short.

    With filter sets by depth the bound mixes plans and stays up to 4 % above them (bound/README.md).
    """
    shots = stored(folder)
    assert shots.proof.status in ("optimal", "feasible")
    assert shots.proof.gap <= (0.04 if counts_sets(shots.request) else 0.01)
    assert shortfall(shots) is None


def shown(folder: Path, tmp_path: Path) -> list[str]:
    with (tmp_path / "shown.txt").open("w+", encoding="utf-8") as out:
        show(plan_view(stored(folder)), out)
        out.seek(0)
        return out.read().splitlines()


def test_excerpt_of_the_readme_is_what_the_command_shows(tmp_path: Path) -> None:
    """Its lines, one after the other, as the stored plan of the first night is shown."""
    excerpt = fences(README, "text")[0].splitlines()
    lines = shown(PLANS[0], tmp_path)
    assert len(excerpt) > 10
    at = 0
    for line in excerpt:
        if line.strip() in ("", "..."):
            continue
        assert line in lines[at:], line
        at = lines.index(line, at) + 1


def test_excerpt_of_the_table_is_what_the_file_holds() -> None:
    excerpt = fences(README, "text")[1].splitlines()
    lines = stored_list(PLANS[0], "csv").read_text(encoding="utf-8").splitlines()
    assert len(excerpt) > 3
    wanted = [line for line in excerpt if line.strip() != "..."]
    assert lines[: len(wanted)] == wanted


def test_first_night_crosses_the_meridian() -> None:
    """What README and file header say of each night."""
    assert any(step.kind == "flip" for step in stored(PLANS[0]).steps)
    assert len(stored(PLANS[0]).request.targets) == 3


def test_winter_night_is_as_told() -> None:
    """Eight targets, seven filters, a bright Moon for part of it."""
    shots = stored(PLANS[1])
    assert (len(shots.request.targets), len(shots.request.filters)) == (8, 7)
    assert shots.night.moon_illuminated > 0.5
    assert shots.night.moonrise_utc is not None
    assert shots.night.moonrise_utc > (shots.night.astronomical_dusk_utc or shots.created_utc)


def test_summer_night_is_as_told() -> None:
    """No astronomical night, and what is still possible."""
    shots = stored(PLANS[2])
    assert (shots.night.astronomical_dusk_utc, shots.night.astronomical_dawn_utc) == (None, None)
    assert shots.totals.open_shutter_s > 0
    reasons = {entry.filter: entry.reason for entry in shots.unplanned}
    assert reasons["L"] == "never_dark"


@each_night
def test_no_step_of_a_plan_knows_the_machine_it_was_made_on(folder: Path) -> None:
    """No folders of whoever made it in what is stored."""
    whole = stored_list(folder).read_text(encoding="utf-8")
    assert not re.search(r'"[^"]*(/(home|tmp|work|root)/|[A-Z]:\\\\)', whole)
