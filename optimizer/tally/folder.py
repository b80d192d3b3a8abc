"""A folder with its subfolders -> its frames and its damaged files, in the order of their names.

Files are opened for reading alone; nothing is locked, moved or written.
"""

from __future__ import annotations

import errno
import gzip
import io
import os
import stat
import time
import zlib
from collections.abc import Callable, Collection, Iterator
from pathlib import Path
from typing import BinaryIO, NamedTuple, cast

from optimizer.errors import InputError, InputProblem
from optimizer.tally.fields import WANTED, frame_of
from optimizer.tally.fits_header import Unusable, read_header
from optimizer.tally.frames import Damaged, Frame
from optimizer.words import safe

Tell = Callable[[int, int], None]  # files done, files in all
ENDINGS = tuple(
    f".{fits}{packed}" for fits in ("fits", "fit", "fts") for packed in ("", ".gz", ".fz")
)  # in whatever case
STILL_S = 60.0  # a file that is too short may still grow if it was changed since
_DEFLATE_MOST = 1032  # bytes that one byte of gzip can stand for, by zlib's own account
_CHUNK = 1 << 20
_READ_ONLY = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


class Listed(NamedTuple):
    """A file as the folder listed it: the first look at its size and its time of change.

    `path` is text, for a folder is listed much faster without an object for each path. `number` is what its
    file system knows the file by, under whatever name; some number nothing, and say 0.
    """

    path: str
    size_bytes: int
    changed_ns: int
    number: int = 0


def read_folder(
    folder: Path,
    skip_folders: Collection[str] = (),
    tell: Tell | None = None,
    clock: Callable[[], float] = time.time,
) -> Iterator[Frame | Damaged]:
    """Read the headers of all FITS files in a folder and the folders in it; nothing there is changed.

    Files end in `.fits`, `.fit` or `.fts`, with or without `.gz` or `.fz`. Links are followed; a file or
    folder that is reached twice is read once. Left out are folders named in `skip_folders` (in whatever case,
    also where a link leads to them) and what is hidden, its name beginning with a dot. `tell` is called after
    each file. `clock` tells the time in seconds since 1970. Raises InputError where `folder` itself is no
    folder or may not be read.
    """
    found = list(listing(folder, skip_folders))
    for done, each in enumerate(found, start=1):
        yield each if isinstance(each, Damaged) else read_file(Path(each.path), each, clock)
        if tell is not None:
            tell(done, len(found))


def listing(folder: Path, skip_folders: Collection[str] = ()) -> Iterator[Listed | Damaged]:
    """Find all files to be read, and what cannot be, in the order of their names, folder within folder.

    What is found and what is left out is as `read_folder` has it; no file is opened. Raises InputError where
    `folder` itself is no folder or may not be read.
    """
    skip = {name.casefold() for name in skip_folders}
    try:
        status = folder.stat()
        if not stat.S_ISDIR(status.st_mode):
            raise _refused(folder, "this is no folder", "name the folder that holds the images")
        waiting = _inside(folder)
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise _refused(folder, f"the folder cannot be read: {_why(error)}", "check its name") from error
    seen = {(status.st_dev, status.st_ino)}
    while waiting:
        text = waiting.pop()
        name = os.path.basename(text)  # noqa: PTH119 - no object for each path
        named_as_frame = _named_as_frame(name)
        try:
            status = os.stat(text)  # noqa: PTH116
        except OSError as error:
            if named_as_frame or (os.path.islink(text) and _in_a_circle(error)):  # noqa: PTH114
                yield Damaged(Path(text), _why(error), "circle" if _in_a_circle(error) else "unreadable")
            continue
        is_folder = stat.S_ISDIR(status.st_mode)
        if is_folder and skip and {name.casefold(), Path(text).resolve().name.casefold()} & skip:
            continue
        same = (status.st_dev, status.st_ino)
        again = status.st_ino != 0 and same in seen  # some file systems number nothing
        seen.add(same)
        if is_folder:
            path = Path(text)
            if again:
                if _leads_back(path):
                    yield Damaged(path, "the link leads back to a folder that it lies in", "circle")
                continue
            if named_as_frame:
                yield Damaged(path, "it is a folder, not a file; what is in it is read", "no_file")
            try:
                waiting += _inside(path)
            except OSError as error:
                yield Damaged(path, f"the folder cannot be read: {_why(error)}", "unreadable")
        elif named_as_frame and not stat.S_ISREG(status.st_mode):
            yield Damaged(Path(text), "it is a pipe or a device, not a file", "no_file")
        elif named_as_frame and not again:
            yield Listed(text, status.st_size, status.st_mtime_ns, status.st_ino)


def _inside(folder: Path) -> list[str]:
    """What in a folder may be a frame or a folder and is not hidden, the last name first."""
    with os.scandir(folder) as entries:
        names = sorted(
            entry.name
            for entry in entries
            if not entry.name.startswith(".")
            and (_named_as_frame(entry.name) or not entry.is_file(follow_symlinks=False))
        )
    return [os.path.join(folder, name) for name in reversed(names)]  # noqa: PTH118


def _named_as_frame(name: str) -> bool:
    return name.lower().endswith(ENDINGS)


def _leads_back(link: Path) -> bool:
    return link.is_symlink() and link.parent.resolve().is_relative_to(link.resolve())


def _in_a_circle(error: OSError) -> bool:
    return error.errno == errno.ELOOP


def read_file(
    path: Path, listed: Listed | None = None, clock: Callable[[], float] = time.time
) -> Frame | Damaged:
    """Read the header of one file; `listed` is an earlier look at it, if there was one."""
    try:
        # a pipe that took the file's place since the folder was listed must not be waited for
        with os.fdopen(os.open(path, _READ_ONLY), "rb") as stream:
            before = os.fstat(stream.fileno())
            if not stat.S_ISREG(before.st_mode):
                return Damaged(path, "it is a pipe or a device, not a file", "no_file")
            result = _read(path, stream, before.st_size)
            after = os.fstat(stream.fileno())
    except FileNotFoundError:
        return Damaged(path, "it vanished while the folder was read", "unreadable")
    except (OSError, ValueError) as error:
        return Damaged(path, f"it cannot be read: {_why(error)}", "unreadable")
    looks = {(look.st_size, look.st_mtime_ns) for look in (before, after)}
    if listed is not None:
        looks.add((listed.size_bytes, listed.changed_ns))
    if len(looks) > 1:
        return Damaged(
            path, "it is still being written: it changed while the folder was read", "being_written"
        )
    if isinstance(result, Damaged) and result.fault == "cut_short":
        ago_s = clock() - after.st_mtime
        if abs(ago_s) <= STILL_S:
            return Damaged(path, f"it is still being written, it seems: {result.reason}", "being_written")
    return result


def _read(path: Path, stream: io.BufferedReader, size_bytes: int) -> Frame | Damaged:
    """Read an open file of so many bytes; raises OSError where the disk fails."""
    packed = stream.peek(2)[:2] == b"\x1f\x8b"
    try:
        if packed:
            with gzip.GzipFile(fileobj=stream) as inflated:
                header = read_header(cast(BinaryIO, inflated), WANTED)
                _need_whole(stream, inflated, header.promised_bytes, size_bytes)
        else:
            header = read_header(stream, WANTED)
            if size_bytes < header.promised_bytes:
                raise _cut_short(size_bytes, header.promised_bytes)
    except Unusable as error:
        return Damaged(path, error.reason, error.fault)
    except EOFError:
        return Damaged(path, "it is cut short: its gzip stream has no end", "cut_short")
    except (gzip.BadGzipFile, zlib.error):
        return Damaged(path, "its gzip stream is broken", "broken_header")
    return frame_of(path, size_bytes, header)


def _need_whole(stream: BinaryIO, inflated: gzip.GzipFile, promised_bytes: int, size_bytes: int) -> None:
    """See to it that a gzip stream reaches the end of the image; raises Unusable or EOFError otherwise.

    Its last four bytes tell how long it is inflated, as long as it is whole and a single stream. So these
    are enough if they agree with the header; if they do not, the stream is inflated as far as the image goes.
    """
    if promised_bytes > size_bytes * _DEFLATE_MOST:
        raise Unusable("cut_short", "it is cut short: its gzip stream is too short for its header's promise")
    at = stream.tell()
    stream.seek(-4, os.SEEK_END)
    told = int.from_bytes(stream.read(4), "little")
    stream.seek(at)
    if told == promised_bytes % 2**32:
        return
    while (have := inflated.tell()) < promised_bytes:
        if not inflated.read(min(_CHUNK, promised_bytes - have)):
            raise _cut_short(have, promised_bytes)


def told_all_the_same(damaged: Damaged) -> Frame | None:
    """What the header of a damaged file tells, though the file cannot be used; None where it tells nothing.

    The header of a file that is cut short is mostly whole.
    """
    if damaged.fault != "cut_short":
        return None
    try:
        with os.fdopen(os.open(damaged.path, _READ_ONLY), "rb") as stream:
            status = os.fstat(stream.fileno())
            if not stat.S_ISREG(status.st_mode):
                return None
            if stream.peek(2)[:2] == b"\x1f\x8b":
                with gzip.GzipFile(fileobj=stream) as inflated:
                    header = read_header(cast(BinaryIO, inflated), WANTED)
            else:
                header = read_header(stream, WANTED)
    except (OSError, ValueError, EOFError, zlib.error, Unusable):
        return None
    return frame_of(damaged.path, status.st_size, header)


def _cut_short(have: int, promised: int) -> Unusable:
    return Unusable(
        "cut_short", f"it is cut short: it has {have:,} of the {promised:,} bytes that it promises"
    )


def _why(error: OSError | ValueError) -> str:
    if isinstance(error, OSError):
        if _in_a_circle(error):
            return "the links run in a circle"
        if error.errno == errno.ENOENT:
            return "there is nothing of this name"
        if error.errno in (errno.EACCES, errno.EPERM):
            return "you may not read it"
        return (error.strerror or str(error)).lower()
    return str(error)


def _refused(folder: Path, message: str, remedy: str) -> InputError:
    return InputError([InputProblem(safe(str(folder)), "", message, remedy)])
