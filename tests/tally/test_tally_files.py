"""Folders of FITS files counted into a tally on the disk: whole at any moment, and no image is touched."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
from pathlib import Path

import pytest

from optimizer import InputError, load, tally
from optimizer.errors import OutputError
from optimizer.export.tally_files import tally_folder
from optimizer.report.tally_facts import TallyReport
from tests.support.cli_cases import content
from tests.support.tally_cases import write_fits, write_night, write_request

HEADER = "target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source\n"


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A request with a folder of three subs of one night and one of the next."""
    write_request(tmp_path)
    write_night(tmp_path / "images" / "n1", ["L1.fits", "L2.fits", "L3.fits"])
    write_night(tmp_path / "images" / "n2", ["L1.fits"], "2026-11-15")
    return tmp_path


def run(home: Path, folder: str = "images", **options: object) -> TallyReport:
    return tally(home / folder, home / "request.toml", **options)  # type: ignore[arg-type]


def in_hand(home: Path) -> int:
    return load(home / "request.toml").request.targets[0].goals[0].done


def rows(home: Path) -> list[dict[str, str]]:
    with (home / "in-hand.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_counts_of_a_folder_are_in_hand(home: Path) -> None:
    report = run(home)
    assert (home / "in-hand.csv").read_text() == (
        HEADER + "Cradle,L,300,,,1,2026-11-14,3,0,images\nCradle,L,300,,,1,2026-11-15,1,0,images\n"
    )
    assert in_hand(home) == 4
    goal = report.goals[0]
    assert (goal.wanted, goal.in_hand, goal.left) == (8, 4, 4)
    assert [(night.evening, night.frames) for night in goal.nights] == [("2026-11-14", 3), ("2026-11-15", 1)]


def test_a_second_run_writes_nothing(home: Path) -> None:
    run(home)
    files = [home / "in-hand.csv", home / "in-hand.seen.csv"]
    before = [(path.read_bytes(), path.stat().st_mtime_ns, path.stat().st_ino) for path in files]
    report = run(home)
    assert [(path.read_bytes(), path.stat().st_mtime_ns, path.stat().st_ino) for path in files] == before
    assert [row.new for row in report.counted] == [0, 0]


def test_the_folder_of_images_stays_as_it_was(home: Path) -> None:
    def state() -> dict[str, tuple[int, int]]:
        return {
            str(path): (path.stat().st_mtime_ns, path.stat().st_mode) for path in (home / "images").rglob("*")
        }

    before = content(home / "images"), state()
    request = (home / "request.toml").read_bytes()
    run(home, recount=True, skip_folders=["n2"])
    assert (content(home / "images"), state()) == before
    assert (home / "request.toml").read_bytes() == request


def test_two_folders_add_up_and_copies_count_once(home: Path) -> None:
    run(home, "images/n1")
    (home / "backup").mkdir()
    for path in (home / "images").rglob("*.fits"):
        (home / "backup" / f"{path.parent.name}-copies").mkdir(exist_ok=True)
        (home / "backup" / f"{path.parent.name}-copies" / path.name).write_bytes(path.read_bytes())
    run(home, "backup")
    assert [(row["frames"], row["source"]) for row in rows(home)] == [("3", "images/n1"), ("1", "backup")]
    assert in_hand(home) == 4


def test_a_folder_elsewhere_is_known_by_its_whole_path(
    home: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    far = tmp_path_factory.mktemp("far")
    write_night(far, ["L7.fits"])
    tally(far, home / "request.toml")
    assert rows(home)[0]["source"] == far.resolve().as_posix()


def test_vanished_files_count_until_they_are_recounted(home: Path) -> None:
    run(home)
    (home / "images" / "n1" / "L2.fits").unlink()
    report = run(home)
    assert [(file.file, file.counts) for file in report.vanished] == [("L2.fits", True)]
    assert in_hand(home) == 4
    report = run(home, recount=True)
    assert [(file.file, file.counts) for file in report.vanished] == [("L2.fits", False)]
    assert in_hand(home) == 3
    assert run(home).vanished == ()


def test_a_folder_that_is_gone_can_be_recounted_and_no_other(home: Path) -> None:
    run(home, "images/n1")
    run(home, "images/n2")
    (home / "images" / "n1").rename(home / "elsewhere")
    for folder, recount in (("images/n1", False), ("images/n3", True)):
        with pytest.raises(InputError, match="the folder cannot be read"):
            run(home, folder, recount=recount)
    assert len(run(home, "images/n1", recount=True).vanished) == 3
    assert in_hand(home) == 1


def test_names_in_a_file_are_rejected(home: Path) -> None:
    (home / "bad.txt").write_text("n1/L1.fits\nL2\nnobody.fits\n# a word\n")
    report = run(home, reject=home / "bad.txt")
    assert [(row["frames"], row["rejected"]) for row in rows(home)] == [("3", "2"), ("1", "0")]
    assert in_hand(home) == 2
    assert report.notes == ('"nobody.fits" was to be rejected, and names no sub in the folder',)
    run(home)  # it stays so
    assert in_hand(home) == 2


def test_a_name_that_means_several_subs_is_told(home: Path) -> None:
    (home / "bad.txt").write_text("L1.fits\n")
    notes = run(home, reject=home / "bad.txt").notes
    assert notes == (
        '"L1.fits" names 2 subs, all of which were rejected; write the folder before the name to tell them apart',
    )
    assert in_hand(home) == 2


def test_folders_of_a_name_are_not_counted_even_if_they_were_before(home: Path) -> None:
    run(home)
    (home / "images" / "n1" / "Rejected").mkdir()
    (home / "images" / "n1" / "L2.fits").rename(home / "images" / "n1" / "Rejected" / "L2.fits")
    report = run(home, skip_folders=["rejected"])
    assert [(file.file, file.counts) for file in report.vanished] == [("L2.fits", False)]
    assert in_hand(home) == 3
    assert run(home, skip_folders=["rejected"]).vanished == ()


def test_rows_of_a_person_are_kept_to_the_byte(home: Path) -> None:
    own = '"Cradle",L,300.0 ,,,,2026-11-01,2,0,\r\n\r\nCradle, Ha,600,,,1,,3,1,'
    (home / "in-hand.csv").write_text(HEADER + own, newline="")
    run(home)
    text = (home / "in-hand.csv").read_bytes().decode()
    assert text.startswith(HEADER + own + "\nCradle,L,300,,,1,2026-11-14,3,0,images\n")
    assert in_hand(home) == 6


def test_a_row_with_a_source_that_was_changed_by_hand_is_told(home: Path) -> None:
    run(home)
    path = home / "in-hand.csv"
    path.write_text(path.read_text().replace("2026-11-14,3,0", "2026-11-14,9,1"))
    (note,) = run(home).notes
    assert note.startswith(f"{path}:2: this row has a source and said 9 frames, 1 rejected, which is not")
    assert in_hand(home) == 4


def test_goal_in_hours_counts_subs_of_any_length(home: Path) -> None:
    write_fits(
        home / "images" / "h1.fits", {"FILTER": "Ha", "EXPTIME": 599.0, "DATE-OBS": "2026-11-14T22:00:00"}
    )
    write_fits(
        home / "images" / "h2.fits", {"FILTER": "Ha", "EXPTIME": 60.4, "DATE-OBS": "2026-11-14T22:10:00"}
    )
    run(home)
    assert [row["exposure_s"] for row in rows(home) if row["filter"] == "Ha"] == ["60.4", "599"]
    assert load(home / "request.toml").request.targets[0].goals[1].done == 1  # 659.4 s are one of 600 s


def test_without_the_list_of_files_seen_nothing_is_counted_twice(home: Path) -> None:
    run(home)
    (home / "in-hand.seen.csv").unlink()
    with pytest.raises(InputError) as caught:
        run(home)
    assert str(caught.value) == (
        f"{home / 'in-hand.csv'}:2: source: the row was made from files, and in-hand.seen.csv, which tells them, "
        "is not there; put it back; or count every folder anew, the first with --recount, which drops all rows "
        "that have a source"
    )
    run(home, recount=True)
    assert in_hand(home) == 4


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("name,size\n", "in-hand.seen.csv:1: the header lacks size_bytes, date_obs, target"),
        (
            "name,size_bytes,date_obs,target,filter,exposure_s,gain,offset,binning,evening,rejected,source\n"
            "a,x,b,c,d,1,,,1,2026-11-14,maybe,s\n",
            'in-hand.seen.csv:2: size_bytes = "x": this is not a whole number; give a whole number from 0 to',
        ),
    ],
)
def test_a_broken_list_of_files_seen_is_told(home: Path, text: str, told: str) -> None:
    (home / "in-hand.seen.csv").write_text(text)
    with pytest.raises(InputError) as caught:
        run(home)
    assert told in str(caught.value)
    assert not (home / "in-hand.csv").exists()


def test_a_request_without_a_tally_says_how_to_name_one(home: Path) -> None:
    before = write_request(home, ('tally = "in-hand.csv"\n', "")).read_bytes()
    with pytest.raises(InputError) as caught:
        run(home)
    assert str(caught.value) == (
        f"{home / 'request.toml'}: tally: the request does not say in which file the subs in hand are counted; "
        'add the line tally = "in-hand.csv" to the request, above its first [table]'
    )
    assert (home / "request.toml").read_bytes() == before


@pytest.mark.skipif(os.name == "nt", reason="modes mean something else there")
def test_a_protected_tally_is_told_before_the_folder_is_read(home: Path) -> None:
    run(home)
    (home / "in-hand.csv").chmod(0o444)
    write_night(home / "images", ["L9.fits"], "2026-11-16")
    before = content(home)
    with pytest.raises(OutputError, match="write-protected"):
        run(home, tell=lambda done, files: pytest.fail("the folder was read"))
    assert content(home) == before


def test_a_tally_changed_meanwhile_is_not_overwritten(home: Path) -> None:
    run(home)
    write_night(home / "images", ["L9.fits"], "2026-11-16")
    path = home / "in-hand.csv"

    def meanwhile(done: int, files: int) -> None:
        path.write_text(HEADER + "Cradle,L,300,,,1,2026-11-01,2,0,\n")

    with pytest.raises(
        OutputError, match="somebody changed the file while the folder was read; run the command again"
    ):
        run(home, tell=meanwhile)
    assert path.read_text() == HEADER + "Cradle,L,300,,,1,2026-11-01,2,0,\n"


KILLED = """
import os, sys
from pathlib import Path
from optimizer import tally
left, replace = int(sys.argv[1]), Path.replace
def dying(self, target):
    global left
    if Path(target).name.startswith("in-hand"):
        if not left:
            os._exit(9)
        left -= 1
    return replace(self, target)
Path.replace = dying
tally("images", "request.toml")
"""


@pytest.mark.parametrize("moves", [0, 1])
def test_killed_between_its_files_the_next_run_makes_the_whole_tally(home: Path, moves: int) -> None:
    run(home)
    before = (home / "in-hand.csv").read_bytes()
    write_night(home / "images" / "n3", ["L5.fits", "L6.fits"], "2026-11-16")
    command = [sys.executable, "-c", KILLED, str(moves)]
    assert subprocess.run(command, cwd=home, check=False, capture_output=True).returncode == 9
    assert (home / "in-hand.csv").read_bytes() == before  # the tally comes last
    assert in_hand(home) == 4
    run(home)
    assert in_hand(home) == 6
    assert [row["frames"] for row in rows(home)] == ["3", "1", "2"]


def test_ctrl_c_while_the_folder_is_read_changes_nothing(home: Path) -> None:
    run(home)
    write_night(home / "images" / "n3", ["L5.fits"], "2026-11-16")
    before = content(home)

    def pressed(done: int, files: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run(home, tell=pressed)
    assert content(home) == before


def test_damaged_and_calibration_files_are_listed(home: Path) -> None:
    write_fits(home / "images" / "dark.fits", {"IMAGETYP": "Dark Frame"})
    cut = home / "images" / "cut.fits"
    cut.write_bytes((home / "images" / "dark.fits").read_bytes()[:2900])
    os.utime(cut, (1, 1))
    report = run(home)
    assert [(each.kind, each.files) for each in report.calibration] == [("dark", ("dark.fits",))]
    assert [each.file for each in report.damaged] == ["cut.fits"]
    assert in_hand(home) == 4


@pytest.mark.skipif(sys.platform != "linux", reason="names without an encoding are a thing of Linux alone")
def test_names_that_are_no_text_count_like_others(home: Path) -> None:
    (home / "images" / "n1" / "L1.fits").rename(
        home / "images" / b"\xff.fits".decode("utf-8", "surrogateescape")
    )
    assert in_hand(home) == 0
    report = run(home)
    assert report.model_dump_json()
    text = (home / "in-hand.seen.csv").read_text(encoding="utf-8")
    assert "\\udcff.fits" in text
    run(home)
    assert (home / "in-hand.seen.csv").read_text(encoding="utf-8") == text
    assert in_hand(home) == 4


def test_files_edited_or_packed_since_are_told_and_count_once(home: Path) -> None:
    write_fits(home / "images" / "late.fits", {"DATE-OBS": "2026-11-15T02:00:00"})
    before = tally_folder(home / "images", home / "request.toml").tally.rows
    (home / "images" / "late.fits").unlink()
    write_fits(home / "images" / "late.fits", {"DATE-OBS": "2026-11-15T02:00:00"}, pixels=60)
    after = tally_folder(home / "images", home / "request.toml")
    assert after.tally.rows == before
    assert after.notes == (
        "since they were counted, files were edited or packed: late.fits; each sub still counts once",
    )


def test_a_folder_named_by_a_blank_can_be_counted_again(home: Path) -> None:
    write_fits(home / " " / "late.fits", {"DATE-OBS": "2026-11-15T02:00:00"})
    first = tally_folder(home / " ", home / "request.toml").tally
    assert tally_folder(home / " ", home / "request.toml").tally == first
