"""`darkfill plan`: what it writes, what it prints where, and what its exit code says."""

from __future__ import annotations

import json
import re
import tempfile
from pathlib import Path
from typing import Any

import pytest

from optimizer.export.json_file import read_json, shots_from_data
from optimizer.export.shot_files import read_shots
from optimizer.models.base import as_json_data
from optimizer.models.shots import ShotList, Violation
from optimizer.night import Night
from optimizer.reading.load import load_request
from tests.support.cli_cases import CLEAR, FILES, NEVER, content, darkfill, request

NIGHT = [f"request.2026-11-14.{ending}" for ending in ("shots.json", "shots.csv", "html")]


def test_plan_is_written_and_shown(tmp_path: Path) -> None:
    path = request(tmp_path)
    ran = darkfill("plan", path)
    assert ran.code == 0
    assert sorted(content(tmp_path)) == FILES
    assert ran.stdout.startswith("Night of 2026-11-14 at Heron Flat\n")
    assert "wrote" not in ran.stdout
    assert ran.stderr.splitlines() == [f"wrote {tmp_path / name}" for name in reversed(FILES[:2])]
    shots = read_json(tmp_path / "request.2026-11-14.shots.json")
    assert shots.audit_report.violations == ()
    assert shots.request_sha256 == load_request(path).sha256
    assert read_shots(tmp_path / "request.2026-11-14.shots.csv").steps == shots.steps


def test_json_is_the_one_thing_on_stdout_and_the_same_as_the_file(tmp_path: Path) -> None:
    ran = darkfill("plan", request(tmp_path), "--json")
    assert ran.code == 0
    shots = shots_from_data(ran.json, "stdout")
    assert shots == read_json(tmp_path / "request.2026-11-14.shots.json")
    assert all(line.startswith("wrote ") for line in ran.stderr.splitlines())


def test_other_folder_takes_the_files_and_the_stem_stays(tmp_path: Path) -> None:
    """A folder that is not there yet is made, and those above it."""
    path = request(tmp_path, name="tonight.v2.toml")
    assert darkfill("plan", path, "--out", tmp_path / "plans" / "autumn").code == 0
    assert sorted(content(tmp_path)) == [
        "plans/autumn/tonight.v2.2026-11-14.shots.csv",
        "plans/autumn/tonight.v2.2026-11-14.shots.json",
        "tonight.v2.toml",
    ]


def test_request_as_json_gives_the_same_plan(tmp_path: Path) -> None:
    path = request(tmp_path)
    assert darkfill("plan", path).code == 0
    (tmp_path / "same.json").write_text(json.dumps(as_json_data(load_request(path).request)))
    assert darkfill("plan", tmp_path / "same.json").code == 0
    assert (
        read_json(tmp_path / "same.2026-11-14.shots.json").steps
        == read_json(tmp_path / "request.2026-11-14.shots.json").steps
    )


def test_evening_and_time_limit_replace_those_of_the_file(tmp_path: Path) -> None:
    path = request(tmp_path, (CLEAR, ""), ("frames = 50", "frames = 2"))
    assert darkfill("plan", path, "--evening", "2026-12-01", "--time-limit", "1.5").code == 0
    assert sorted(content(tmp_path)) == [name.replace("11-14", "12-01") for name in FILES]
    shots = read_json(tmp_path / "request.2026-12-01.shots.json")
    assert (shots.night.evening, shots.request.night.evening.isoformat()) == ("2026-12-01", "2026-12-01")
    assert shots.request.aim.time_limit_s == 1.5
    assert shots.steps[0].start_utc.date().isoformat() in ("2026-12-01", "2026-12-02")
    assert shots.request_sha256 != load_request(path).sha256


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--evening", "Tonight"], "--evening = Tonight: is no date; write it like 2026-11-14, or tonight"),
        (["--evening", "2026-13-01"], "--evening = 2026-13-01"),
        (["--evening", "1850-01-01"], "1850-01-01"),
        (["--time-limit", "0"], "--time-limit = 0"),
        (["--time-limit", "-1"], "--time-limit = -1"),
        (["--time-limit", "nan"], "--time-limit = nan"),
        (["--time-limit", "inf"], "--time-limit = inf"),
        (["--time-limit", "86401"], "--time-limit = 86401"),
        (["--time-limit", "soon"], "--time-limit"),
        (["--out", "request.toml"], "--out = request.toml: request.toml is a file"),
        (["--out", "request.toml/below"], "--out = request.toml/below: request.toml is a file"),
        (["--frobnicate"], "--frobnicate"),
        (["and", "more"], "and"),
    ],
)
def test_bad_options_are_told_and_nothing_is_written(
    options: list[str], told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Night, "plan", never_called)
    monkeypatch.chdir(tmp_path)
    path = request(tmp_path)
    before = content(tmp_path)
    ran = darkfill("plan", path, *options)
    assert ran.code == 2
    assert ran.stdout == ""
    assert told in ran.stderr
    assert content(tmp_path) == before


def never_called(*args: Any, **kwargs: Any) -> ShotList:
    raise AssertionError("it searched though it could have known better")


def test_no_command_line_at_all_shows_help_and_is_no_success() -> None:
    assert darkfill("plan").code == 2
    ran = darkfill()
    assert ran.code == 2
    assert "Commands" in ran.stdout + ran.stderr


def test_nothing_to_schedule_has_its_own_code_and_writes_nothing(tmp_path: Path) -> None:
    path = request(tmp_path, (CLEAR, NEVER))
    ran = darkfill("plan", path)
    assert ran.code == 3
    assert sorted(content(tmp_path)) == ["request.toml"]
    assert "Left out tonight" in ran.stdout
    assert "nothing can be scheduled" in ran.stderr
    as_json = darkfill("plan", path, "--json")
    assert as_json.code == 3
    assert shots_from_data(as_json.json, "stdout").steps == ()
    assert sorted(content(tmp_path)) == ["request.toml"]


def test_nothing_to_schedule_leaves_no_older_list_that_looks_like_tonights(tmp_path: Path) -> None:
    path = request(tmp_path, (CLEAR, NEVER))
    others = {name.replace("14", "15"): b"another evening" for name in NIGHT} | {"request.html": b"anybody's"}
    written(tmp_path, others)
    written(tmp_path, dict.fromkeys(NIGHT, b"first"))
    ran = darkfill("plan", path)
    assert ran.code == 3
    aside = {f"{name}.old": b"first" for name in NIGHT}
    assert left(tmp_path) == {**others, **aside}
    assert ran.stderr.splitlines() == [
        "nothing can be scheduled on this night; no shot list was written",
        "renamed older files of the same evening: request.2026-11-14.shots.json.old, "
        "request.2026-11-14.shots.csv.old and request.2026-11-14.html.old",
    ]

    written(tmp_path, {NIGHT[1]: b"second"})  # one of them alone
    assert darkfill("plan", path, "--page").code == 3
    assert left(tmp_path) == {**others, **aside, f"{NIGHT[1]}.old.2": b"second"}


def written(folder: Path, contents: dict[str, bytes]) -> None:
    for name, held in contents.items():
        (folder / name).write_bytes(held)


def left(folder: Path) -> dict[str, bytes]:
    """All but the request."""
    return {name: held for name, held in content(folder).items() if name != "request.toml"}


def test_older_list_that_cannot_be_renamed_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = request(tmp_path, (CLEAR, NEVER))
    for name in FILES[:2]:
        (tmp_path / name).write_text("first")
    right = Path.rename

    def refused(self: Path, to: Path) -> Path:
        if self.name == "request.2026-11-14.shots.csv":
            raise PermissionError(13, "Permission denied")
        return right(self, to)

    monkeypatch.setattr(Path, "rename", refused)
    ran = darkfill("plan", path)
    assert ran.code == 3
    assert sorted(content(tmp_path)) == FILES  # both or neither
    assert "is of an earlier run and could not be renamed: Permission denied" in ran.stderr


def test_plan_that_is_only_not_found_is_not_called_impossible(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    right = Night.plan

    def unproven(*args: Any) -> ShotList:
        shots = right(*args)
        return shots.model_copy(update={"proof": shots.proof.model_copy(update={"bound": 300.0})})

    monkeypatch.setattr(Night, "plan", unproven)
    ran = darkfill("plan", request(tmp_path, (CLEAR, NEVER)))
    assert ran.code == 3
    assert "no plan was found, though one may exist, on this night; no shot list was written" in ran.stderr


def test_plan_that_fails_its_audit_is_not_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    right = Night.plan

    def wrong(*args: Any) -> ShotList:
        shots = right(*args)
        told = Violation(rule="contact", step=3, amount=12.0, unit="s", message="too near")
        audit = shots.audit_report.model_copy(update={"violations": (told,)})
        return shots.model_copy(update={"audit": audit})

    monkeypatch.setattr(Night, "plan", wrong)
    ran = darkfill("plan", request(tmp_path))
    assert ran.code == 4
    assert sorted(content(tmp_path)) == ["request.toml"]
    assert ran.stdout == ""
    assert "contact" in ran.stderr
    assert "12 s" in ran.stderr


def test_internal_failure_is_told_without_a_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*args: Any) -> ShotList:
        raise RuntimeError("the sky fell")

    monkeypatch.setattr(Night, "plan", broken)
    ran = darkfill("plan", request(tmp_path))
    assert ran.code == 5
    assert "the sky fell" in ran.stderr
    assert "defect of darkfill" in ran.stderr
    assert sorted(content(tmp_path)) == ["request.toml"]
    monkeypatch.setenv("DARKFILL_TRACEBACK", "1")
    with pytest.raises(AssertionError, match="the sky fell"):
        darkfill("plan", request(tmp_path))


def test_interrupt_before_there_is_a_plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*args: Any) -> ShotList:
        raise KeyboardInterrupt

    monkeypatch.setattr(Night, "plan", stopped)
    ran = darkfill("plan", request(tmp_path))
    assert ran.code == 130
    assert "nothing was written" in ran.stderr
    assert sorted(content(tmp_path)) == ["request.toml"]


def test_warnings_go_to_stderr(tmp_path: Path) -> None:
    ran = darkfill("plan", request(tmp_path, ("contact_min = 40", "")), "--json")
    assert ran.code == 0
    assert ran.json["schema"] == "darkfill-shots/1"
    (warning,) = [line for line in ran.stderr.splitlines() if line.startswith("warning: ")]
    assert "contact_min" in warning


def test_catalogue_names_are_echoed(tmp_path: Path) -> None:
    """A name can mean another thing than its owner thought: NGC 2244 is found as NGC 2239."""
    swaps = [("ra_deg = 52.297\ndec_deg = 31.31", 'object = "NGC 2244"')]
    ran = darkfill("windows", request(tmp_path, *swaps), "--json")
    assert ran.code == 0
    assert "NGC2239" in ran.stderr.replace(" ", "")


@pytest.mark.parametrize("name", ["request.2026-11-14.shots.json", "request.2026-11-14.shots.csv"])
def test_protected_shot_list_is_kept_and_found_out_before_the_search(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever protects a plan wants to keep it; a search of an hour must not end in that news."""
    path = request(tmp_path)
    (tmp_path / name).write_text("mine")
    (tmp_path / name).chmod(0o444)
    before = content(tmp_path)
    monkeypatch.setattr(Night, "plan", never_called)
    ran = darkfill("plan", path)
    assert ran.code == 2
    assert "write-protected" in ran.stderr
    assert content(tmp_path) == before


def test_folder_that_refuses_files_is_found_out_before_the_search(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder may be named whose disk is full, read-only or gone: asked by trying."""

    def refused(*args: Any, **kwargs: Any) -> None:
        raise PermissionError(13, "Permission denied")

    path = request(tmp_path)
    monkeypatch.setattr(Night, "plan", never_called)
    monkeypatch.setattr(tempfile, "TemporaryFile", refused)
    ran = darkfill("plan", path)
    assert ran.code == 2
    assert "Permission denied" in ran.stderr
    assert str(tmp_path) in ran.stderr
    assert sorted(content(tmp_path)) == ["request.toml"]


def test_relative_names_work_from_the_folder_itself(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    request(tmp_path)
    monkeypatch.chdir(tmp_path)
    ran = darkfill("plan", "request.toml")
    assert ran.code == 0
    assert ran.stderr.splitlines() == [
        "wrote request.2026-11-14.shots.json",
        "wrote request.2026-11-14.shots.csv",
    ]


def test_version_is_printed() -> None:
    ran = darkfill("--version")
    assert ran.code == 0
    assert re.fullmatch(r"darkfill \d+\.\d+\.\d+\n", ran.stdout)
