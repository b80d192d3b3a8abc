"""`darkfill follow` as somebody finds it: once, in a pipe, on a terminal, with images, beside a newer list."""

from __future__ import annotations

import datetime as dt
import io
import json
import os
import random
import re
import shutil
import subprocess
import sys
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest

from optimizer.cli import following
from optimizer.cli.following import Follower, follow_in_pipe, follow_on_terminal, over
from optimizer.cli.serving import list_server
from optimizer.cli.streams import is_gone, lenient
from optimizer.export.csv_file import csv_text
from optimizer.export.json_file import write_json
from optimizer.follow.pasting import pasted_lines
from optimizer.models.continues import Begin, Continues
from optimizer.models.shots import ShotList
from optimizer.reading import evening
from optimizer.reading.shots_file import sha256_of_file
from optimizer.report.follow_facts import Followed
from optimizer.report.follow_view import follow_view
from optimizer.report.tables import show
from tests.support.cli_cases import Ran, Terminal, content, darkfill
from tests.support.picture_cases import shots_path, stored
from tests.support.run_night import Happened, run_night

FIRST = stored("first-night")
PATH = shots_path("first-night")
BUSY = dt.datetime(2026, 10, 10, 23, 20, tzinfo=dt.UTC)
NAME = "heron.2026-10-10.shots.json"


def night(**keys: object) -> Happened:
    return run_night(FIRST, random.Random(1), **keys)  # type: ignore[arg-type]


def follow(*options: object, columns: int = 110) -> Ran:
    return darkfill("follow", *options, env={"COLUMNS": str(columns)})


class Hours:
    """A clock that goes on by so many seconds at each wait, and says that Ctrl-C has come at its end."""

    def __init__(self, begin: dt.datetime, end: dt.datetime, tick_s: float = 20.0) -> None:
        self.now, self.end, self.tick = begin, end, dt.timedelta(seconds=tick_s)
        self.at_each: list[Callable[[], None]] = []

    def clock(self) -> dt.datetime:
        return self.now

    def wait(self, seconds: float) -> bool:
        del seconds
        self.now += self.tick
        for each in self.at_each:
            each()
        return self.now >= self.end


@pytest.fixture
def hours(monkeypatch: pytest.MonkeyPatch) -> Hours:
    """The command's clock for ten minutes from 01:20 local time on."""
    made = Hours(BUSY, BUSY + dt.timedelta(minutes=10))
    monkeypatch.setattr(evening, "utc_now", made.clock)
    monkeypatch.setattr(following, "wait_for_ctrl_c", made.wait)
    return made


def view(follower: Follower, now: dt.datetime) -> str:
    """What is shown at an instant, 110 wide."""
    told = follower.told(now)
    out = io.StringIO()
    show(follow_view(told.shots, told.moment, told.followed), out)
    return out.getvalue()


# --- once --------------------------------------------------------------------------------------------------


def test_once_says_what_now_what_next_when_the_flip_and_what_to_do() -> None:
    ran = follow(PATH, "--now", "01:20")
    assert (ran.code, ran.stderr) == (0, "")
    assert ran.stdout.splitlines()[:8] == [
        "01:20:00, night of 2026-10-10 at Heron Flat",
        "Times are local: Europe/Paris, UTC+02. List: request.2026-10-10.shots.json.",
        "",
        "By the plan",
        "Now    autofocus, Whirl in Triangulum; until 01:22:02, 2 min 02 s left",
        "Next   sub 30 of 39, L 180 s, Whirl in Triangulum; at 01:22:14, in 2 min 14 s",
        "Flip   at 04:24:25, in 3 h 04 min; no later than 04:25:59",
        "Slack  1 min 00 s: so late the list may run without breaking or losing anything",
    ]
    assert "This newer list" not in ran.stdout
    assert "--now 01:20:00" in ran.stdout


@pytest.mark.parametrize("columns", [60, 80, 110])
def test_every_width_has_every_word(columns: int, tmp_path: Path) -> None:
    night(stalls={80: 600.0}, lost=(71,)).write_until(tmp_path, BUSY)
    (tmp_path / "broken.fits").write_bytes(b"no image")
    os.utime(tmp_path / "broken.fits", (0, 0))
    narrow, wide = (
        follow(PATH, "--images", tmp_path, "--now", "01:20", columns=each) for each in (columns, 110)
    )
    assert max(len(line) for line in narrow.stdout.splitlines()) <= columns
    words = [re.sub(r"\s+|\\\n", "", each.stdout) for each in (narrow, wide)]
    assert words[0] == words[1]
    for label in ("Now", "Next", "Flip", "Slack", "Seen", "Late", "Cost", "FLIP", "Gaps", "Files"):
        assert re.search(rf"^{label} ", narrow.stdout, re.MULTILINE), label


def test_json_is_one_document_of_the_model(tmp_path: Path) -> None:
    night(stalls={80: 600.0}, lost=(71,)).write_until(tmp_path, BUSY)
    ran = follow(PATH, "--images", tmp_path, "--now", "01:20", "--json")
    assert (ran.code, ran.stderr) == (0, "")
    told = Followed.model_validate_json(ran.stdout)
    assert ran.json["now_utc"] == "2026-10-10T23:20:00Z"
    plan, images = ran.json["plan"], ran.json["images"]
    assert (plan["phase"], plan["running_step"], plan["next_step"], plan["slack_s"]) == (
        "during",
        102,
        104,
        60,
    )
    assert (plan["flip_utc"], plan["flip_latest_utc"]) == ("2026-10-11T02:24:25Z", "2026-10-11T02:25:59Z")
    assert (images["late_s"], images["missing_steps"], images["trouble"]) == (600.0, [71], None)
    assert sum(each["subs"] for each in images["lost"]) == len(images["lost_steps"]) > 0
    assert images["flip_too_late"]["latest_utc"] == plan["flip_latest_utc"]
    assert told.replan is not None
    assert told.replan[:3] == ("darkfill", "replan", str(PATH))


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
            ["--serve", "--now", "01:20"],
            "--serve: goes on, while --now and --json tell once; leave one of them out",
        ),
        (["--serve", "--json"], "--serve: goes on"),
        (["--lan"], "--lan: says how to serve; add --serve"),
        (["--port", "9000"], "--port = 9000: says how to serve; add --serve"),
        (["--serve", "--port", "70000"], "--port = 70000: is no port"),
        (
            ["--images", "no-such-folder", "--now", "01:20"],
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
    assert follow(broken, "--now", "01:20").code == 2
    assert "a CSV list holds the steps alone" in follow(PATH.with_suffix(".csv"), "--now", "01:20").stderr
    assert follow(tmp_path / "none.json").code == 2


def test_once_starts_without_solver_and_sky() -> None:
    code = (
        "import sys\n"
        f"sys.argv = ['darkfill', 'follow', {str(PATH)!r}, '--now', '01:20']\n"
        "from optimizer.cli.app import main\n"
        "try:\n    main()\nexcept SystemExit as end:\n    print('code', end.code)\n"
        "print('loaded', *sorted(sys.modules))\n"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "\ncode 0\n" in out
    loaded = set(out[out.rindex("loaded ") :].split())
    assert "optimizer.report.follow_view" in loaded
    assert not loaded & {"ortools", "astropy", "numpy", "numba", "erfa", "jinja2", "http.server"}


# --- in a pipe ---------------------------------------------------------------------------------------------


def test_pipe_gets_a_block_where_something_changes_and_else_a_line_a_minute(hours: Hours) -> None:
    ran = follow(PATH)
    assert (ran.code, ran.stderr) == (0, "")
    blocks = ran.stdout.split("\n\n0")
    assert [line.split(",")[0][-8:] for line in ran.stdout.splitlines() if ", night of" in line] == [
        "01:20:00",
        "01:22:20",
    ]
    lines = [line for line in ran.stdout.splitlines() if " by the plan " in line]
    times = ["01:21:00", "01:22:00", *(f"01:2{minute}:20" for minute in range(3, 10))]
    assert [line[:8] for line in lines] == times
    assert lines[2] == "01:23:20 by the plan sub 30 of 39, L 180 s, Whirl in Triangulum; flip in 3 h 01 min"
    assert len(blocks) == 2


def test_lateness_makes_a_block_of_its_own(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    happened = night(stalls={86: 700.0})
    begin = FIRST.steps[84].start_utc
    made = Hours(begin, begin + dt.timedelta(minutes=50))
    follower = Follower(PATH, tmp_path)

    def arrive() -> None:
        happened.write_until(tmp_path, made.now)
        follower.look()

    made.at_each.append(arrive)
    arrive()
    follow_in_pipe(follower, made.clock, made.wait)
    out = capsys.readouterr().out
    late = [line for line in out.splitlines() if line.startswith("Late ")]
    assert late[0] == "Late   no: the latest image was taken less than 30 s late"
    overdue = next(line for line in late if "no image since" in line)
    assert "the next one was due at" in overdue
    assert re.fullmatch(r"Late   11 min, since the sub planned for 00:42:20", late[-1])
    assert re.search(r"^\d\d:\d\d:\d\d by the plan .*; an image is overdue$", out, re.MULTILINE)
    assert out.splitlines()[-1].endswith("; 11 min late")


def test_it_ends_by_itself_after_the_list(tmp_path: Path) -> None:
    ends = FIRST.steps[-1].end_utc
    follower = Follower(PATH, None)
    follower.look()
    for minutes, is_over in ((-1, False), (9, False), (11, True)):
        assert over(follower.told(ends + dt.timedelta(minutes=minutes))) is is_over
    happened = night(stalls={270: 300.0})
    happened.write_until(tmp_path, ends + dt.timedelta(minutes=30))
    late = Follower(PATH, tmp_path)
    late.look()
    images = late.told(ends).followed.images
    assert images is not None
    assert images.late_s > 60
    assert not over(late.told(ends + dt.timedelta(minutes=11)))
    assert over(late.told(ends + dt.timedelta(seconds=images.late_s + 601)))


def test_closed_pipe_ends_it_quietly(monkeypatch: pytest.MonkeyPatch) -> None:
    reads, writes = os.pipe()
    os.close(reads)
    with os.fdopen(writes, "w", encoding="utf-8") as beneath:
        out, _ = lenient(beneath)
        monkeypatch.setattr(sys, "stdout", out)
        assert not is_gone(out)
        made = Hours(BUSY, BUSY + dt.timedelta(days=1))
        follower = Follower(PATH, None)
        follower.look()
        follow_in_pipe(follower, made.clock, made.wait)
        assert is_gone(out)
    assert made.now < BUSY + dt.timedelta(minutes=1)


# --- on a terminal -----------------------------------------------------------------------------------------


def drawn_on_terminal(
    path: Path, list_path: Path, monkeypatch: pytest.MonkeyPatch, encoding: str = "utf-8"
) -> str:
    """All that a terminal gets in three seconds."""
    made = Hours(BUSY, BUSY + dt.timedelta(seconds=3), tick_s=1.0)
    follower = Follower(list_path, None)
    follower.look()
    with io.TextIOWrapper(io.BufferedWriter(Terminal(str(path), "w")), encoding, errors="replace") as stream:
        with monkeypatch.context() as patched:
            patched.setattr(sys, "stdout", stream)
            patched.setenv("TERM", "xterm-256color")
            patched.setenv("COLUMNS", "80")
            follow_on_terminal(follower, made.clock, made.wait)
        stream.flush()
        return path.read_text(encoding=encoding)


def test_terminal_is_drawn_anew_each_second_and_keeps_the_last_view(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = drawn_on_terminal(tmp_path / "screen", PATH, monkeypatch)
    assert [out.count(f"01:20:0{second}, night of") for second in range(3)] == [
        1,
        1,
        2,
    ]  # and once at the end
    last = out[out.rindex("01:20:02, night of") :]
    assert "2 min 02 s left" in out
    assert "2 min 00 s left" in last
    assert out.rindex("\x1b[?25h") > out.rindex("\x1b[?25l")  # the cursor is in sight
    assert not re.search(r"\x1b\[[0-9;]*(3[0-7]|9[0-7]|4[0-7])m", out)  # no colour carries anything


def test_terminal_that_knows_ascii_alone_is_written_to_in_ascii(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps = tuple(step.model_copy(update={"target": step.target and "Schleier ζ"}) for step in FIRST.steps)
    path = tmp_path / NAME
    write_json(path, FIRST.model_copy(update={"steps": steps}))
    out = drawn_on_terminal(tmp_path / "screen", path, monkeypatch, "ascii")
    assert "autofocus, Schleier ?; until 01:22:02" in out


# --- folders and lists that come and go --------------------------------------------------------------------


def test_folder_that_vanishes_is_said_and_then_gone_on_with(tmp_path: Path) -> None:
    folder = tmp_path / "images"
    happened = night()
    follower = Follower(PATH, folder)
    follower.look()
    assert "Folder not readable just now" in view(follower, BUSY)
    happened.write_until(folder, BUSY)
    for _ in range(2):
        follower.look()
    before = view(follower, BUSY)
    assert "69 subs have an image" in before
    folder.rename(tmp_path / "away")
    follower.look()
    gone = view(follower, BUSY)
    assert "Folder not readable just now" in gone
    assert "69 subs have an image" in gone
    (tmp_path / "away").rename(folder)
    follower.look()
    assert view(follower, BUSY) == before


def newer_list(folder: Path, older: Path, begins: dt.datetime) -> Path:
    """A list beside an older one that goes on with it from an instant on."""
    steps = tuple(step for step in FIRST.steps if step.start_utc >= begins)
    numbered = tuple(step.model_copy(update={"step": number}) for number, step in enumerate(steps, start=1))
    begin = Begin(utc=begins, target=steps[0].target, pier_side=steps[0].pier_side)
    goes_on = Continues(sha256=sha256_of_file(older), now_utc=begins, steps_done=(1, 2), begin=begin)
    path = folder / "heron.2026-10-10.replan-2320.shots.json"
    write_json(path, FIRST.model_copy(update={"steps": numbered, "continues": goes_on}))
    return path


def test_newer_list_is_gone_over_to(tmp_path: Path) -> None:
    older = tmp_path / NAME
    shutil.copy(PATH, older)
    follower = Follower(older, None)
    follower.look()
    assert f"List: {NAME}." in view(follower, BUSY)
    newer = newer_list(tmp_path, older, FIRST.steps[110].start_utc)
    follower.look()
    shown = view(follower, BUSY)
    assert f"List: {newer.name}." in shown
    assert f"This newer list goes on with {NAME}." in shown
    assert "Now    the list begins at" in shown
    assert follower.told(BUSY).followed.replan == ("darkfill", "replan", str(newer))
    older.unlink()
    follower.look()
    assert "List   not readable just now" in view(follower, BUSY)


def test_instant_before_a_newer_list_is_told_by_the_one_that_was_named(tmp_path: Path) -> None:
    older = tmp_path / NAME
    shutil.copy(PATH, older)
    newer = newer_list(tmp_path, older, FIRST.steps[110].start_utc)
    assert f"List: {NAME}." in follow(older, "--now", "01:20").stdout
    assert f"List: {newer.name}." in follow(older, "--now", "02:20").stdout


# --- the command to paste ----------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [16, 30, 60, 200])
def test_command_pasted_into_a_shell_is_the_words_it_was_made_of(width: int) -> None:
    words = ("printf", "%s\\n", "it's here/my list.json", "--done", "1-20,22-41", "$HOME", "a b")
    script = "\n".join(pasted_lines(words, width, windows=False))
    assert width < 60 or max(map(len, script.splitlines())) <= width
    ran = subprocess.run(["sh", "-c", script], capture_output=True, text=True, check=True)
    assert ran.stdout.splitlines() == list(words[2:])


def test_command_for_windows_is_quoted_and_folded_as_its_shell_has_it() -> None:
    words = ("darkfill", "replan", "C:\\my lists\\a.json", "--now", "01:20:00")
    assert pasted_lines(words, 100, windows=True) == ['darkfill replan "C:\\my lists\\a.json" --now 01:20:00']
    assert pasted_lines(words, 40, windows=True) == [
        'darkfill replan "C:\\my lists\\a.json" `',
        "  --now 01:20:00",
    ]


# --- the server --------------------------------------------------------------------------------------------


def test_served_page_has_what_the_images_say_and_the_newest_list(tmp_path: Path) -> None:
    night(stalls={80: 600.0}).write_until(tmp_path, BUSY)
    follower = Follower(PATH, tmp_path)
    follower.look()
    made = Hours(BUSY, BUSY)
    with list_server(follower, made.clock, lan=False, port=0) as server:
        address = f"http://localhost:{server.port}"

        def get(path: str) -> tuple[bytes, str]:
            with urllib.request.urlopen(address + path, timeout=20) as answer:
                return answer.read(), answer.headers["ETag"]

        page = get("/")[0].decode()
        listed, tag = get("/list.json")
        assert get("/list.csv")[0].decode() == csv_text(FIRST.steps)
    assert "By the images, as of 01:20:00" in page
    assert "Late: 10 min" in page
    assert ShotList.model_validate(json.loads(listed)).steps == FIRST.steps
    assert tag.strip('"') in page


def test_serving_says_where_and_ends_with_ctrl_c(hours: Hours, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimizer.follow.server.PORT", 0)
    ran = follow(PATH, "--serve", "--lan", "--port", _free_port())
    assert ran.code == 0
    assert "On this computer: http://localhost:" in ran.stderr
    assert "Caution: with --lan anyone in the same network can read" in ran.stderr
    assert "01:20:00, night of" in ran.stdout


def _free_port() -> int:
    import socket

    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])
