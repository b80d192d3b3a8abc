"""A folder is watched while files are written in pieces, vanish, and are replaced: only whole frames count."""

from __future__ import annotations

import datetime as dt
import gzip
import os
import shutil
import sys
import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from types import SimpleNamespace

import pytest

from optimizer.follow import watch
from optimizer.follow.watch import NO_ANSWER, PATIENCE_S, TAKEN_AWAY, FolderWatch, Images
from optimizer.tally.folder import Listed, read_file
from optimizer.tally.frames import Damaged, Frame
from tests.support.fits_files import BLOCK, raw_frame

BEGIN = dt.datetime(2026, 11, 14, 20, tzinfo=dt.UTC)


class Clock:
    """A clock that goes on when it is told to; 0 s is `BEGIN`."""

    def __init__(self) -> None:
        self.at_s = 0.0

    def __call__(self) -> float:
        return BEGIN.timestamp() + self.at_s


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def images(tmp_path: Path) -> Path:
    folder = tmp_path / "images"
    folder.mkdir()
    return folder


def sub(begun_s: float | None = 0.0, exposure_s: float = 120.0, mark: str = "Cradle") -> bytes:
    """A whole file of a sub that was begun so many seconds after `BEGIN`."""
    cards = [f"OBJECT  = '{mark}'", f"EXPTIME = {exposure_s:20}"]
    if begun_s is not None:
        cards.append(f"DATE-OBS= '{(BEGIN + dt.timedelta(seconds=begun_s)).isoformat()[:19]}'")
    return raw_frame(*cards)


def put(path: Path, content: bytes, changed_s: float = -3600.0) -> Path:
    """Write a file that was changed last so many seconds after `BEGIN`."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    os.utime(path, ns=(0, int((BEGIN.timestamp() + changed_s) * 10**9)))
    return path


def names(told: Images) -> list[str]:
    return [frame.name for frame in told.frames]


def looks(watching: FolderWatch, clock: Clock, count: int = 1) -> Images:
    """Look so many times, 5 s between two looks."""
    told = watching.poll()
    for _ in range(count - 1):
        clock.at_s += 5
        told = watching.poll()
    return told


def test_what_was_there_counts_at_once_in_the_order_of_its_time(images: Path, clock: Clock) -> None:
    put(images / "a.fits", sub(900))
    put(images / "night" / "b.fits", sub(300))
    put(images / "night" / "c.fit.gz", gzip.compress(sub(600)))
    put(images / "d.fits", sub(None))
    put(images / "notes.txt", b"clouds")
    put(images / ".hidden.fits", sub())
    told = FolderWatch(images, clock).poll()
    assert names(told) == ["b.fits", "c.fit.gz", "a.fits", "d.fits"]
    assert told == Images(told.frames)
    assert told.frames[0] == read_file(images / "night" / "b.fits")


@pytest.mark.parametrize(("changed_s", "count"), [(-61.0, 1), (-59.0, 2), (0.0, 2), (59.0, 2), (61.0, 1)])
def test_at_the_first_look_what_was_changed_within_a_minute_must_stand_still(
    images: Path, clock: Clock, changed_s: float, count: int
) -> None:
    put(images / "a.fits", sub(-300), changed_s)
    watching = FolderWatch(images, clock)
    first = watching.poll()
    assert len(first.frames) == (count == 1)
    assert first.being_written == ((images / "a.fits",) if count == 2 else ())
    assert names(watching.poll()) == ["a.fits"]


def test_a_new_file_counts_once_it_has_stood_still_for_two_looks(images: Path, clock: Clock) -> None:
    watching = FolderWatch(images, clock)
    assert watching.poll() == Images()
    clock.at_s = 1000
    path = put(images / "a.fits", sub(800), 0.0)  # moved here, say: it is new though it was written long ago
    assert watching.poll() == Images(being_written=(path,))
    assert names(watching.poll()) == ["a.fits"]


def test_a_file_that_is_written_in_pieces_counts_when_it_is_whole(images: Path, clock: Clock) -> None:
    whole = sub(10)
    watching = FolderWatch(images, clock)
    watching.poll()
    path = images / "a.fits"
    for part in (0, 40, BLOCK, BLOCK + 100, len(whole) - 1):
        put(path, whole[:part], clock.at_s)
        for _ in range(2):  # it stands still for a look, and is not whole all the same
            clock.at_s += 5
            assert watching.poll() == Images(being_written=(path,))
    put(path, whole, clock.at_s)
    assert watching.poll() == Images(being_written=(path,))
    assert names(looks(watching, clock)) == ["a.fits"]


def test_a_file_of_full_length_whose_content_comes_later_counts_then(images: Path, clock: Clock) -> None:
    watching = FolderWatch(images, clock)
    watching.poll()
    path = put(images / "a.fits", bytes(len(sub())), 0.0)
    assert looks(watching, clock, 4) == Images(being_written=(path,))
    put(path, sub(), clock.at_s)
    assert names(looks(watching, clock, 2)) == ["a.fits"]


def test_a_file_that_stays_too_short_is_damaged_after_a_minute(images: Path, clock: Clock) -> None:
    watching = FolderWatch(images, clock)
    watching.poll()
    path = put(images / "a.fits", sub()[:4000], 0.0)
    clock.at_s = 59
    assert looks(watching, clock, 1) == Images(being_written=(path,))
    assert watching.poll() == Images(being_written=(path,))
    clock.at_s = 61
    reason = "it is cut short: it has 4,000 of the 5,760 bytes that it promises"
    assert watching.poll() == Images(damaged=(Damaged(path, reason, "cut_short"),))
    put(path, sub(), 70)  # the camera's program had been held up
    clock.at_s = 75
    assert watching.poll() == Images(being_written=(path,))
    assert names(watching.poll()) == ["a.fits"]


def test_a_header_is_read_once_and_again_when_its_file_has_changed(
    images: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[str] = []

    def counting(path: Path, *rest: object) -> Frame | Damaged:
        read.append(path.name)
        return read_file(path, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(watch, "read_file", counting)
    for number in range(5):
        put(images / f"{number}.fits", sub(number))
    put(images / "5.fits", b"no frame at all")
    watching = FolderWatch(images, clock)
    told = watching.poll()
    assert (len(told.frames), len(told.damaged), sorted(read)) == (5, 1, [f"{n}.fits" for n in range(6)])
    read.clear()
    assert looks(watching, clock, 10) is told  # not another one that is equal
    assert read == []
    os.utime(images / "1.fits", (0, 0))
    put(images / "2.fits", sub(2) + bytes(BLOCK))
    looks(watching, clock, 5)
    assert sorted(read) == ["1.fits", "2.fits"]


def test_what_vanishes_counts_no_longer(images: Path, clock: Clock) -> None:
    for number in range(3):
        put(images / "night" / f"{number}.fits", sub(number))
    put(images / "late.fits", sub()[:99], -1.0)
    watching = FolderWatch(images, clock)
    assert len(watching.poll().frames) == 3
    (images / "night" / "1.fits").unlink()
    (images / "late.fits").unlink()
    told = watching.poll()
    assert told == Images(told.frames)
    assert names(told) == ["0.fits", "2.fits"]
    shutil.rmtree(images / "night")
    assert watching.poll() == Images()


def test_a_file_that_vanishes_as_it_is_read_is_not_called_damaged(
    images: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    watching = FolderWatch(images, clock)
    watching.poll()
    path = put(images / "a.fits", sub(), 0.0)
    watching.poll()

    def vanishing(path: Path, *rest: object) -> Frame | Damaged:
        path.unlink()
        return read_file(path, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(watch, "read_file", vanishing)
    assert watching.poll() == Images(being_written=(path,))
    assert watching.poll() == Images()


@pytest.mark.parametrize("new", ["z.fits", "keep/a.fits"])
def test_a_file_that_is_renamed_goes_on_counting(images: Path, clock: Clock, new: str) -> None:
    put(images / "a.fits", sub(100))
    put(images / "b.fits", sub(200))
    bad = put(images / "bad.fits", b"no frame")
    watching = FolderWatch(images, clock)
    watching.poll()
    (images / new).parent.mkdir(exist_ok=True)
    (images / "a.fits").rename(images / new)
    bad.rename(images / "worse.fits")
    told = watching.poll()
    assert [each.path for each in told.frames] == [images / new, images / "b.fits"]
    assert told.frames[0] == read_file(images / new)
    assert [each.path for each in told.damaged] == [images / "worse.fits"]
    assert told.being_written == ()


def test_two_files_that_exchange_their_names_are_read_again(images: Path, clock: Clock) -> None:
    one, two = put(images / "a.fits", sub(100), -3600), put(images / "b.fits", sub(200), -7200)
    watching = FolderWatch(images, clock)
    watching.poll()
    one.rename(images / "c")
    two.rename(one)
    (images / "c").rename(two)
    assert names(looks(watching, clock, 2)) == ["b.fits", "a.fits"]


def test_a_file_that_is_replaced_counts_as_it_was_until_the_new_one_is_whole(
    images: Path, clock: Clock
) -> None:
    path = put(images / "a.fits", sub(100, mark="old"))
    watching = FolderWatch(images, clock)

    def told() -> list[str | None]:
        return [each.object for each in watching.poll().frames]

    assert told() == ["old"]
    new = sub(400, mark="new") + bytes(BLOCK)
    put(path, new[:3000], 0.0)
    assert told() == told() == ["old"]
    assert watching.poll().being_written == (path,)
    clock.at_s = 5
    put(path, new, 5.0)
    assert told() == ["old"]
    assert told() == ["new"]
    assert watching.poll().being_written == ()


def test_a_file_that_is_replaced_by_a_broken_one_counts_no_longer(images: Path, clock: Clock) -> None:
    path = put(images / "a.fits", sub(100))
    watching = FolderWatch(images, clock)
    watching.poll()
    put(path, sub()[:3000], 0.0)
    clock.at_s = 30
    assert names(looks(watching, clock, 3)) == ["a.fits"]
    clock.at_s = 61
    told = watching.poll()
    assert told.frames == ()
    assert [each.fault for each in told.damaged] == ["cut_short"]


def test_links_in_a_circle_and_what_is_no_file_are_told_and_harm_nothing(images: Path, clock: Clock) -> None:
    put(images / "a" / "1.fits", sub(1))
    (images / "a" / "up").symlink_to(images, target_is_directory=True)
    (images / "self.fits").symlink_to("self.fits")
    put(images / "folder.fits" / "2.fits", sub(2))
    watching = FolderWatch(images, clock)
    for _ in range(3):
        told = watching.poll()
        assert names(told) == ["1.fits", "2.fits"]
        assert [(each.path.name, each.fault) for each in told.damaged] == [
            *(("up", "circle"), ("folder.fits", "no_file"), ("self.fits", "circle"))
        ]


def test_a_link_to_nothing_is_told_until_it_leads_somewhere(images: Path, clock: Clock) -> None:
    (images / "a.fits").symlink_to(images.parent / "elsewhere.fits")
    watching = FolderWatch(images, clock)
    assert [each.reason for each in watching.poll().damaged] == ["there is nothing of this name"]
    put(images.parent / "elsewhere.fits", sub())
    told = looks(watching, clock, 2)
    assert (names(told), told.damaged) == (["a.fits"], ())


def test_frames_that_ended_after_an_instant_do_not_count(images: Path, clock: Clock) -> None:
    put(images / "a.fits", sub(0, 120))
    put(images / "b.fits", sub(120, 120))
    put(images / "c.fits", sub(240, 120))
    put(images / "undated.fits", sub(None))
    put(images / "early.fits", b"no frame", 100.0)
    put(images / "late.fits", b"no frame", 500.0)
    clock.at_s = 40_000
    told = FolderWatch(images, clock, by=BEGIN + dt.timedelta(seconds=240)).poll()
    assert names(told) == ["a.fits", "b.fits", "undated.fits"]
    assert [each.name for each in told.later] == ["c.fits"]
    assert [each.path.name for each in told.damaged] == ["early.fits"]
    a_second_sooner = FolderWatch(images, clock, by=BEGIN + dt.timedelta(seconds=239)).poll()
    assert names(a_second_sooner) == ["a.fits", "undated.fits"]


# --- a folder that cannot be read ---------------------------------------------------------------------------


def test_a_folder_that_is_not_there_yet_is_trouble_until_it_is(images: Path, clock: Clock) -> None:
    watching = FolderWatch(images / "tonight", clock)
    assert watching.poll() == Images(trouble="the folder cannot be read: there is nothing of this name")
    put(images / "tonight" / "a.fits", sub())
    told = watching.poll()
    assert (names(told), told.trouble) == (["a.fits"], None)


def test_what_is_no_folder_is_trouble(images: Path, clock: Clock) -> None:
    assert FolderWatch(put(images / "a.fits", sub()), clock).poll() == Images(trouble="this is no folder")
    assert FolderWatch(Path("nul\0"), clock).poll().trouble


def test_a_folder_that_vanishes_leaves_what_was_known(images: Path, clock: Clock) -> None:
    put(images / "a.fits", sub())
    watching = FolderWatch(images, clock)
    known = watching.poll().frames
    images.rename(images.parent / "away")
    trouble = "the folder cannot be read: there is nothing of this name"
    assert watching.poll() == watching.poll() == Images(known, trouble=trouble)
    (images.parent / "away").rename(images)
    assert watching.poll() == Images(known)


def test_an_empty_folder_in_place_of_a_share_is_trouble(images: Path, clock: Clock) -> None:
    """A share that is taken away leaves the folder that it was mounted on."""
    put(images / "a.fits", sub())
    watching = FolderWatch(images, clock)
    known = watching.poll().frames
    images.rename(images.parent / "away")
    images.mkdir()
    assert watching.poll() == watching.poll() == Images(known, trouble=TAKEN_AWAY)
    put(images / "b.fits", sub(), -1.0)  # so it is in use: what was in the other one is gone
    assert watching.poll() == Images(being_written=(images / "b.fits",))
    assert names(watching.poll()) == ["b.fits"]
    (images / "b.fits").unlink()  # by a person: the folder is the same
    assert watching.poll() == Images()


def closing(
    monkeypatch: pytest.MonkeyPatch, closed: Path, held: threading.Event | None = None
) -> threading.Event:
    """Let a folder be refused, or not answer before `held` is set, while the event returned is set."""
    scandir, shut = os.scandir, threading.Event()

    def scanned(path: Path) -> AbstractContextManager[Iterator[os.DirEntry[str]]]:
        if shut.is_set() and path == closed:
            if held is None:
                raise OSError(5, "Input/output error")
            held.wait(20)
        return scandir(path)

    monkeypatch.setattr(os, "scandir", scanned)
    shut.set()
    return shut


def test_a_subfolder_that_cannot_be_read_leaves_what_was_known_of_it(
    images: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(images / "a.fits", sub(1))
    put(images / "night" / "b.fits", sub(2))
    watching = FolderWatch(images, clock)
    known = watching.poll()
    shut = closing(monkeypatch, images / "night")
    assert watching.poll() == known  # it may be for a moment
    told = watching.poll()
    assert told.frames == known.frames
    assert [each.reason for each in told.damaged] == ["the folder cannot be read: input/output error"]
    shut.clear()
    assert watching.poll() == known


class Waiting:
    """The time that a look is waited for, in place of the real one; it goes on by `step_s` as it is asked."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.at_s = self.step_s = 0.0
        monkeypatch.setattr(watch, "time", SimpleNamespace(monotonic=self.monotonic))
        monkeypatch.setattr(watch, "POLL_S", 0.002)

    def monotonic(self) -> float:
        if self.step_s:
            self.at_s += self.step_s
        return self.at_s


def test_a_folder_that_does_not_answer_holds_nobody_up(
    images: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(images / "a.fits", sub(1))
    watching = FolderWatch(images, clock)
    known = watching.poll()
    held, waiting = threading.Event(), Waiting(monkeypatch)
    shut = closing(monkeypatch, images, held)
    waiting.step_s = PATIENCE_S
    for _ in range(3):
        assert watching.poll() == Images(known.frames, trouble=NO_ANSWER)
    looking = [each for each in threading.enumerate() if each.name == "images"]
    assert len(looking) == 1  # however often it is asked
    put(images / "b.fits", sub(2))
    waiting.step_s = 0
    shut.clear()
    held.set()
    told = looks(watching, clock, 2)
    assert (names(told), told.trouble) == (["a.fits", "b.fits"], None)


def test_a_look_that_goes_on_is_waited_for(
    images: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A first look over many headers takes longer than a single file may."""
    for number in range(6):
        put(images / f"{number}.fits", sub(number))
    waiting, looked_on = Waiting(monkeypatch), threading.Event()

    def slow(path: Path, *rest: object) -> Frame | Damaged:
        waiting.at_s += 0.4 * PATIENCE_S
        looked_on.wait(0.02)
        return read_file(path, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(watch, "read_file", slow)
    told = FolderWatch(images, clock).poll()
    assert (len(told.frames), told.trouble) == (6, None)
    assert waiting.at_s > 2 * PATIENCE_S


def test_a_file_that_cannot_be_read_for_a_moment_is_tried_again(
    images: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    refused: set[str] = {"b.fits"}

    def at_times(path: Path, listed: Listed, clock: Clock) -> Frame | Damaged:
        if path.name in refused:
            return Damaged(path, "it cannot be read: input/output error", "unreadable")
        return read_file(path, listed, clock)

    monkeypatch.setattr(watch, "read_file", at_times)
    watching = FolderWatch(images, clock)
    watching.poll()
    put(images / "a.fits", sub(1))
    put(images / "b.fits", sub(2))
    told = looks(watching, clock, 2)
    assert (names(told), told.being_written) == (["a.fits"], (images / "b.fits",))
    assert [each.path.name for each in watching.poll().damaged] == ["b.fits"]
    refused.clear()
    told = watching.poll()
    assert (names(told), told.damaged) == (["a.fits", "b.fits"], ())


def test_a_defect_within_a_look_is_not_hidden(
    images: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> Frame:
        raise RuntimeError("a defect")

    monkeypatch.setattr(watch, "read_file", broken)
    put(images / "a.fits", sub())
    with pytest.raises(RuntimeError, match="a defect"):
        FolderWatch(images, clock).poll()


@pytest.mark.skipif(sys.platform == "win32", reason="files have no such numbers there")
def test_many_looks_at_a_night_count_each_frame_once(images: Path, clock: Clock) -> None:
    """Frames arrive every two minutes, each in three pieces; some are moved away, some saved anew."""
    watching = FolderWatch(images, clock)
    whole: list[str] = []
    for number in range(30):
        path, content = images / f"{number:02}.fits", sub(clock.at_s, 100)
        for part in (100, 3000, len(content)):
            put(path, content[:part], clock.at_s)
            for _ in range(3):
                clock.at_s += 5
                assert names(watching.poll())[: len(whole)] == whole
        whole.append(path.name)
        assert names(watching.poll()) == whole
        if number % 7 == 3:
            (images / "moved").mkdir(exist_ok=True)
            path.rename(images / "moved" / path.name)
        elif number % 11 == 5:
            put(path, content + bytes(BLOCK), clock.at_s)
        clock.at_s += 75
    told = looks(watching, clock, 2)
    assert names(told) == whole
    assert (told.damaged, told.being_written) == ((), ())
