"""`darkfill export`: every form to a file or to stdout, never an unsafe list, never a lost or a partial file."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from optimizer.cli.export import Form
from optimizer.export.json_file import read_json, write_json
from optimizer.export.view_files import FORMS
from optimizer.models.shots import ShotList
from optimizer.views.view import view_of
from tests.support.cli_cases import called, content, darkfill, request
from tests.support.replan_nights import flipping_list, small_list
from tests.support.timeline_nights import by_itself, fork

FORM_NAMES = [str(form) for form in Form]


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A request with its plan."""
    made = tmp_path_factory.mktemp("planned")
    assert darkfill("plan", request(made)).code == 0
    return made


@pytest.fixture
def list_json(planned: Path) -> Path:
    return planned / "request.2026-11-14.shots.json"


@pytest.fixture
def list_csv(planned: Path) -> Path:
    return planned / "request.2026-11-14.shots.csv"


def test_every_form_is_written_by_its_writer() -> None:
    assert sorted(FORM_NAMES) == sorted(FORMS)


@pytest.mark.parametrize("form", FORM_NAMES)
def test_file_and_stdout_hold_the_same(
    form: str, list_json: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out.txt"
    ran = darkfill("export", list_json, "--as", form, "-o", out)
    assert (ran.code, ran.stdout, ran.stderr) == (0, "", f"wrote {out}\n")
    assert out.read_bytes() == FORMS[form](view_of(read_json(list_json))).encode()
    printed, said = tmp_path / "printed", tmp_path / "said"
    assert called(monkeypatch, printed, said, "export", list_json, "--as", form, "-o", "-") == 0
    assert printed.read_bytes() == out.read_bytes()
    assert said.read_text(encoding="utf-8") == ""


def test_stdout_is_utf_8_whatever_the_terminal_speaks(
    list_json: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bytes of a file are the same everywhere, so those of a pipe are too."""
    out = tmp_path / "out"
    args = ("export", list_json, "--as", "sheet", "-o", "-")
    assert called(monkeypatch, out, tmp_path / "said", *args, encoding="ascii") == 0
    assert "×" in out.read_text(encoding="utf-8")


def test_stdout_that_takes_nothing_is_told(
    list_json: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = tmp_path / "said"
    assert called(monkeypatch, "/dev/full", said, "export", list_json, "--as", "json", "-o", "-") == 2
    assert said.read_text(encoding="utf-8").startswith("stdout did not take all that was written: ")


def test_an_older_file_is_kept(list_json: Path, tmp_path: Path) -> None:
    out = tmp_path / "night.ics"
    out.write_text("mine", encoding="utf-8")
    ran = darkfill("export", list_json, "--as", "ics", "-o", out)
    assert ran.code == 0
    assert ran.stderr == f"the older night.ics is now night.ics.old\nwrote {out}\n"
    assert (tmp_path / "night.ics.old").read_text(encoding="utf-8") == "mine"
    again = darkfill("export", list_json, "--as", "ics", "-o", out)
    assert (again.code, again.stderr) == (0, f"{out} holds just this already\n")
    assert sorted(content(tmp_path)) == ["night.ics", "night.ics.old"]
    assert darkfill("export", list_json, "--as", "sheet", "-o", out).code == 0
    assert sorted(content(tmp_path)) == ["night.ics", "night.ics.old", "night.ics.old.2"]


def test_csv_needs_its_request_and_gives_the_same_blocks(
    list_json: Path, list_csv: Path, planned: Path
) -> None:
    missing = darkfill("export", list_csv, "--as", "blocks", "-o", "-")
    assert (missing.code, missing.stdout) == (2, "")
    assert "name its request too: export SHOTS REQUEST" in missing.stderr
    bare = darkfill("export", list_csv, planned / "request.toml", "--as", "blocks", "-o", "-")
    assert bare.code == 0
    assert bare.stdout == darkfill("export", list_json, "--as", "blocks", "-o", "-").stdout
    assert len(list(csv.DictReader(io.StringIO(bare.stdout)))) >= 1


def test_a_list_that_breaks_rules_is_not_handed_over(list_json: Path, tmp_path: Path) -> None:
    """Its file says that it was audited and found good; that is not taken on trust."""
    data = json.loads(list_json.read_text(encoding="utf-8"))
    assert data["audit"]["violations"] == []
    for step in data["steps"]:
        if step["kind"] == "expose":
            step["exposure_s"] += 1
    bad, out = tmp_path / "bad.json", tmp_path / "out.csv"
    bad.write_text(json.dumps(data), encoding="utf-8")
    out.write_text("mine", encoding="utf-8")
    for place in (out, "-"):
        ran = darkfill("export", bad, "--as", "blocks", "-o", place)
        assert (ran.code, ran.stdout) == (4, "")
        first, *found, last = ran.stderr.splitlines()
        assert first.startswith(f"{bad} breaks rules (")
        assert first.endswith(") and is not handed over; nothing was written:")
        assert len(found) == 5
        assert last.endswith(" more; darkfill check tells them all")
    assert out.read_text(encoding="utf-8") == "mine"
    assert sorted(content(tmp_path)) == ["bad.json", "out.csv"]


@pytest.mark.parametrize("form", FORM_NAMES)
def test_no_form_takes_an_unsafe_csv(form: str, list_csv: Path, planned: Path, tmp_path: Path) -> None:
    rows = list_csv.read_text(encoding="utf-8").splitlines()
    bad = tmp_path / "bad.csv"
    bad.write_text("\n".join(row for row in rows if ",centre," not in row) + "\n", encoding="utf-8")
    ran = darkfill("export", bad, planned / "request.toml", "--as", form, "-o", tmp_path / "out")
    assert ran.code == 4
    assert not (tmp_path / "out").exists()


def test_a_list_without_steps_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "empty.json"
    write_json(path, small_list().model_copy(update={"steps": ()}))
    ran = darkfill("export", path, "--as", "json", "-o", "-")
    assert (ran.code, ran.stdout) == (2, "")
    assert "the list has no steps; there is nothing to hand over" in ran.stderr


def test_what_is_missing_is_named(list_json: Path, planned: Path) -> None:
    ran = darkfill("export", list_json, "-o", "-")
    assert ran.code == 2
    assert "--as" in ran.stderr
    assert "blocks, steps, json, ics, sheet, obsplan" in ran.stderr
    ran = darkfill("export", list_json, "--as", "json")
    assert (ran.code, ran.stderr) == (
        2, "command line: --out: is missing; name a file to write, or - for stdout\n",
    )  # fmt: skip
    assert darkfill("export", list_json, "--as", "xml", "-o", "-").code == 2
    ran = darkfill("export", list_json, planned / "request.toml", "--as", "json", "-o", "-")
    assert ran.code == 2
    assert "is not needed; a JSON list carries its own" in ran.stderr


def test_places_that_cannot_be_written_are_refused_before_anything_else(
    list_json: Path, tmp_path: Path
) -> None:
    before = list_json.read_bytes()
    ran = darkfill("export", list_json, "--as", "json", "-o", list_json)
    assert ran.code == 2
    assert "is the shot list itself; name another file" in ran.stderr
    assert list_json.read_bytes() == before
    ran = darkfill("export", tmp_path / "none.json", "--as", "json", "-o", tmp_path)
    assert ran.code == 2
    assert "this is a folder, not a file" in ran.stderr
    ran = darkfill("export", list_json, "--as", "json", "-o", tmp_path / "no" / "out.json")
    assert ran.code == 2
    assert "there is no such folder" in ran.stderr
    assert content(tmp_path) == {}


def test_counts_that_grew_since_do_not_make_a_csv_unsafe(tmp_path: Path) -> None:
    """The tally has this night's subs by now; the list beside it keeps what it began with."""
    path = request(
        tmp_path,
        ('schema = "darkfill-request/1"\n', 'schema = "darkfill-request/1"\ntally = "in-hand.csv"\n'),
    )
    assert darkfill("plan", path).code == 0
    rows = ["target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source"]
    made = read_json(tmp_path / "request.2026-11-14.shots.json")
    for target, goal in made.request.goals():
        rows.append(
            f"{target.name},{goal.filter},{goal.exposure_s:g},,,{goal.binning},2026-11-14,{goal.frames},0,"
        )
    (tmp_path / "in-hand.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    ran = darkfill("export", tmp_path / "request.2026-11-14.shots.csv", path, "--as", "blocks", "-o", "-")
    assert ran.code == 0, ran.stderr
    assert "the subs in hand have changed since this list was made" in ran.stderr


@pytest.mark.parametrize("make", [small_list, fork, flipping_list, by_itself], ids=lambda make: make.__name__)
def test_lists_of_every_mount_are_handed_over(make: Callable[[], ShotList], tmp_path: Path) -> None:
    path = tmp_path / "a.shots.json"
    write_json(path, make())
    for form in FORM_NAMES:
        ran = darkfill("export", path, "--as", form, "-o", tmp_path / form)
        assert (ran.code, ran.stdout) == (0, ""), ran.stderr
    assert len(read_json(path).steps) + 1 == len(
        (tmp_path / "steps").read_text(encoding="utf-8").splitlines()
    )


def test_a_list_that_was_replanned_is_handed_over(tmp_path: Path) -> None:
    path = tmp_path / "a.2026-11-14.shots.json"
    write_json(path, small_list())
    sub = [step for step in small_list().steps if step.kind == "expose"][2]
    now = f"{sub.start_utc + dt.timedelta(hours=1, seconds=20):%H:%M:%S}"
    assert darkfill("replan", path, "--now", now, "--time-limit", 0.3).code == 0
    (again,) = tmp_path.glob("*.replan-*.shots.json")
    ran = darkfill("export", again, "--as", "json", "-o", "-")
    assert ran.code == 0, ran.stderr
    assert ran.json["visits"][0]["arrival"] == "there"
    assert ran.json["plan"]["continues_sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()


def test_an_out_too_long_for_any_file_is_refused(list_json: Path, tmp_path: Path) -> None:
    ran = darkfill("export", list_json, "--as", "ics", "-o", tmp_path / ("a" * 300))
    assert (ran.code, ran.stdout) == (2, "")
    assert "the name is too long; name it shorter" in ran.stderr
