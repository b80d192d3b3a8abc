"""`darkfill tally`: what counts, what does not and why, in words and in JSON; and what other commands make of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.cli.progress import Files
from optimizer.report.tally_facts import TallyReport
from tests.support.cli_cases import darkfill
from tests.support.tally_cases import write_fits, write_night, write_request

HEADER = "target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source\n"
CSV = HEADER + "Cradle,L,300,,,1,2026-11-13,2,0,\n"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A request and a folder in which something of everything lies."""
    monkeypatch.chdir(tmp_path)
    write_request(tmp_path)
    images = tmp_path / "images"
    write_night(images, ["L1.fits", "L2.fits", "L3.fits"])
    write_fits(
        images / "place.fits", {"OBJECT": "P1", "RA": 52.3, "DEC": 31.3, "DATE-OBS": "2026-11-15T21:00:00"}
    )
    write_fits(images / "nobody.fits", {"OBJECT": "Nobody"})
    write_fits(images / "short.fits", {"EXPTIME": 30.0})
    write_fits(images / "short2.fits", {"EXPTIME": 30.0})
    write_fits(images / "dark.fits", {"IMAGETYP": "Dark Frame"})
    write_fits(images / "copy" / "L1.fits", {"DATE-OBS": "2026-11-14T21:00:00.5"})
    (images / "broken.fits").write_bytes(b"no header at all")
    return tmp_path


def test_what_counts_and_what_does_not_is_told_with_its_keyword(home: Path) -> None:
    ran = darkfill("tally", "images", "request.toml")
    assert (ran.code, ran.stderr) == (0, "")
    assert ran.stdout.startswith(
        "4 subs in the folder images count, 4 of them new; the counts are in in-hand.csv\n"
    )
    words = " ".join(ran.stdout.split())
    assert "Cradle L 300 s 2026-11-14 3 3 0 OBJECT, FILTER, EXPTIME, DATE-OBS" in words
    assert "Cradle L 300 s 2026-11-15 1 1 0 RA, FILTER, EXPTIME, DATE-OBS" in words
    assert "Not counted: 3 files" in words
    assert (
        'OBJECT = "Nobody" is no name or alias of a target, and the header tells no place: nobody.fits'
        in words
    )
    assert (
        'EXPTIME = 30 s, and the goals of target "Cradle" ask for 300 s: short.fits and short2.fits' in words
    )
    assert "Damaged or cut short, not counted: 1 file" in words
    assert "Calibration frames, listed and not counted 1 dark" in words
    assert "Copies, counted once: 1 file the same sub as L1.fits: copy/L1.fits" in words or (
        "Copies, counted once: 1 file the same sub as copy/L1.fits: L1.fits" in words
    )
    assert "In hand, in subs" not in words


def test_report_tells_wanted_in_hand_by_night_and_left(home: Path) -> None:
    (home / "in-hand.csv").write_text(CSV)
    write_request(home, ("frames = 8", "frames = 8\ndone = 1"))
    out = darkfill("tally", "images", "request.toml", "--report").stdout
    words = " ".join(out.split())
    assert "target filter exposure wanted in hand left by night" in words
    assert "Cradle L 300 s 8 7 1 done 1, 2026-11-13 2, 2026-11-14 3, 2026-11-15 1" in words
    assert "Ha 600 s 6 0 6" in words
    assert "Complete" not in words


def test_subs_of_other_lengths_are_reconciled_with_what_is_in_hand_of_a_goal_in_hours(home: Path) -> None:
    """Eleven good subs are in hand as two: without a word the numbers of that row would contradict it."""
    rows = "Cradle,Ha,60,,,1,2026-11-12,11,1,\nCradle,Ha,600,,,1,2026-11-13,1,0,\n"
    (home / "in-hand.csv").write_text(HEADER + rows)
    words = " ".join(darkfill("tally", "images", "request.toml", "--report").stdout.split())
    assert "2026-11-12 11 (1 rejected), 2026-11-13 1, as long as 2 whole subs of 600 s" in words
    assert "whole subs of 300 s" not in words


def test_of_many_nights_the_latest_are_named(home: Path) -> None:
    rows = "".join(f"Cradle,L,300,,,1,2026-10-{day},{day},{day - 10},\n" for day in range(10, 19))
    (home / "in-hand.csv").write_text(HEADER + rows)
    words = " ".join(darkfill("tally", "images", "request.toml", "--report").stdout.split())
    assert "complete 3 earlier nights 33, 2026-10-13 13 (3 rejected), 2026-10-14 14" in words
    assert "2026-10-12" not in words


def test_a_complete_goal_is_told(home: Path) -> None:
    (home / "in-hand.csv").write_text(CSV)
    write_request(home, ("frames = 8", "frames = 6"))
    out = " ".join(darkfill("tally", "images", "request.toml", "--report").stdout.split())
    assert "Cradle L 300 s 6 6 complete" in out
    assert "Complete, and given no more time by a plan: Cradle L 300 s." in out
    ran = darkfill("plan", "request.toml")
    assert "all 6 subs of this goal are in hand; it gets no time" in ran.stderr
    assert "Ha" in ran.stdout


def test_json_is_alone_on_stdout_and_validates(home: Path) -> None:
    ran = darkfill("tally", "images", "request.toml", "--json")
    assert (ran.code, ran.stderr) == (0, "")
    report = TallyReport.model_validate_json(ran.stdout)
    assert [(row.evening, row.frames, row.source) for row in report.counted] == [
        ("2026-11-14", 3, "images"),
        ("2026-11-15", 1, "images"),
    ]
    assert [each.file for each in report.unmatched] == ["nobody.fits", "short.fits", "short2.fits"]
    assert [each.file for each in report.damaged] == ["broken.fits"]
    assert [(each.kind, each.files) for each in report.calibration] == [("dark", ("dark.fits",))]
    assert (report.vanished, report.odd, len(report.copies)) == ((), (), 1)
    assert set(ran.json) >= {"counted", "unmatched", "damaged", "calibration", "vanished"}


@pytest.mark.parametrize("columns", [40, 72, 110, 200])
def test_tables_fit_whatever_the_width(home: Path, columns: int) -> None:
    ran = darkfill("tally", "images", "request.toml", "--report", env={"COLUMNS": str(columns)})
    assert max(map(len, ran.stdout.splitlines())) <= max(columns, 60)


@pytest.mark.parametrize(
    ("args", "told"),
    [
        (("nowhere", "request.toml"), "nowhere: the folder cannot be read"),
        (("request.toml", "request.toml"), "request.toml: this is no folder"),
        (("images", "nowhere.toml"), "nowhere.toml: there is no such file"),
        (("images", "request.toml", "--reject", "nowhere.txt"), "nowhere.txt: there is no such file"),
    ],
)
def test_bad_arguments_are_told_and_nothing_is_written(home: Path, args: tuple[str, ...], told: str) -> None:
    ran = darkfill("tally", *args)
    assert (ran.code, ran.stdout) == (2, "")
    assert ran.stderr.startswith(told)
    assert "; " in ran.stderr
    assert not list(home.glob("in-hand*"))


def test_options_reach_the_counting(home: Path) -> None:
    (home / "bad.txt").write_text("L2\n")
    ran = darkfill(
        "tally", "images", "request.toml", "--reject", "bad.txt", "--skip-folder", "copy", "--json"
    )
    report = TallyReport.model_validate_json(ran.stdout)
    assert [(row.frames, row.rejected) for row in report.counted] == [(3, 1), (1, 0)]
    assert report.copies == ()
    (home / "images" / "L3.fits").unlink()
    assert (
        "No longer in the folder, still counted (--recount drops them): 1 file"
        in darkfill("tally", "images", "request.toml").stdout
    )
    assert (
        "No longer in the folder, no longer counted: 1 file"
        in darkfill("tally", "images", "request.toml", "--recount").stdout
    )


def test_line_of_progress_tells_files_read() -> None:
    line = Files()
    assert line.text(0.4) == "0 s: looking through the folder"
    line.tell(1250, 5000)
    assert line.text(2.0) == "2 s: #####............... 1250 of 5000 files; Ctrl-C changes nothing"


NO_HA = ('\n[[targets.goals]]\nfilter = "Ha"\nexposure_s = 600\nhours = 1\n', "")


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A request with two subs in hand, and its plan."""
    home = tmp_path_factory.mktemp("planned")
    write_request(home, NO_HA)
    (home / "in-hand.csv").write_text(CSV)
    assert darkfill("plan", home / "request.toml").code == 0
    return home


@pytest.mark.parametrize("ending", ["json", "csv"])
def test_a_tally_grown_since_a_list_was_made_is_told_and_is_no_violation(planned: Path, ending: str) -> None:
    """Without the list's own counts, its six subs would be more than the one that is still wanted."""
    shots = planned / f"request.2026-11-14.shots.{ending}"
    assert darkfill("check", shots, planned / "request.toml").stderr == ""
    (planned / "in-hand.csv").write_text(CSV + "Cradle,L,300,,,1,2026-11-14,5,0,images\n")
    try:
        ran = darkfill("check", shots, planned / "request.toml")
    finally:
        (planned / "in-hand.csv").write_text(CSV)
    assert ran.code == 0
    assert ran.stderr == (
        "the subs in hand have changed since this list was made: Cradle L 300 s from 2 to 7; the list is checked "
        "with the counts that it began with\n"
    )


def test_a_list_that_takes_more_than_is_wanted_is_still_caught(planned: Path) -> None:
    """Against a request without a tally `done` is the reader's own word."""
    shots = planned / "request.2026-11-14.shots.json"
    bare = planned / "bare"
    bare.mkdir()
    asks = write_request(bare, NO_HA, ('tally = "in-hand.csv"\n', ""), ("frames = 8", "frames = 8\ndone = 7"))
    assert darkfill("check", shots, asks).code == 4
