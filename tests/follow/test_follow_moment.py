"""What is told of a list at an instant: right to the second, at every edge."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from optimizer.follow.moment import Moment, moment, place_in_run
from optimizer.models.continues import Begin
from optimizer.models.shots import ShotList
from optimizer.report.moment_words import doing_words, moment_words, span_words
from tests.support.replan_nights import DATA, at, laid_list, small_request

SECOND = dt.timedelta(seconds=1)
LATEST = {
    "6": "20:47:38",
    "7": "20:49:41",
    "17": "21:03:38",
    "18": "21:12:41",
    "22": "21:20:06",
    "29": "21:40:00",
}


def a_list(latest: dict[str, str] = LATEST, *, mount: dict[str, Any] | None = None, **kept: Any) -> ShotList:
    """The list laid by hand, latest starts given to some of its steps."""
    request = small_request(mount={**DATA["mount"], **(mount or {})})
    shots = laid_list(request=request, **kept)
    steps = tuple(
        step.model_copy(update={"latest_start_utc": at(latest[str(step.step)])})
        if str(step.step) in latest
        else step
        for step in shots.steps
    )
    return shots.model_copy(update={"steps": steps})


def numbers(told: Moment) -> tuple[int | None, int | None, int | None]:
    """The steps that run, come next, and flip."""
    each = (told.running, told.next, told.flip)
    running, coming, flip = (None if step is None else step.step for step in each)
    return running, coming, flip


@pytest.mark.parametrize(
    ("now", "phase", "steps"),
    [
        ("20:39:59", "before", (None, 1, 18)),
        ("20:40:00", "during", (1, 2, 18)),  # the first second of the first step
        ("20:40:59", "during", (1, 2, 18)),
        ("20:41:00", "during", (2, 3, 18)),  # where one step ends, the next runs
        ("20:44:37", "during", (5, 6, 18)),
        ("20:44:38", "during", (6, 11, 18)),  # subs and dithers of its run are passed over
        ("20:50:47", "during", (9, 10, 18)),  # a dither runs
        ("20:55:32", "during", (12, 13, 18)),
        ("20:55:44", "during", (13, 14, 18)),
        ("20:59:59", "during", (14, 15, 18)),
        ("21:02:38", "during", (17, 18, 18)),
        ("21:07:40", "during", (17, 18, 18)),
        ("21:07:41", "during", (18, 19, None)),  # the flip runs: it is the next one no more
        ("21:10:06", "during", (22, 23, None)),
        ("21:34:38", "during", (29, 30, None)),
        ("21:38:59", "during", (30, None, None)),
        ("21:39:00", "after", (None, None, None)),  # the list is over with its last second
        ("21:39:01", "after", (None, None, None)),
    ],
)
def test_steps_of_a_moment(now: str, phase: str, steps: tuple[int | None, ...]) -> None:
    told = moment(a_list(), at(now))
    assert (told.phase, numbers(told)) == (phase, steps)
    assert (told.begins_utc, told.ends_utc) == (at("20:40"), at("21:39"))


def test_every_second_of_a_list_has_its_step() -> None:
    shots = a_list()
    for step in shots.steps:
        for now in (step.start_utc, step.end_utc - SECOND):
            assert moment(shots, now).running is step
        assert moment(shots, step.end_utc).running is not step


def test_fraction_of_a_second_and_zone_of_the_clock_change_nothing() -> None:
    shots = a_list()
    late = at("20:40:59") + dt.timedelta(microseconds=999_999)
    assert moment(shots, late) == moment(shots, at("20:40:59"))
    there = dt.timezone(dt.timedelta(hours=-7))
    assert moment(shots, late.astimezone(there)) == moment(shots, at("20:40:59"))


@pytest.mark.parametrize(
    ("now", "slack_s"),
    [
        ("20:00:00", 180),  # before the list: of its first step; sub 6 may be 180 s late
        ("20:40:00", 180),
        ("20:44:37", 180),
        ("20:44:38", 180),  # sub 7
        ("20:46:41", 193),  # sub 17 may be 60 s late, and the wait before it takes up 133 s
        ("20:57:46", 193),
        ("20:57:47", 193),  # the wait runs, all of it is left
        ("20:58:47", 133),
        ("20:59:59", 61),
        ("21:00:00", 60),
        ("21:02:37", 60),
        ("21:02:38", 300),  # flip
        ("21:07:41", 600),  # sub 22
        ("21:10:06", 891 + 322),  # sub 29, behind a wait of 891 s
        ("21:15:09", 891 + 322),
        ("21:29:59", 1 + 322),
        ("21:34:37", 322),
        ("21:34:38", None),  # nothing after it has a latest start
        ("21:39:00", None),
    ],
)
def test_slack_is_that_of_the_next_step_and_what_is_left_of_a_wait(now: str, slack_s: int | None) -> None:
    assert moment(a_list(), at(now)).slack_s == slack_s


def test_flip_by_the_mount_is_never_late() -> None:
    told = moment(a_list({"18": "21:07:50"}, mount={"flip_by": "mount"}), at("21:05"))
    assert (told.flip_by, told.slack_s) == ("mount", None)
    assert told.flip is not None
    assert moment(a_list({"18": "21:07:50"}), at("21:05")).slack_s == 9


@pytest.mark.parametrize("mount", [{"kind": "fork"}, {"flip_by": "never"}])
def test_mount_that_never_flips_says_nothing_of_flips(mount: dict[str, Any]) -> None:
    shots = a_list(mount=mount)
    told = moment(shots, at("20:45"))
    assert (told.flip_by, told.flip) == ("nobody", None)
    assert moment_words(shots.steps, told, "UTC").flip is None


def test_list_without_steps_and_list_with_a_gap() -> None:
    empty = laid_list("")
    told = moment(empty, at("21:00"))
    assert (told.phase, numbers(told), told.slack_s) == ("empty", (None, None, None), None)
    words = moment_words((), told, "UTC")
    assert (words.now, words.next) == ("the list has no steps", "nothing more")
    shots = a_list()
    gap = shots.model_copy(update={"steps": shots.steps[:8] + shots.steps[9:]})
    told = moment(gap, at("20:50:50"))
    assert (told.phase, numbers(told)) == ("during", (None, 10, 18))
    assert moment_words(gap.steps, told, "UTC").now == "nothing: the list has a gap here"


def test_step_that_takes_no_time_never_runs() -> None:
    text = "slew 20:40 20:41 Cradle west\nfilter 20:41 20:41 Cradle west L\nexpose 20:41 20:43 Cradle west L 115\n"
    shots = laid_list(text)
    assert numbers(moment(shots, at("20:40:30"))) == (1, 2, None)
    assert numbers(moment(shots, at("20:41:00"))) == (3, None, None)


def test_list_that_goes_on_counts_its_own_subs() -> None:
    text = "expose 20:41 20:43 Cradle west L 115\ndither 20:43 20:44 Cradle west L\nexpose 20:44 20:46 Cradle west L 115\n"
    begin = Begin(utc=at("20:41"), target="Cradle", pier_side="west", acquired=True, filter="L")
    shots = laid_list(text, begin=begin)
    assert moment(shots, at("20:40")).phase == "before"
    assert place_in_run(shots.steps, shots.steps[2]) == (2, 2)


def test_sub_is_counted_in_its_run() -> None:
    """Dithers and autofocus part no run; a flip and another goal do."""
    steps = a_list().steps
    placed = {step.step: place_in_run(steps, step) for step in steps if step.kind == "expose"}
    assert placed == {
        6: (1, 5),
        7: (2, 5),
        8: (3, 5),
        10: (4, 5),
        13: (5, 5),
        17: (1, 1),
        22: (1, 1),
        29: (1, 1),
    }
    assert doing_words(steps, steps[7]) == "sub 3 of 5, L 120 s, Cradle"
    assert doing_words(steps, steps[14]) == "filter change, Ha, Cradle"
    assert doing_words(steps, steps[29]) == "park"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (59, "59 s"), (60, "1 min 00 s"), (599, "9 min 59 s"), (600, "10 min"), (659, "10 min"),
     (3599, "59 min"), (3600, "1 h 00 min"), (7325, "2 h 02 min")],
)  # fmt: skip
def test_spans_never_say_too_much(seconds: int, words: str) -> None:
    assert span_words(seconds) == words


def test_words_of_a_moment() -> None:
    """Local times: an hour more than UTC."""

    def words(now: str, shots: ShotList | None = None) -> tuple[str, ...]:
        laid = a_list() if shots is None else shots
        told = moment_words(laid.steps, moment(laid, at(now)), "Europe/Madrid")
        return told.now, told.next, told.flip or "", told.slack

    may = "so late the list may run without breaking or losing anything"
    assert words("20:39:20") == (
        "the list begins at 21:40:00, in 40 s",
        "slew, Cradle; at 21:40:00, in 40 s",
        "at 22:07:41, in 28 min; no later than 22:12:41",
        f"3 min 00 s: {may}",
    )
    assert words("20:48:44") == (
        "sub 3 of 5, L 120 s, Cradle; until 21:50:47, 2 min 03 s left",
        "autofocus, Cradle; at 21:53:02, in 4 min 18 s",
        "at 22:07:41, in 18 min; no later than 22:12:41",
        f"3 min 13 s: {may}",
    )
    assert words("21:08:00")[2] == "under way, the last one of this list"
    assert words("21:38:59") == (
        "park; until 22:39:00, 1 s left",
        "nothing: the list ends with this",
        "none left in this list",
        "no later step can be too late",
    )
    assert words("21:40:05")[:2] == ("the list ended at 22:39:00, 1 min 05 s ago", "nothing more")
    assert words("21:40:05")[3] == "none needed"
    by_mount = a_list(mount={"flip_by": "mount"})
    assert words("21:05:00", by_mount)[2] == "the mount makes it by itself, at 22:07:41, in 2 min 41 s"
    assert words("21:05:00", a_list({"18": "21:07:41"}))[3] == "none: a later step must not be late at all"
    no_flip = laid_list("slew 20:40 20:41 Cradle west\n")
    assert words("20:40:30", no_flip)[2] == "none in this list"
