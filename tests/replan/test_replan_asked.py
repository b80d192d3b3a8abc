"""What is told beside a list: times in the site's zone, and each mistake with its place, value and remedy."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest

from optimizer.errors import InputError
from optimizer.pace.ranges import ranges_of
from optimizer.replan import asked as asked_module
from optimizer.replan.asked import Asked, told_of
from optimizer.replan.told import Told
from tests.support.replan_nights import DATA, at, laid_list, small_request

MADRID = "the night of 2026-11-14, which lasts from 2026-11-14T12:12Z to 2026-11-15T12:12Z"


def option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def told(**asked: Any) -> Told:
    return told_of(laid_list(), Asked(**{"now": "21:50", **asked}), "command line", option)


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("21:50", "20:50"),
        ("21:50:07", "20:50:07"),
        ("00:30", "23:30"),
        ("20:50Z", "20:50"),
        ("2026-11-14T21:50", "20:50"),
        ("2026-11-14 21:50", "20:50"),
        ("2026-11-14T21:50:30Z", "21:50:30"),
        ("2026-11-14T21:50+02:00", "19:50"),
    ],
)
def test_times_are_local_unless_they_say_otherwise(text: str, utc: str) -> None:
    assert told(now=text).now == at(utc)


def test_instants_are_taken_from_python_too() -> None:
    zone = dt.timezone(dt.timedelta(hours=2))
    assert told(now=dt.datetime(2026, 11, 14, 22, 50, 0, 999, zone)).now == at("20:50")


def test_without_a_time_the_list_takes_over_shortly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(asked_module, "utc_now", lambda: at("20:50").replace(microsecond=700_000))
    assert told(now=None).now == at("20:50:10")


def test_everything_told_is_kept() -> None:
    found = told(
        done=[1, 2, 3], pier_side="west", at="Cradle", filter="Ha", focused="21:45", drop_current=True,
        until="01:00", blocks=[("21:30", "22:00"), ("23:00", "-"), ("23:30", None), ("23:40", "open")],
        without=["Iris"],
    )  # fmt: skip
    night_ends = dt.datetime(2026, 11, 15, 12, 12, 26, tzinfo=dt.UTC)
    assert found == Told(
        now=at("20:50"),
        done=frozenset({1, 2, 3}),
        pier_side="west",
        at="Cradle",
        filter="Ha",
        focused=at("20:45"),
        drop_current=True,
        until=at("00:00"),
        blocks=(
            (at("20:30"), at("21:00")),
            (at("22:00"), night_ends),
            (at("22:30"), night_ends),
            (at("22:40"), night_ends),
        ),
        left_out=frozenset({"Iris"}),
    )
    assert told(only=["Iris"]).left_out == frozenset({"Cradle"})


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"now": "soon"}, "--now = soon: this is no time; "
         "write it like 20:30, 2026-11-14T20:30 or 2026-11-14T19:30:00Z"),
        ({"now": "25:00"}, "--now = 25:00: there is no such time of day; "
         "write it like 20:30, 2026-11-14T20:30 or 2026-11-14T19:30:00Z"),
        ({"now": "2026-11-16T01:00"}, f"--now = 2026-11-16T01:00: is outside {MADRID}; "
         "give a time of that night, or name the list of another one"),
        ({"now": at("22:00").replace(tzinfo=None)}, "--now = 2026-11-14T22:00:00: has no time zone; "
         "give one, such as datetime.UTC"),
        ({"until": "21:50"}, "--until = 21:50: is no later than 2026-11-14T20:50:00Z, when the new list takes over; "
         "give a later time, or park the mount"),
        ({"focused": "21:51"}, "--focused = 21:51: is later than 2026-11-14T20:50:00Z, when the new list takes over; "
         "say when the latest autofocus ended"),
        ({"blocks": [("23:00", "22:00")]}, "--block = 23:00 22:00: ends no later than it begins; "
         "give the earlier time first"),
        ({"blocks": [("-", "22:00")]}, "--block = -: this is no time; "
         "write it like 20:30, 2026-11-14T20:30 or 2026-11-14T19:30:00Z"),
        ({"filter": "OIII"}, '--filter = OIII: is no filter of this list; there are "L" and "Ha"'),
        ({"at": "Cradel", "pier_side": "west"}, '--at = Cradel: is no target of this list; did you mean "Cradle"?'),
        ({"at": "Cradle"}, "--at = Cradle: does not say on which pier side the tube is; "
         "add --pier-side west or east"),
        ({"pier_side": "west"}, "--pier-side = west: does not say what the mount is on; "
         "add --at with the name of a target"),
        ({"pier_side": "left", "at": "Iris"}, "--pier-side = left: is no pier side; give west or east"),
        ({"parked": True, "pier_side": "west", "at": "Iris"}, "--pier-side = west: does not go with --parked; "
         "keep one of the two"),
        ({"parked": True, "at": "Iris"}, "--at = Iris: does not go with --parked; keep one of the two"),
        ({"without": ["Iriss"]}, '--without = Iriss: is no target of this list; did you mean "Iris"?'),
        ({"only": ["M 31"]}, '--only = M 31: is no target of this list; there are "Cradle" and "Iris"'),
        ({"without": ["Iris", "Cradle"]}, "--without = Iris and Cradle: leaves no target; keep one, or park the mount"),
        ({"only": ["Iris"], "without": ["Iris"]}, "--only = Iris and Iris: leaves no target; "
         "keep one, or park the mount"),
        ({"done": [31]}, "--done = 31: is no step of this list, which has 30; give the list's own numbers"),
        ({"done": [12]}, "--done = 12: begins at 2026-11-14T20:55:32Z in this list, later than 2026-11-14T20:50:00Z; "
         "leave it out, or give a later --now"),
    ],
)  # fmt: skip
def test_each_mistake_is_told_with_its_remedy(asked: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError) as raised:
        told(**asked)
    assert str(raised.value) == f"command line: {message}"


def test_list_edited_to_names_that_its_request_lacks_is_refused() -> None:
    older = laid_list()
    steps = [step.model_copy(update={"target": "Nobody"} if step.target else {}) for step in older.steps]
    with pytest.raises(InputError) as raised:
        told_of(older.model_copy(update={"steps": tuple(steps)}), Asked(now="21:50"), "command line", option)
    assert str(raised.value) == (
        "command line: target = \"Nobody\": the list's step 1 names a target that the list's request does not "
        "have; name the list as it was planned"
    )


def test_all_mistakes_are_told_at_once() -> None:
    with pytest.raises(InputError) as raised:
        told(now="25:00", filter="X", without=["Y"])
    assert [problem.key for problem in raised.value.problems] == ["--now", "--filter", "--without"]


def test_clock_that_is_not_in_the_night_must_be_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(asked_module, "utc_now", lambda: dt.datetime(2026, 11, 20, 1, tzinfo=dt.UTC))
    with pytest.raises(InputError) as raised:
        told(now=None)
    assert str(raised.value) == (
        f"command line: --now = 2026-11-20T01:00:10Z: by the clock, is outside {MADRID}; "
        "say which instant of that night you mean"
    )


def test_fork_has_no_pier_side() -> None:
    fork = laid_list(request=small_request(mount={"kind": "fork"}))
    assert told_of(fork, Asked(now="21:50", at="Iris"), "x").at == "Iris"
    with pytest.raises(
        InputError, match="pier_side = west: is told of a fork mount, which has none; leave it out"
    ):
        told_of(fork, Asked(now="21:50", at="Iris", pier_side="west"), "x")


def test_hour_that_comes_twice_or_never_names_both_offsets() -> None:
    """In Madrid the clocks go back on 2026-10-25 at 03:00 and forward on 2026-03-29 at 02:00."""
    autumn = laid_list(request=small_request(night={**DATA["night"], "evening": "2026-10-24", "clear": []}))
    with pytest.raises(InputError) as raised:
        told_of(autumn, Asked(now="02:30"), "command line", option)
    assert str(raised.value) == (
        "command line: --now = 02:30: 02:30:00 comes twice on 2026-10-25 in Europe/Madrid, where the clocks go from "
        "UTC+02:00 to UTC+01:00; say which: 2026-10-25T02:30:00+02:00 or 2026-10-25T02:30:00+01:00"
    )
    told_which = told_of(autumn, Asked(now="2026-10-25T02:30:00+01:00"), "command line", option)
    assert told_which.now == dt.datetime(2026, 10, 25, 1, 30, tzinfo=dt.UTC)
    spring = laid_list(request=small_request(night={**DATA["night"], "evening": "2026-03-28", "clear": []}))
    with pytest.raises(InputError) as raised:
        told_of(spring, Asked(now="02:30"), "command line", option)
    assert str(raised.value) == (
        "command line: --now = 02:30: there is no 02:30:00 on 2026-03-29 in Europe/Madrid, where the clocks go from "
        "UTC+01:00 to UTC+02:00; write the instant in UTC, like 2026-03-29T01:30:00Z"
    )


def test_steps_done_are_read_from_a_column(tmp_path: Path) -> None:
    path = tmp_path / "done.csv"
    path.write_bytes(b"\xef\xbb\xbfstep\r\n1\r\n\r\n 2 \r\n2\r\n")
    assert told(done=path).done == frozenset({1, 2})
    path.write_text("kind,step,note\nslew,1,\ncentre,2,done\n")
    assert told(done=path).done == frozenset({1, 2})
    path.write_text("step\n")
    assert told(done=path).done == frozenset()


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("1-3,5", {1, 2, 3, 5}),
        ("7", {7}),
        (" 1 - 3 , 5 ", {1, 2, 3, 5}),
        ("1-4,2-6,6", {1, 2, 3, 4, 5, 6}),
        ("5,1-2", {1, 2, 5}),
        ("4-4", {4}),
    ],
)
def test_steps_done_are_read_from_ranges(text: str, numbers: set[int]) -> None:
    assert told(done=text).done == frozenset(numbers)
    assert told(done=ranges_of(numbers)).done == frozenset(numbers)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("1-31", "--done = 31: is no step of this list, which has 30; give the list's own numbers"),
        ("1-3,2-9999999", "--done = 9999999: is no step of this list, which has 30; give the list's own numbers"),
        ("900-1000", "--done = 1000: is no step of this list, which has 30; give the list's own numbers"),
        ("1-15", "--done = 9: begins at 2026-11-14T20:50:47Z in this list, later than 2026-11-14T20:50:00Z; "
         "leave it out, or give a later --now"),
        ("0-3", "--done = 0-3: 0 is no number of a step; steps count from 1, without zeros before them"),
        ("01-03", "--done = 01-03: 01 is no number of a step; steps count from 1, without zeros before them"),
        ("1-99999999", "--done = 1-99999999: 99999999 is no number of a step; "
         "steps count from 1, without zeros before them"),
        ("9-1", "--done = 9-1: 9-1 ends before it begins; write 1-9"),
        ("1-3,,5", "--done = 1-3,,5: a number is missing; write numbers and ranges between commas, such as "
         "1-150,153,160-188"),
        ("", "--done: a number is missing; write numbers and ranges between commas, such as 1-150,153,160-188"),
        ("1-2-3", '--done = 1-2-3: "1-2-3" is no range of numbers of steps; write numbers and ranges between '
         "commas, such as 1-150,153,160-188"),
        ("-5", '--done = -5: "-5" is no range of numbers of steps; write numbers and ranges between commas, '
         "such as 1-150,153,160-188"),
        ("1\u20133", '--done = 1\u20133: "1\u20133" is no range of numbers of steps; write numbers and ranges '
         "between commas, such as 1-150,153,160-188"),
        ("\u0661-\u0663", '--done = \u0661-\u0663: "\u0661-\u0663" is no range of numbers of steps; write '
         "numbers and ranges between commas, such as 1-150,153,160-188"),
    ],
)  # fmt: skip
def test_each_mistake_in_ranges_of_steps_done_is_told(text: str, message: str) -> None:
    with pytest.raises(InputError) as raised:
        told(done=text)
    assert str(raised.value) == f"command line: {message}"


def test_file_named_like_a_range_is_named_with_its_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("1-3").write_text("step\n5\n")
    Path("done.csv").write_text("step\n6\n")
    assert told(done="1-3").done == frozenset({1, 2, 3})
    assert told(done="./1-3").done == frozenset({5})
    assert told(done=Path("1-3")).done == frozenset({5})
    assert told(done="done.csv").done == frozenset({6})


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("1\n2\n", ":1: there is no column step; write step into the first line, then one number a line"),
        ("step\none\n", ':2: step = "one": is no number of a step; give a whole number from 1 on, one a line'),
        ("step,kind\n1,slew\n,expose\n", ':3: step = "": is no number of a step; give a whole number from 1 on, '
         "one a line"),
        ("step\n1\n99\n", ":3: step = 99: is no step of this list, which has 30; give the list's own numbers"),
        ("step\n12\n", ":2: step = 12: begins at 2026-11-14T20:55:32Z in this list, later than 2026-11-14T20:50:00Z; "
         "leave it out, or give a later --now"),
        ("", ": the file is empty; write the steps done into it"),
    ],
)  # fmt: skip
def test_each_mistake_in_a_file_of_steps_done_has_its_line(text: str, message: str, tmp_path: Path) -> None:
    path = tmp_path / "done.csv"
    path.write_text(text)
    with pytest.raises(InputError) as raised:
        told(done=path)
    assert str(raised.value) == f"{path}{message}"


def test_file_of_steps_done_that_is_missing_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"done\.csv: there is no such file; check the name and the folder"):
        told(done=tmp_path / "done.csv")
