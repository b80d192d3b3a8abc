"""`darkfill follow` by the clock: in a pipe, on a terminal, and how it ends."""

from __future__ import annotations

import datetime as dt
import io
import os
import re
import sys
from pathlib import Path

import pytest

from optimizer.cli.following import Follower, follow_in_pipe, follow_on_terminal, over
from optimizer.cli.streams import is_gone, lenient
from optimizer.export.json_file import write_json
from optimizer.report.moment_words import span_words
from tests.support.cli_cases import Terminal
from tests.support.follow_clock import (
    BEFORE,
    BUSY,
    FIRST,
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


def after(seconds: float) -> str:
    """The local time so many seconds after `BUSY`."""
    return local(BUSY + dt.timedelta(seconds=seconds))


def test_pipe_gets_a_block_where_something_changes_and_else_a_line_a_minute(hours: Hours) -> None:
    ran = follow(PATH)
    assert (ran.code, ran.stderr) == (0, "")
    blocks = ran.stdout.split(f"\n\n{after(140)},")
    assert [line.split(",")[0][-8:] for line in ran.stdout.splitlines() if ", night of" in line] == [
        NOW,
        after(140),
    ]
    lines = [line for line in ran.stdout.splitlines() if " by the plan " in line]
    times = [after(60), after(120), *(after(140 + 60 * minute) for minute in range(1, 8))]
    assert [line[:8] for line in lines] == times
    assert re.fullmatch(rf"{after(200)} by the plan sub \d+ of \d+, .+; flip in \d h \d\d min", lines[2])
    assert len(blocks) == 2


def test_lateness_makes_a_block_of_its_own(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    happened = night(stalls={HUNG.step: HANG_S})
    made = Hours(HUNG.start_utc, HUNG.start_utc + dt.timedelta(seconds=HANG_S + 6 * HUNG.seconds))
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
    next_one = BEFORE[BEFORE.index(HUNG) + 1]
    assert late[-1] == f"Late   {span_words(HANG_S)}, since the sub planned for {local(next_one.start_utc)}"
    assert re.search(r"^\d\d:\d\d:\d\d by the plan .*; an image is overdue$", out, re.MULTILINE)
    assert out.splitlines()[-1].endswith(f"; {span_words(HANG_S)} late")


def test_it_ends_by_itself_after_the_list(tmp_path: Path) -> None:
    ends = FIRST.steps[-1].end_utc
    follower = Follower(PATH, None)
    follower.look()
    for minutes, is_over in ((-1, False), (9, False), (11, True)):
        assert over(follower.told(ends + dt.timedelta(minutes=minutes))) is is_over
    hung = [step for step in FIRST.steps if step.kind == "expose"][-4]
    happened = night(stalls={hung.step: 300.0})
    happened.write_until(tmp_path, ends + dt.timedelta(minutes=30))
    late = Follower(PATH, tmp_path)
    late.look()
    images = late.told(ends).followed.images
    assert images is not None
    assert images.late_s > 60
    assert not over(late.told(ends + dt.timedelta(minutes=11)))
    assert over(late.told(ends + dt.timedelta(seconds=images.late_s + 601)))


@pytest.mark.parametrize("late_s", [0.0, 90.0])
def test_it_ends_by_itself_although_the_last_image_never_comes(tmp_path: Path, late_s: float) -> None:
    """The missing image makes the list later and later: that is no reason to wait for ever."""
    last = [step for step in FIRST.steps if step.kind == "expose"][-1]
    ends = FIRST.steps[-1].end_utc
    happened = night(lost=(last.step,), begins_late_s=late_s)
    happened.write_until(tmp_path, ends + dt.timedelta(minutes=30))
    follower = Follower(PATH, tmp_path)
    follower.look()
    assert not over(follower.told(ends + dt.timedelta(seconds=599)))
    assert over(follower.told(ends + dt.timedelta(seconds=601 + late_s)))


def test_it_ends_by_itself_after_a_night_that_was_given_up(tmp_path: Path) -> None:
    """Since no image came any more the list is later and later, and yet it has ended."""
    night().write_until(tmp_path, BUSY)
    follower = Follower(PATH, tmp_path)
    follower.look()
    ends = FIRST.steps[-1].end_utc
    images = follower.told(ends + dt.timedelta(minutes=9)).followed.images
    assert images is not None
    assert images.late_at_least
    for minutes, is_over in ((-60, False), (9, False), (11, True), (600, True)):
        assert over(follower.told(ends + dt.timedelta(minutes=minutes))) is is_over


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


def drawn_on_terminal(
    path: Path,
    list_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    encoding: str = "utf-8",
    *,
    images: Path | None = None,
    lines: int = 40,
    columns: int = 80,
) -> str:
    """All that a terminal gets in three seconds."""
    made = Hours(BUSY, BUSY + dt.timedelta(seconds=3), tick_s=1.0)
    follower = Follower(list_path, images)
    follower.look()
    with io.TextIOWrapper(io.BufferedWriter(Terminal(str(path), "w")), encoding, errors="replace") as stream:
        with monkeypatch.context() as patched:
            patched.setattr(sys, "stdout", stream)
            patched.setenv("TERM", "xterm-256color")
            patched.setenv("COLUMNS", str(columns))
            patched.setenv("LINES", str(lines))
            follow_on_terminal(follower, made.clock, made.wait)
        stream.flush()
        return path.read_text(encoding=encoding)


def test_terminal_is_drawn_anew_each_second_and_keeps_the_last_view(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = drawn_on_terminal(tmp_path / "screen", PATH, monkeypatch)
    assert [out.count(f"{after(second)}, night of") for second in range(3)] == [
        1,
        1,
        2,
    ]  # and once at the end
    last = out[out.rindex(f"{after(2)}, night of") :]
    assert "2 min 02 s left" in out
    assert "2 min 00 s left" in last
    assert out.rindex("\x1b[?25h") > out.rindex("\x1b[?25l")  # the cursor is in sight
    assert not re.search(r"\x1b\[[0-9;]*(3[0-7]|9[0-7]|4[0-7])m", out)  # no colour carries anything


def test_low_window_keeps_what_matters(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    images = tmp_path / "images"
    night(stalls={HUNG.step: HANG_S}, lost=(LOST.step,)).write_until(images, BUSY)
    high, low = (
        drawn_on_terminal(tmp_path / "screen", PATH, monkeypatch, images=images, lines=lines)
        for lines in (40, 24)
    )
    last = [
        re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", out[out.rindex(f"{after(2)}, night") :]).rstrip()
        for out in (high, low)
    ]
    assert last[0].count("\n") >= 23 > last[1].count("\n") + 1
    kept = (
        "Now ",
        "Next ",
        "Flip ",
        "FLIP ",
        "Late ",
        "Cost ",
        "Gaps ",
        "Check where the mount is",
        "darkfill replan",
    )
    assert [words for words in kept if words not in last[1]] == []
    assert "Seen " in last[0]
    assert "Seen " not in last[1]


def test_narrow_terminal_has_every_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    images = tmp_path / "images"
    night(stalls={HUNG.step: HANG_S}, lost=(LOST.step,)).write_until(images, BUSY)
    last = []
    for columns in (110, 32):
        out = drawn_on_terminal(
            tmp_path / "screen", PATH, monkeypatch, images=images, lines=400, columns=columns
        )
        shown = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", out[out.rindex(f"{after(2)}, night") :])
        assert max(len(line.rstrip("\r")) for line in shown.split("\n")) <= columns
        last.append(re.sub(r"\s+|\\\r?\n", "", shown))
    assert last[0] == last[1]


def test_terminal_that_knows_ascii_alone_is_written_to_in_ascii(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps = tuple(step.model_copy(update={"target": step.target and "Schleier ζ"}) for step in FIRST.steps)
    path = tmp_path / NAME
    write_json(path, FIRST.model_copy(update={"steps": steps}))
    out = drawn_on_terminal(tmp_path / "screen", path, monkeypatch, "ascii")
    assert f"autofocus, Schleier ?; until {local(FOCUS.end_utc)}" in out
