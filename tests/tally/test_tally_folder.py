"""A folder is read to its end whatever lies in it, each file that does not count says why, nothing changes."""

from __future__ import annotations

import gzip
import hashlib
import os
import socket
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.tally.folder import read_file, read_folder
from optimizer.tally.frames import Damaged, Frame
from tests.support.fits_files import BLOCK, LIGHT, raw_frame, write_frame

LONG_AGO = 1_800_000_000
WRITABLE_BY_ALL = hasattr(os, "geteuid") and os.geteuid() == 0  # root may read whatever it likes


def quiet(path: Path) -> Path:
    """The same file, last changed long ago."""
    os.utime(path, (LONG_AGO, LONG_AGO))
    return path


def put(path: Path, content: bytes) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return quiet(path)


def told(folder: Path, **options: object) -> dict[str, str]:
    """Each file's name within the folder, and why it does not count; nothing for a frame."""
    found = read_folder(folder, **options)  # type: ignore[arg-type]
    return {
        each.path.relative_to(folder).as_posix(): each.reason if isinstance(each, Damaged) else ""
        for each in found
    }


def only(path: Path, now: float = LONG_AGO + 3600.0) -> Frame | Damaged:
    return read_file(path, clock=lambda: now)


def test_frames_are_found_in_all_folders_in_the_order_of_their_names(tmp_path: Path) -> None:
    names = ["b/2.fits", "a.fit", "b/1.FTS", "b/c/3.fits.gz", "c.Fits.fz", "b.fits"]
    for name in names:
        quiet(write_frame(tmp_path / name))
    put(tmp_path / "notes.txt", b"clouds")
    put(tmp_path / "b" / "archive.gz", b"no frame")
    calls: list[tuple[int, int]] = []
    frames = list(read_folder(tmp_path, tell=lambda done, of: calls.append((done, of))))
    assert [each.path.relative_to(tmp_path).as_posix() for each in frames] == [
        *("a.fit", "b/1.FTS", "b/2.fits", "b/c/3.fits.gz", "b.fits", "c.Fits.fz")
    ]
    assert calls == [(done, 6) for done in range(1, 7)]
    for each in frames:
        assert isinstance(each, Frame)
        assert (each.name, each.size_bytes) == (each.path.name, each.path.stat().st_size)
        assert (each.object, each.filter, each.exposure_s, each.kind) == (
            "Cradle Nebula",
            "Ha",
            300.0,
            "light",
        )
        assert (each.gain, each.offset, each.binning, each.pier_side) == (100, 30, 1, "west")
        assert each.date_obs == LIGHT["DATE-OBS"]


def test_folders_to_skip_and_hidden_ones_are_left_out(tmp_path: Path) -> None:
    for name in ("keep/1.fits", "Rejected/2.fits", "keep/rejected/3.fits", ".trash/4.fits", "keep/._1.fits"):
        put(tmp_path / name, WHOLE)
    (tmp_path / "zlink").symlink_to(tmp_path / "Rejected", target_is_directory=True)
    (tmp_path / "alink").symlink_to(tmp_path / "keep" / "rejected", target_is_directory=True)
    assert list(told(tmp_path, skip_folders=["rejected"])) == ["keep/1.fits"]


def test_a_file_in_many_places_is_read_once(tmp_path: Path) -> None:
    quiet(write_frame(tmp_path / "a" / "1.fits"))
    (tmp_path / "b").symlink_to(tmp_path / "a", target_is_directory=True)
    (tmp_path / "c.fits").symlink_to(tmp_path / "a" / "1.fits")
    os.link(tmp_path / "a" / "1.fits", tmp_path / "d.fits")
    assert told(tmp_path) == {"a/1.fits": ""}


def test_links_are_followed_but_never_in_a_circle(tmp_path: Path) -> None:
    quiet(write_frame(tmp_path / "elsewhere" / "1.fits"))
    folder = tmp_path / "images"
    (folder / "a" / "b").mkdir(parents=True)
    (folder / "linked").symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    (folder / "a" / "b" / "up").symlink_to(folder / "a", target_is_directory=True)
    (folder / "a" / "top").symlink_to(folder, target_is_directory=True)
    (folder / "self").symlink_to("self")
    (folder / "self.fits").symlink_to("self.fits")
    (folder / "gone.fits").symlink_to("nowhere.fits")
    (folder / "gone").symlink_to("nowhere")
    back = "the link leads back to a folder that it lies in"
    assert told(folder) == {
        "a/b/up": back,
        "a/top": back,
        "gone.fits": "there is nothing of this name",
        "linked/1.fits": "",
        "self": "the links run in a circle",
        "self.fits": "the links run in a circle",
    }


WHOLE = raw_frame("OBJECT  = 'Cradle Nebula'", "EXPTIME =                300.0")
DAMAGED = [
    ("empty", b"", "cut_short", "it is empty"),
    ("begun", WHOLE[:5], "cut_short", "it is cut short: it ends within its header"),
    ("half a header", WHOLE[:200], "cut_short", "it is cut short: it ends within its header"),
    (
        "header alone",
        WHOLE[:BLOCK],
        "cut_short",
        "it is cut short: it has 2,880 of the 5,760 bytes that it promises",
    ),
    (
        "a byte less",
        WHOLE[:-1],
        "cut_short",
        "it is cut short: it has 5,759 of the 5,760 bytes that it promises",
    ),
    ("PNG", b"\x89PNG\r\n\x1a\n" + bytes(3000), "not_fits", "it is no FITS file but a PNG picture"),
    ("text", b"<html>" * 1000, "not_fits", "it is no FITS file"),
    ("zeros", bytes(5760), "not_fits", "it is no FITS file but nothing but zeros"),
    (
        "no end",
        b"SIMPLE  =".ljust(80) + b" " * 80 * 20_000,
        "broken_header",
        "its header has no END within the first 400 blocks",
    ),
    (
        "no image",
        raw_frame("NAXIS   =                    0").replace(
            b"NAXIS   =                    2", b"NAXIS   =                    0"
        ),
        "no_image",
        "it holds no image",
    ),
    (
        "random groups",
        raw_frame("GROUPS  =                    T").replace(
            b"1  =                    8", b"1  =                    0"
        ),
        "no_image",
        "it holds no image",
    ),
    (
        "gzip cut short",
        gzip.compress(WHOLE)[:-20],
        "cut_short",
        "it is cut short: its gzip stream has no end",
    ),
    (
        "gzip of a cut file",
        gzip.compress(WHOLE[:4000]),
        "cut_short",
        "it is cut short: it has 4,000 of the 5,760 bytes that it promises",
    ),
    ("gzip broken", gzip.compress(WHOLE)[:10] + b"\xff" * 100, "broken_header", "its gzip stream is broken"),
    ("gzip of nothing", gzip.compress(b""), "cut_short", "it is empty"),
    ("gzip's first bytes", b"\x1f\x8b", "cut_short", "it is cut short: its gzip stream has no end"),
    (
        "gzip of a promise",
        gzip.compress(WHOLE.replace(b"NAXIS1  =                    8", b"NAXIS1  =         900000000000")),
        "cut_short",
        "it is cut short: its gzip stream is too short for its header's promise",
    ),
]


@pytest.mark.parametrize(
    ("content", "fault", "reason"), [case[1:] for case in DAMAGED], ids=[case[0] for case in DAMAGED]
)
def test_damaged_files_say_why(tmp_path: Path, content: bytes, fault: str, reason: str) -> None:
    found = only(put(tmp_path / "a.fits", content))
    assert found == Damaged(tmp_path / "a.fits", reason, fault)  # type: ignore[arg-type]


def test_none_of_them_stops_the_run(tmp_path: Path) -> None:
    for index, (_, content, _, _) in enumerate(DAMAGED):
        put(tmp_path / f"{index:02}.fits", content)
    put(tmp_path / "last.fits", WHOLE)
    found = told(tmp_path)
    assert list(found.values()) == [*(case[3] for case in DAMAGED), ""]


def test_a_gzip_stream_that_goes_on_after_the_image_is_whole(tmp_path: Path) -> None:
    """Its end tells another length than the header: so it is inflated as far as the image goes."""
    for content in (
        gzip.compress(WHOLE + bytes(9000)),
        gzip.compress(WHOLE[:4000]) + gzip.compress(WHOLE[4000:]),
    ):
        assert isinstance(only(put(tmp_path / "a.fits.gz", content)), Frame)


def test_pixels_of_a_gzip_stream_are_not_inflated(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import random

    pixels = random.Random(1).randbytes(2000 * 2000)
    header = WHOLE[:BLOCK].replace(b"1  =                    8", b"1  =                 2000")
    content = header.replace(b"2  =                    8", b"2  =                 1000") + pixels
    path = put(tmp_path / "a.fits.gz", gzip.compress(content.ljust(-(-len(content) // BLOCK) * BLOCK, b"\0")))
    inflated = []

    class Counting(gzip.GzipFile):
        def close(self) -> None:
            inflated.append(self.tell())
            super().close()

    monkeypatch.setattr(gzip, "GzipFile", Counting)
    assert isinstance(only(path), Frame)
    assert inflated
    assert max(inflated) == BLOCK


def test_a_file_that_is_too_short_and_was_just_changed_is_being_written(tmp_path: Path) -> None:
    path = put(tmp_path / "a.fits", WHOLE[:3000])
    short = "it is cut short: it has 3,000 of the 5,760 bytes that it promises"
    for seconds in (0.0, 59.0, -5.0):
        found = only(path, LONG_AGO + seconds)
        assert found == Damaged(path, f"it is still being written, it seems: {short}", "being_written")
    assert only(path, LONG_AGO + 61.0) == Damaged(path, short, "cut_short")
    assert isinstance(only(put(path, WHOLE), LONG_AGO + 1.0), Frame)


def test_a_file_that_changes_between_two_looks_is_being_written(tmp_path: Path) -> None:
    for name in ("a.fits", "b.fits", "c.fits"):
        put(tmp_path / name, WHOLE)
    found = read_folder(tmp_path)
    assert isinstance(next(found), Frame)
    put(tmp_path / "b.fits", WHOLE + bytes(BLOCK))  # longer, and as old as before
    os.utime(tmp_path / "c.fits", (LONG_AGO + 1, LONG_AGO + 1))
    written = "it is still being written: it changed while the folder was read"
    assert list(found) == [
        Damaged(tmp_path / name, written, "being_written") for name in ("b.fits", "c.fits")
    ]


def test_a_file_that_vanishes_is_told(tmp_path: Path) -> None:
    for name in ("a.fits", "b.fits", "c.fits"):
        put(tmp_path / name, WHOLE)
    found = read_folder(tmp_path)
    next(found)
    (tmp_path / "b.fits").unlink()
    gone, last = found
    assert gone == Damaged(tmp_path / "b.fits", "it vanished while the folder was read", "unreadable")
    assert isinstance(last, Frame)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_what_is_no_file_is_never_opened(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.fits")
    with socket.socket(socket.AF_UNIX) as listening:
        here = Path.cwd()
        os.chdir(tmp_path)  # the path of a socket may have a hundred characters
        try:
            listening.bind("socket.fits")
        finally:
            os.chdir(here)
        quiet(write_frame(tmp_path / "folder.fits" / "1.fits"))
        assert told(tmp_path) == {
            "folder.fits": "it is a folder, not a file; what is in it is read",
            "folder.fits/1.fits": "",
            "pipe.fits": "it is a pipe or a device, not a file",
            "socket.fits": "it is a pipe or a device, not a file",
        }
    # a pipe that takes a file's place after the folder was listed is not waited for
    assert only(tmp_path / "pipe.fits") == Damaged(
        tmp_path / "pipe.fits", "it is a pipe or a device, not a file", "no_file"
    )


def test_what_may_not_be_read_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path / "a.fits", WHOLE)
    put(tmp_path / "closed" / "b.fits", WHOLE)
    put(tmp_path / "d.fits", WHOLE)
    scandir, opened = os.scandir, os.open

    def closed_scandir(path: Path) -> AbstractContextManager[Iterator[os.DirEntry[str]]]:
        if path == tmp_path / "closed":
            raise PermissionError(13, "Permission denied")
        return scandir(path)

    def closed_open(path: Path, flags: int) -> int:
        if path == tmp_path / "d.fits":
            raise OSError(5, "Input/output error")
        return opened(path, flags)

    monkeypatch.setattr(os, "scandir", closed_scandir)
    monkeypatch.setattr(os, "open", closed_open)
    assert told(tmp_path) == {
        "a.fits": "",
        "closed": "the folder cannot be read: you may not read it",
        "d.fits": "it cannot be read: input/output error",
    }


@pytest.mark.skipif(WRITABLE_BY_ALL or os.name == "nt", reason="whoever runs this may read everything")
def test_what_the_system_closes_is_told(tmp_path: Path) -> None:
    path = put(tmp_path / "a.fits", WHOLE)
    path.chmod(0)
    assert told(tmp_path) == {"a.fits": "it cannot be read: you may not read it"}


@pytest.mark.parametrize("name", ["missing", "file.fits", "nul\0"])
def test_a_folder_that_is_none_is_refused(tmp_path: Path, name: str) -> None:
    put(tmp_path / "file.fits", WHOLE)
    with pytest.raises(InputError) as caught:
        list(read_folder(tmp_path / name))
    assert caught.value.problems[0].remedy


def test_nothing_in_the_folder_changes(tmp_path: Path) -> None:
    """Every byte, every time of change, every name, and no file beside them."""
    for index, (_, content, _, _) in enumerate(DAMAGED):
        put(tmp_path / "sub" / f"{index:02}.fits", content)
    for name in ("a.fits", "b.fits.gz", "c.fits.fz"):
        quiet(write_frame(tmp_path / name))

    def state() -> dict[str, tuple[str, int, int, int]]:
        found = {}
        for path in sorted(tmp_path.rglob("*")):
            status = path.stat()
            content = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""
            found[str(path)] = (content, status.st_mtime_ns, status.st_ctime_ns, status.st_mode)
        return found

    before = state()
    assert len(list(read_folder(tmp_path))) == len(DAMAGED) + 3
    assert state() == before


@pytest.mark.skipif(os.name == "nt" or os.uname().sysname == "Darwin", reason="names are Unicode there")
def test_a_name_that_is_no_text_is_read_all_the_same(tmp_path: Path) -> None:
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/n\xe9buleuse.fits"))
    (frame,) = read_folder(put(path, WHOLE).parent)
    assert frame.path == path
