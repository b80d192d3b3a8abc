"""`darkfill learn`: a simulated night through the whole command, in words and in JSON."""

from __future__ import annotations

import datetime as dt
import json
import random
import shutil
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from optimizer import InputError, Night, learn, load, save
from optimizer.cli.progress import Learning
from optimizer.models.base import as_json_data
from optimizer.report.learn_facts import LearnReport
from tests.support.cli_cases import Ran, content, darkfill
from tests.support.replan_nights import DATA, small_list
from tests.support.run_night import Happened, run_night

AFTERWARDS = dt.timedelta(hours=4)
SUBS = [step.step for step in small_list().steps if step.kind == "expose"]
LOST, CUT = SUBS[10], SUBS[50]


@cache
def slow_night() -> Happened:
    """A night whose dithers take 20 s and whose subs 4 s more than planned, one file lost, one cut short."""
    return run_night(
        small_list(),
        random.Random(3),
        more={"dither": 8.0, "expose": 4.0},
        jitter=0.02,
        lost=(LOST,),
        damaged={CUT: "cut_short"},
    )


def write_home(folder: Path, happened: Happened | None = None, **changes: Any) -> Path:
    """A request and the images of its night, beside its list; the command is called from there."""
    data = {**DATA, "night": {**DATA["night"], "evening": "2026-11-14"}, **changes}
    (folder / "request.json").write_text(json.dumps(data), encoding="utf-8")
    save(small_list(), folder / "night.shots.json")
    happened = happened or slow_night()
    (folder / "images").mkdir()
    happened.write_until(folder / "images", small_list().steps[-1].end_utc + AFTERWARDS)
    return folder


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return write_home(tmp_path)


def learn_by(*args: object) -> Ran:
    """The command on that folder, its searches short."""
    return darkfill("learn", "images", *args, "--time-limit", 0.5)


def changes_of(report: LearnReport) -> dict[str, tuple[float, float]]:
    return {each.key: (each.old, each.new) for each in report.changes}


def test_a_slow_night_is_told_with_the_lines_to_change_and_what_they_bring(home: Path) -> None:
    before = content(home)
    ran = learn_by("request.json", "--shots", "night.shots.json")
    assert ran.code == 0, ran.stderr
    words = " ".join(ran.stdout.split())
    assert ran.stdout.startswith("What the rig really takes, by 80 subs of 1 night (2026-11-14)\n")
    assert "download and overhead 3.0 s 7.0 s" in words
    assert "By the list: gaps with a dither." in words
    assert "Damaged: 1 file, it is cut short" in words
    assert "camera.overhead_s 0 s 4 s" in words
    assert "--write rig-learned.toml makes a file of these numbers that the request can include." in words
    assert "by the request's numbers, as planned 82 4 h 10 min 4 h 10 min" in words
    assert "If acts last as learned, the list by the request's numbers loses" in words
    assert "81 of the 82 subs of the list have a file in the folder." in words
    assert f"cannot be told apart: step {LOST}" in words
    assert f"step {CUT}" in words
    assert content(home) == before


def test_json_has_each_number_near_the_truth_and_is_what_the_function_gives(home: Path) -> None:
    ran = learn_by("request.json", "--shots", "night.shots.json", "--json")
    assert ran.code == 0, ran.stderr
    assert ran.json["schema"] == "darkfill-learn/1"
    rows = {tuple(act["acts"]): act for act in ran.json["acts"] if act["filter"] is None}
    for act, truth in (("between_subs", 7.0), ("dither", 20.0)):
        row = rows[(act,)]
        assert row["median_s"] == pytest.approx(truth, rel=0.1)
        assert row["low_s"] <= row["median_s"] <= row["high_s"]
        assert row["planned_s"] == {"between_subs": 3, "dither": 12}[act]
        assert row["count"] >= 20
    for row in rows.values():
        assert (row["median_s"] is None) == (row["unknown"] is not None)
    told: list[str] = []
    files: list[tuple[int, int]] = []
    report = learn(
        "images",
        "request.json",
        shots=small_list(),
        time_limit_s=0.5,
        tell=lambda *each: files.append(each),
        doing=told.append,
    )
    assert as_json_data(report) == ran.json
    assert files[-1] == (81, 81)
    assert told[-1] == "the night with the learned numbers"
    assert changes_of(report)["camera.overhead_s"] == pytest.approx((0, 4), abs=0.4)
    assert changes_of(report)["camera.dither_s"] == pytest.approx((12, 20), abs=2)


def test_without_the_list_nothing_is_said_of_it(home: Path) -> None:
    ran = learn_by("request.json", "--json")
    assert (ran.code, ran.json["parted"]) == (0, None)
    assert ran.json["changes"]


def test_a_night_on_which_nothing_can_be_shot_is_told(home: Path) -> None:
    night = {**DATA["night"], "clear": [["2026-11-14T13:00:00Z", "2026-11-14T13:40:00Z"]]}
    data = {**json.loads((home / "request.json").read_text()), "night": night}
    (home / "day.json").write_text(json.dumps(data))
    ran = learn_by("day.json")
    assert ran.code == 0
    words = " ".join(ran.stdout.split())
    assert (
        "On the night of 2026-11-14 neither plan has a sub: what the changes bring it cannot be told."
        in words
    )


def test_the_written_file_counts_once_it_is_included(home: Path) -> None:
    (home / "rig-learned.toml").write_text("# mine\n", encoding="utf-8")
    kept = {name: held for name, held in content(home).items() if name != "rig-learned.toml"}
    ran = learn_by("request.json", "--write", "rig-learned.toml")
    assert ran.code == 0
    assert ran.stderr.splitlines() == [
        "renamed an older file: rig-learned.toml.old",
        "wrote rig-learned.toml",
    ]
    after = content(home)
    assert after.pop("rig-learned.toml.old") == b"# mine\n"
    learned = after.pop("rig-learned.toml").decode()
    assert after == kept
    words = " ".join(ran.stdout.split())
    assert 'after all other files: "include": ["rig-learned.toml"]' in words
    assert "camera.dither_s (request.json" in words  # it stands in the request itself
    assert (
        "stands in the request itself, which wins over it: take this line out, or change it there." in words
    )
    assert "learned from 80 subs of 1 night (2026-11-14)." in learned
    data = {**json.loads((home / "request.json").read_text()), "include": ["rig-learned.toml"]}
    (home / "request.json").write_text(json.dumps(data))
    camera = load("request.json").request.camera
    assert (camera.overhead_s, camera.dither_s) == pytest.approx((4, 12), abs=0.4)
    again = learn_by("request.json", "--write", "rig-learned.toml")
    assert again.code == 2
    assert "the request is read from it, and nothing is written into a request" in again.stderr


def test_a_night_that_went_as_planned_changes_nothing_and_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(write_home(tmp_path, run_night(small_list(), random.Random(1), jitter=0.02)))
    before = content(tmp_path)
    ran = learn_by("request.json", "--shots", "night.shots.json", "--write", "new.toml")
    assert ran.code == 0
    words = " ".join(ran.stdout.split())
    assert "Nothing to change: no act that is known takes surely longer or shorter than planned" in words
    assert "None of these was 30 s late or more." in words
    assert "value" not in words
    assert ran.stderr == "no number to write: no file was written\n"
    assert content(tmp_path) == before


def test_nights_of_several_dates_in_one_folder_are_learnt_from_together(home: Path) -> None:
    other = run_night(small_list(), random.Random(9), more={"dither": 8.0, "expose": 4.0}, jitter=0.02)
    folder = home / "images" / "earlier"
    folder.mkdir()
    other.write_until(folder, small_list().steps[-1].end_utc + AFTERWARDS)
    for file in folder.iterdir():
        file.write_bytes(
            file.read_bytes().replace(b"2026-11-14T", b"2026-11-12T").replace(b"2026-11-15T", b"2026-11-13T")
        )
    report = learn("images", "request.json", shots="night.shots.json", time_limit_s=0.5)
    assert report.evenings == ("2026-11-12", "2026-11-14")
    assert report.subs == 162
    assert changes_of(report)["camera.overhead_s"] == pytest.approx((0, 4), abs=0.4)
    assert report.parted is not None
    assert (report.parted.taken, report.parted.others) == (81, ())


def test_copies_of_images_are_no_more_subs_to_learn_from(home: Path) -> None:
    once = learn("images", "request.json", time_limit_s=0.5)
    shutil.copytree(home / "images", home / "copies")
    (home / "copies").rename(home / "images" / "copies")
    twice = learn("images", "request.json", time_limit_s=0.5)
    assert (twice.subs, twice.pairs, twice.acts) == (once.subs, once.pairs, once.acts)
    assert twice.files == 2 * once.files


# --- what cannot be learnt from ------------------------------------------------------------------------------


def test_a_folder_without_a_sub_of_a_goal_is_told_with_what_it_holds(home: Path) -> None:
    for file in (home / "images").iterdir():
        file.unlink()
    ran = learn_by("request.json")
    assert (ran.code, ran.stdout) == (2, "")
    assert ran.stderr == (
        "images: there is no FITS file in the folder; name the folder that holds the images of the night\n"
    )
    (home / "images" / "a.fits").write_bytes(b"no header at all")
    ran = learn_by("request.json", "--write", "new.toml")
    assert (ran.code, ran.stdout) == (2, "")
    assert ran.stderr.startswith(
        "images: no file in the folder is a sub of a goal of the request: 1 damaged: "
    )
    assert not (home / "new.toml").exists()


def test_images_of_another_request_are_told_by_their_reasons(home: Path) -> None:
    targets = [{**DATA["targets"][0], "name": "Elsewhere", "dec_deg": -10.0}]
    (home / "other.json").write_text(
        json.dumps({**json.loads((home / "request.json").read_text()), "targets": targets})
    )
    ran = learn_by("other.json")
    assert (ran.code, ran.stdout) == (2, "")
    assert 'OBJECT = "Cradle" is no name or alias of a target, and no target lies within' in ran.stderr
    assert "name the request that these images were taken for" in ran.stderr


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("nowhere", "request.json"), "nowhere: the folder cannot be read: there is nothing of this name"),
        (("images", "nowhere.toml"), "nowhere.toml: there is no such file"),
        (("images", "request.json", "--shots", "night.shots.csv"), "a CSV list holds the steps alone"),
        (("images", "request.json", "--time-limit", "0"), "--time-limit = 0: is out of range"),
        (("images", "request.json", "--evening", "soon"), "--evening = soon: is no date"),
        (("images", "request.json", "--write", "learned.json"), "the name does not end in .toml"),
        (("images", "request.json", "--write", "no/learned.toml"), "there is no such folder"),
    ],
    ids=["no folder", "no request", "csv", "time limit", "evening", "ending", "no folder for the file"],
)
def test_what_cannot_be_used_is_refused_before_anything_is_planned(
    args: tuple[str, ...], words: str, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Night, "plan", lambda *_: pytest.fail("it was planned"))
    before = content(home)
    ran = darkfill("learn", *args)
    assert (ran.code, ran.stdout) == (2, "")
    assert words in ran.stderr
    assert content(home) == before


def test_ctrl_c_while_the_night_is_planned_writes_nothing(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shots = small_list()
    stopped = shots.model_copy(update={"proof": shots.proof.model_copy(update={"status": "stopped"})})
    monkeypatch.setattr(Night, "plan", lambda *_: stopped)
    before = content(home)
    ran = learn_by("request.json", "--write", "new.toml")
    assert (ran.code, ran.stdout, ran.stderr) == (130, "", "stopped; nothing was written\n")
    assert content(home) == before


def test_the_function_takes_paths_and_lists() -> None:
    with pytest.raises(
        TypeError, match=r"^learn\(\): request takes the path of a file or folder, not an object"
    ):
        learn("images", small_list().request)  # type: ignore[arg-type]
    with pytest.raises(InputError, match=r"^learn\(\): time_limit_s = 0"):
        learn("images", "request.json", time_limit_s=0)


def test_progress_tells_files_then_what_is_done() -> None:
    line = Learning()
    assert line.text(1) == "1 s: looking through the folder"
    line.tell(5, 10)
    assert "5 of 10 files" in line.text(2)
    line.doing("the night with the learned numbers")
    assert line.text(3) == "3 s: the night with the learned numbers; Ctrl-C changes nothing"
