"""Of lists that go on with one another, the newest is found, whatever else lies in the folder."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.export.json_file import json_text, read_json
from optimizer.follow import newest
from optimizer.follow.newest import NewestList, newest_list
from optimizer.models.continues import Begin, Continues
from optimizer.reading.shots_file import sha256_of_file

STORED = (
    Path(__file__).parents[2] / "plans" / "short-summer-night" / "stored" / "request.2026-06-20.shots.json"
)
FIRST = read_json(STORED)


@pytest.fixture
def named(tmp_path: Path) -> Path:
    path = tmp_path / "request.2026-06-20.shots.json"
    path.write_bytes(STORED.read_bytes())
    return path


def going_on(older: Path, name: str, minute: int) -> Path:
    """Write a list that goes on with another, made so many minutes after midnight, UTC."""
    now = "2026-06-20T23:30:00Z"
    begin = Begin.model_validate({"utc": now})
    goes_on = Continues.model_validate(
        {"sha256": sha256_of_file(older), "now_utc": now, "steps_done": [1, 2], "begin": begin}
    )
    made = FIRST.created_utc.replace(year=2026, month=6, day=21, hour=0, minute=minute)
    path = older.with_name(f"{name}.shots.json")
    shots = FIRST.model_copy(update={"continues": goes_on, "created_utc": made})
    path.write_text(json_text(shots), encoding="utf-8")
    return path


def test_a_list_that_nothing_goes_on_with_is_the_newest(named: Path) -> None:
    (named.parent / "another.2026-06-20.shots.json").write_bytes(STORED.read_bytes().replace(b"{", b"{ ", 1))
    found = NewestList(named).poll()
    assert (found.path, found.skipped, found.trouble) == (named, (), None)
    assert found.sha256 == sha256_of_file(named)
    assert found.shots == FIRST
    assert newest_list(named) == (named, FIRST)


def test_the_chain_is_followed_to_its_end(named: Path) -> None:
    one = going_on(named, "a", 10)
    two = going_on(one, "z", 20)
    three = going_on(two, "m", 30)
    for begin in (named, one, two, three):
        assert newest_list(begin)[0] == three
    assert newest_list(named)[1] == read_json(three)


def test_of_several_that_go_on_with_one_the_latest_counts_and_what_goes_on_with_it(named: Path) -> None:
    sooner, later = going_on(named, "z", 10), going_on(named, "a", 11)
    going_on(going_on(sooner, "y", 50), "x", 55)  # newer still, but of a list that was given up
    assert newest_list(named)[0] == later
    last = going_on(later, "b", 12)
    assert newest_list(named)[0] == last


def test_time_is_compared_not_text(named: Path) -> None:
    one, other = going_on(named, "a", 10), going_on(named, "b", 11)
    text = other.read_text(encoding="utf-8")
    assert text.count("2026-06-21T00:11:") == 1
    other.write_text(text.replace("2026-06-21T00:11:", "2026-06-20T23:11:"), encoding="utf-8")
    assert newest_list(named)[0] == one


def test_lists_that_were_renamed_or_lie_elsewhere_do_not_count(named: Path) -> None:
    path = going_on(named, "a", 10)
    for new in ("a.shots.json.old", "a.shots.json.old.2", ".a.shots.json", "a.json", "sub/a.shots.json"):
        (named.parent / new).parent.mkdir(exist_ok=True)
        path = path.rename(named.parent / new)
        assert newest_list(named)[0] == named
    path = path.rename(named.parent / "a.Shots.JSON")
    assert newest_list(named)[0] == path


def test_a_named_list_may_be_called_anything(named: Path) -> None:
    path = named.rename(named.with_name("tonight.json"))
    assert newest_list(path) == (path, FIRST)
    assert newest_list(going_on(path, "a", 10))[0].name == "a.shots.json"
    assert newest_list(path)[0].name == "a.shots.json"


def test_the_chain_is_followed_as_it_grows_and_shrinks(named: Path) -> None:
    chain = NewestList(named)
    assert chain.poll().path == named
    one = going_on(named, "a", 10)
    assert chain.poll().path == one
    two = going_on(one, "b", 20)
    assert chain.poll().path == two
    two.unlink()
    assert chain.poll().path == one
    assert chain.poll().shots == read_json(one)


def test_where_nothing_changed_nothing_is_read(named: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    last = going_on(named, "a", 10)
    going_on(last, "b", 20).write_text("{", encoding="utf-8")
    chain = NewestList(named)
    found = chain.poll()
    read: list[Path] = []
    read_bytes = Path.read_bytes

    def counting(path: Path) -> bytes:
        read.append(path)
        return read_bytes(path)

    monkeypatch.setattr(Path, "read_bytes", counting)
    assert chain.poll() is found
    assert read == []
    os.utime(last, (0, 0))
    assert chain.poll() is found
    assert read == [last]


HALF = b'{"schema": "darkfill-shots/1", "continues": {"sha256": "'


def broken(whole: bytes) -> dict[str, tuple[bytes, str]]:
    swapped = whole.replace(b'"schema": "darkfill-shots/1"', b'"schema": "darkfill-shots/1", "stars": 1')
    assert swapped != whole
    return {
        "half": (whole[: len(whole) // 2], "it is not whole: it does not end as a shot list does"),
        "nothing": (b"", "it is not whole: it does not end as a shot list does"),
        "odd": (HALF + b"}", "it is no shot list that can be read"),
        "a list": (b'["continues", {}]' + b" {}", "it is no shot list that can be read"),
        "no time": (
            whole.replace(b'"created_utc": "', b'"created_utc": "x'),
            "it is no shot list that can be read",
        ),
        "unknown": (swapped, "stars: this key is not known here"),
    }


@pytest.mark.parametrize("kind", list(broken(STORED.read_bytes())))
def test_lists_that_cannot_be_read_are_passed_over_and_named(named: Path, kind: str) -> None:
    one = going_on(named, "a", 10)
    two = going_on(named, "b", 20)
    last = going_on(two, "c", 30)
    whole = two.read_bytes()
    content, reason = broken(whole)[kind]
    two.write_bytes(content)
    chain = NewestList(named)
    found = chain.poll()
    assert found.path == one  # c goes on with what b was
    assert len(found.skipped) == 1
    assert found.skipped[0].startswith(f"b.shots.json: {reason}")
    two.write_bytes(whole)
    found = chain.poll()
    assert (found.path, found.skipped) == (last, ())


def test_a_list_that_changes_while_it_is_read_is_passed_over_for_now(
    named: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, two = going_on(named, "a", 10), going_on(named, "b", 20)
    monkeypatch.setattr(newest, "sha256_of_file", lambda path: "0" if path == two else sha256_of_file(path))
    found = NewestList(named).poll()
    assert (found.path, found.skipped) == (one, ("b.shots.json: it changed while it was read",))


@pytest.mark.parametrize("there", ["missing", "broken", "folder"])
def test_a_named_list_that_cannot_be_read_is_refused(named: Path, there: str) -> None:
    path = named.with_name("named.shots.json")
    if there == "folder":
        path.mkdir()
    if there == "broken":
        path.write_bytes(STORED.read_bytes()[:-9])
    with pytest.raises(InputError) as caught:
        newest_list(path)
    assert caught.value.problems[0].file == str(path)
    assert caught.value.problems[0].remedy


def test_a_folder_that_cannot_be_read_is_refused(named: Path) -> None:
    for path in (named.parent / "gone" / "a.shots.json", Path("nul\0") / "a.shots.json"):
        with pytest.raises(InputError):
            newest_list(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_never_waited_for(named: Path) -> None:
    os.mkfifo(named.parent / "pipe.shots.json")
    assert newest_list(named)[0] == named
    with pytest.raises(InputError):
        newest_list(named.parent / "pipe.shots.json")


def test_a_list_that_vanishes_leaves_what_was_known(named: Path) -> None:
    one = going_on(named, "a", 10)
    chain = NewestList(named)
    found = chain.poll()
    content = named.read_bytes()
    named.unlink()
    again = chain.poll()
    assert (again.path, again.shots) == (one, found.shots)
    assert again.trouble == f"{named}: there is no such file"
    named.write_bytes(content)
    assert chain.poll() == found


def test_a_named_list_that_is_planned_anew_begins_another_chain(named: Path) -> None:
    going_on(named, "a", 10)
    chain = NewestList(named)
    chain.poll()
    changed = {"created_utc": FIRST.created_utc.replace(year=2027)}
    named.write_text(json_text(FIRST.model_copy(update=changed)), encoding="utf-8")
    found = chain.poll()
    assert (found.path, found.shots.created_utc.year) == (named, 2027)
