"""`darkfill follow` once, at an instant: what it says, as text and as data, and what it refuses."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from optimizer.follow.moment import moment
from optimizer.models.site import iso_utc
from optimizer.report.follow_facts import Followed
from tests.support.cli_cases import content
from tests.support.follow_clock import (
    AFTER,
    BEFORE,
    BUSY,
    FIRST,
    FLIP,
    FOCUS,
    HANG_S,
    HUNG,
    LOST,
    NOW,
    PATH,
    Hours,
    follow,
    follow_hours,
    local,
    night,
)

NAME = "heron.2026-10-10.shots.json"


@pytest.fixture
def hours(monkeypatch: pytest.MonkeyPatch) -> Hours:
    return follow_hours(monkeypatch)


def test_once_says_what_now_what_next_when_the_flip_and_what_to_do() -> None:
    ran = follow(PATH, "--now", NOW)
    assert (ran.code, ran.stderr) == (0, "")
    sub, flip = AFTER[0], FLIP.latest_start_utc
    assert flip is not None
    place = f"sub {len(BEFORE) + 1} of {len(BEFORE) + len(AFTER)}, {sub.filter} {sub.exposure_s:g} s, {sub.target}"
    lines = ran.stdout.splitlines()
    assert lines[:6] == [
        f"{NOW}, night of 2026-10-10 at Heron Flat",
        "Times are local: Europe/Paris, UTC+02. List: request.2026-10-10.shots.json.",
        "",
        "By the plan",
        f"Now    autofocus, {FOCUS.target}; until {local(FOCUS.end_utc)}, 2 min 02 s left",
        f"Next   {place}; at {local(sub.start_utc)}, in 2 min {(sub.start_utc - BUSY).seconds - 120:02d} s",
    ]
    assert re.fullmatch(
        rf"Flip   at {local(FLIP.start_utc)}, in \d h \d\d min; no later than {local(flip)}", lines[6]
    )
    assert re.fullmatch(r"Slack  .+: so late the list may run without breaking or losing anything", lines[7])
    assert "This newer list" not in ran.stdout
    assert f"--now {NOW}" in ran.stdout


@pytest.mark.parametrize("columns", [60, 80, 110])
def test_every_width_has_every_word(columns: int, tmp_path: Path) -> None:
    night(stalls={HUNG.step: HANG_S}, lost=(LOST.step,)).write_until(tmp_path, BUSY)
    (tmp_path / "broken.fits").write_bytes(b"no image")
    os.utime(tmp_path / "broken.fits", (0, 0))
    narrow, wide = (follow(PATH, "--images", tmp_path, "--now", NOW, columns=each) for each in (columns, 110))
    assert max(len(line) for line in narrow.stdout.splitlines()) <= columns
    words = [re.sub(r"\s+|\\\n", "", each.stdout) for each in (narrow, wide)]
    assert words[0] == words[1]
    for label in ("Now", "Next", "Flip", "Slack", "Seen", "Late", "Cost", "FLIP", "Gaps", "Files"):
        assert re.search(rf"^{label} ", narrow.stdout, re.MULTILINE), label


def test_json_is_one_document_of_the_model(tmp_path: Path) -> None:
    night(stalls={HUNG.step: HANG_S}, lost=(LOST.step,)).write_until(tmp_path, BUSY)
    ran = follow(PATH, "--images", tmp_path, "--now", NOW, "--json")
    assert (ran.code, ran.stderr) == (0, "")
    told = Followed.model_validate_json(ran.stdout)
    plan, images = ran.json["plan"], ran.json["images"]
    assert ran.json["now_utc"] == iso_utc(BUSY)
    assert (plan["phase"], plan["running_step"], plan["next_step"]) == ("during", FOCUS.step, AFTER[0].step)
    assert plan["slack_s"] == moment(FIRST, BUSY).slack_s
    assert FLIP.latest_start_utc is not None
    assert (plan["flip_utc"], plan["flip_latest_utc"]) == (
        iso_utc(FLIP.start_utc),
        iso_utc(FLIP.latest_start_utc),
    )
    assert (images["late_s"], images["missing_steps"], images["trouble"]) == (HANG_S, [LOST.step], None)
    assert sum(each["subs"] for each in images["lost"]) == len(images["lost_steps"]) > 0
    assert images["flip_too_late"]["latest_utc"] == plan["flip_latest_utc"]
    assert told.replan is not None
    assert told.replan[:3] == ("darkfill", "replan", str(PATH))


def test_copies_of_images_made_just_now_count_as_of_an_earlier_instant(tmp_path: Path) -> None:
    """What was copied within the last minute was changed after the instant, and is whole all the same."""
    night().write_until(tmp_path, BUSY)
    earlier = follow(PATH, "--images", tmp_path, "--now", NOW, "--json").json["images"]
    for path in tmp_path.rglob("*.fits"):
        os.utime(path)
    images = follow(PATH, "--images", tmp_path, "--now", NOW, "--json").json["images"]
    assert images["subs_seen"] == earlier["subs_seen"] > 0
    assert images["late_s"] == earlier["late_s"]


def test_nothing_is_written_and_no_list_is_changed(tmp_path: Path, hours: Hours) -> None:
    path = tmp_path / "lists" / NAME
    path.parent.mkdir()
    shutil.copy(PATH, path)
    night().write_until(tmp_path / "images", BUSY)
    before = content(tmp_path)
    assert follow(path, "--images", tmp_path / "images").code == 0
    assert follow(path, "--images", tmp_path / "images", "--json").code == 0
    assert content(tmp_path) == before


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--now", "25:00"], "--now = 25:00: there is no such time of day"),
        (["--now", "2026-10-12T01:00"], "is outside the night of 2026-10-10"),
        (
            ["--serve", "--now", NOW],
            "--serve: goes on, while --now and --json tell once; leave one of them out",
        ),
        (["--serve", "--json"], "--serve: goes on"),
        (["--lan"], "--lan: says how to serve; add --serve"),
        (["--port", "9000"], "--port = 9000: says how to serve; add --serve"),
        (["--serve", "--port", "70000"], "--port = 70000: is no port"),
        (
            ["--images", "no-such-folder", "--now", NOW],
            "--images = no-such-folder: the folder cannot be read",
        ),
    ],
)
def test_what_makes_no_sense_is_refused(options: list[str], words: str) -> None:
    ran = follow(PATH, *options)
    assert (ran.code, ran.stdout) == (2, "")
    assert words in ran.stderr


def test_list_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    broken = tmp_path / NAME
    broken.write_text("{", encoding="utf-8")
    assert follow(broken, "--now", NOW).code == 2
    assert "a CSV list holds the steps alone" in follow(PATH.with_suffix(".csv"), "--now", NOW).stderr
    assert follow(tmp_path / "none.json").code == 2


def test_once_starts_without_solver_and_sky() -> None:
    code = (
        "import sys\n"
        f"sys.argv = ['darkfill', 'follow', {str(PATH)!r}, '--now', {NOW!r}]\n"
        "from optimizer.cli.app import main\n"
        "try:\n    main()\nexcept SystemExit as end:\n    print('code', end.code)\n"
        "print('loaded', *sorted(sys.modules))\n"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "\ncode 0\n" in out
    loaded = set(out[out.rindex("loaded ") :].split())
    assert "optimizer.report.follow_view" in loaded
    assert not loaded & {"ortools", "astropy", "numpy", "numba", "erfa", "jinja2", "http.server"}
