"""A folder that images arrive in, looked at again and again -> the frames that are whole by now.

A folder is listed anew at each look, for what the system reports of changes misses files that another
computer writes to a share. Files are opened for reading alone; nothing is locked, moved or written.
"""

from __future__ import annotations

import datetime as dt
import math
import threading
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Future, wait
from dataclasses import dataclass, replace
from pathlib import Path

from optimizer.ctrl_c import POLL_S
from optimizer.errors import InputError
from optimizer.tally.folder import STILL_S, Listed, listing, read_file
from optimizer.tally.frames import Damaged, Frame

PATIENCE_S = 3.0  # in which a folder that is there lists or reads one more file
NO_ANSWER = "the folder does not answer: is its drive or its network share still there?"
TAKEN_AWAY = "another folder is in its place, and it is empty: was its drive or its network share taken away?"
_LAST = dt.datetime.max.replace(tzinfo=dt.UTC)
_PASSING = ("being_written", "unreadable")  # faults that may be gone at the next look though nothing changed


@dataclass(frozen=True)
class Images:
    """What a folder of images holds by now.

    `frames` are those that count, of whatever kind, in the order in which they began; those of no known time
    come last. `damaged` are files that cannot be counted, `being_written` those that may soon be. `later` are
    frames whose exposure ended after the instant up to which frames count, where one was given. `trouble` is
    a clause that says why the folder cannot be read just now: the rest is then as it was last known.
    """

    frames: tuple[Frame, ...] = ()
    damaged: tuple[Damaged, ...] = ()
    being_written: tuple[Path, ...] = ()
    later: tuple[Frame, ...] = ()
    trouble: str | None = None


@dataclass
class _File:
    """A file as it is known: how it was listed last, and at how many looks in turn it was listed so.

    `found` is what was read of it as it is now, `settled` whether that holds until it changes. `frame` is
    what it counts as: that of its earlier content until its new content is settled.
    """

    listed: Listed
    looks: int = 1
    found: Frame | Damaged | None = None
    settled: bool = False
    frame: Frame | None = None


class FolderWatch:
    """The images in a folder and the folders in it, of which only what is new is read at each look.

    A file counts once its size and its time of change have stood still for two looks and it is as long as its
    header says. At the first look a file counts at once that was last changed more than `STILL_S` ago. A file
    that is written anew counts as what it was until its new content is whole, or is found damaged; one that
    has vanished does not count; one that was renamed goes on counting.
    """

    def __init__(
        self,
        folder: Path,
        clock: Callable[[], float] = time.time,
        *,
        by: dt.datetime | None = None,
        patience_s: float = PATIENCE_S,
    ) -> None:
        """Watch a folder, which need not be there yet; nothing is read before the first `poll`.

        `clock` tells the time in seconds since 1970, as the disk has it. With `by` only frames count whose
        exposure ended by that instant, and damaged files only if they were last changed by then. A look
        ends without the folder if within `patience_s` not one more file was listed or read.
        """
        self._folder, self._clock, self._by, self._patience_s = folder, clock, by, patience_s
        self._files: dict[str, _File] = {}
        self._listed: dict[str, Listed] = {}  # at the latest look
        self._refused: list[Damaged] = []
        self._place: tuple[int, int] | None = None  # device and number of the folder when it last held files
        self._looked = False
        self._images = self._told = Images()  # at the latest look, and at the latest that could be taken
        self._is_quiet = False  # all is known of what is there until it changes
        self._look: Future[Images] | None = None
        self._progress = 0

    @property
    def is_quiet(self) -> bool:
        """Whether all files that were listed were also read, so that another look finds no more in them.

        A file of which `Images` says nothing, since it was changed after the instant looked for, may be the
        copy of a frame that was taken before.
        """
        return self._is_quiet

    def poll(self) -> Images:
        """Look at the folder and tell what it holds by now; whatever lies there, nothing is raised.

        The first look reads all headers and takes its time. The images are the same object as before where
        nothing has changed.
        """
        if self._look is None:
            self._look = _beside(self._images_now)
        look, progress, since = self._look, -1, time.monotonic()
        while not wait([look], POLL_S).done:
            if progress != self._progress:
                progress, since = self._progress, time.monotonic()
            elif time.monotonic() - since >= self._patience_s:
                return replace(self._images, trouble=NO_ANSWER)
        self._look = None
        images = look.result()
        if images != self._images:
            self._images = images
        return self._images

    def _images_now(self) -> Images:
        """Look at the folder; runs in a thread of its own, never twice at once."""
        files: dict[str, Listed] = {}
        refused: list[Damaged] = []
        try:
            for each in listing(self._folder):
                self._progress += 1
                if isinstance(each, Damaged):
                    refused.append(each)
                else:
                    files[each.path] = each
            status = self._folder.stat()
        except InputError as error:
            return replace(self._images, trouble=error.problems[0].message)
        except OSError:
            return replace(self._images, trouble="the folder vanished while it was read")
        place = status.st_dev, status.st_ino
        if self._files and not files and place != self._place:
            return replace(self._images, trouble=TAKEN_AWAY)
        self._place = place
        if self._is_quiet and (files, refused) == (self._listed, self._refused):
            return self._told
        unreadable = {each.path for each in refused if each.fault == "unreadable"}
        self._take_over(files, unreadable)
        now_s = self._clock()
        for path, file in self._files.items():
            if path in files and not file.settled:
                self._read(file, now_s)
        # what can be read again at the next look, or has vanished by then, is not called damaged
        passing = unreadable.difference(each.path for each in self._refused) if self._looked else set()
        self._told = self._images_of([each for each in refused if each.path not in passing])
        self._is_quiet = not unreadable and all(file.settled for file in self._files.values())
        self._listed, self._refused, self._looked = files, refused, True
        return self._told

    def _take_over(self, files: Mapping[str, Listed], unreadable: set[Path]) -> None:
        """Bring what is known of the files up to what the folder lists."""
        gone = {path: file for path, file in self._files.items() if path not in files}
        renamed = {_content(file.listed): file for file in gone.values() if file.listed.number}
        known: dict[str, _File] = {}
        for path, listed in files.items():
            file = self._files.get(path)
            if file is None and (older := renamed.get(_content(listed))) is not None:
                file = _moved(older, listed)
            if file is None:
                file = _File(listed)
            elif (file.listed.size_bytes, file.listed.changed_ns) == (listed.size_bytes, listed.changed_ns):
                file.looks += 1
            else:
                file.listed, file.looks, file.found, file.settled = listed, 1, None, False
            known[path] = file
        if unreadable:
            for path, file in gone.items():
                if not unreadable.isdisjoint((Path(path), *Path(path).parents)):
                    known[path] = file
        self._files = known

    def _read(self, file: _File, now_s: float) -> None:
        """Read a file's header where it is time to, and note what the file counts as."""
        young = _is_young(file.listed, now_s)
        if file.looks < 2 and (self._looked or young):
            return
        file.found = read_file(Path(file.listed.path), file.listed, self._clock)
        self._progress += 1
        if isinstance(file.found, Frame):
            file.frame, file.settled = file.found, True
        elif not young and file.found.fault not in _PASSING:
            file.frame, file.settled = None, True

    def _images_of(self, damaged: list[Damaged]) -> Images:
        """Put together what is told of the files; `damaged` are those that the listing refused."""
        by_s = math.inf if self._by is None else self._by.timestamp()
        frames: list[Frame] = []
        later: list[Frame] = []
        being_written: list[Path] = []
        for path, file in self._files.items():
            if file.frame is not None:
                (frames if _ended_s(file.frame) <= by_s else later).append(file.frame)
            if file.listed.changed_ns / 1e9 > by_s or (file.settled and isinstance(file.found, Frame)):
                continue
            if isinstance(file.found, Damaged) and self._is_damaged(file, file.found):
                damaged.append(file.found)
            else:
                being_written.append(Path(path))
        for each in (frames, later):
            each.sort(key=lambda frame: (frame.taken_utc or _LAST, frame.path))
        damaged.sort(key=lambda each: each.path)
        return Images(tuple(frames), tuple(damaged), tuple(being_written), tuple(later))

    def _is_damaged(self, file: _File, found: Damaged) -> bool:
        """Whether a file that could not be read is damaged by all that is known, not for a moment alone."""
        if file.settled:
            return True
        return found.fault == "unreadable" and file.frame is None and (file.looks > 2 or not self._looked)


def _content(listed: Listed) -> tuple[int, int, int]:
    """What a file keeps when it is renamed."""
    return listed.number, listed.size_bytes, listed.changed_ns


def _moved(file: _File, listed: Listed) -> _File:
    """The same file under its new name, as it is listed there."""
    path, found, frame = Path(listed.path), file.found, file.frame
    if frame is not None:
        frame = replace(frame, path=path, name=path.name)
    if isinstance(found, Frame):
        found = frame
    elif found is not None:
        found = replace(found, path=path)
    return _File(listed, file.looks, found, file.settled, frame)


def _is_young(listed: Listed, now_s: float) -> bool:
    return abs(now_s - listed.changed_ns / 1e9) <= STILL_S


def _ended_s(frame: Frame) -> float:
    """When a frame's exposure ended, in seconds since 1970; of one whose time is not known, long ago."""
    return -math.inf if frame.taken_utc is None else frame.taken_utc.timestamp() + (frame.exposure_s or 0.0)


def _beside(work: Callable[[], Images]) -> Future[Images]:
    """Run `work` in a thread of its own, which the process does not wait for when it ends.

    Whoever reads from a network share that has gone may be held for minutes.
    """
    future: Future[Images] = Future()

    def run() -> None:
        try:
            future.set_result(work())
        except BaseException as error:
            future.set_exception(error)

    threading.Thread(target=run, name="images", daemon=True).start()
    return future
