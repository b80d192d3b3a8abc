"""stdout and stderr that never fail whoever writes: a full or closed one must not cost a plan.

What cannot be written is dropped and the first error kept, so that the process can say so once, at its end.
"""

from __future__ import annotations

import errno
import io
import os
import sys
import time
from typing import TYPE_CHECKING, TextIO, cast

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer

NOT_READY_S = 0.01  # between two tries at a pipe that does not block and is full


class Lenient(io.RawIOBase):
    """The bytes of a stream on their way: all are taken, none after an error is passed on."""

    def __init__(self, stream: io.TextIOWrapper) -> None:
        """Lead to what lies beneath a stream of text, which stays open."""
        self.stream = stream  # forgotten, it would close what lies beneath
        self.raw = cast(io.RawIOBase, getattr(stream.buffer, "raw", stream.buffer))
        self.error: OSError | None = None

    def write(self, data: ReadableBuffer) -> int:
        """Take all of `data`; the number of its bytes."""
        view = memoryview(data).cast("B")
        done = 0
        while done < len(view) and self.error is None:
            try:
                taken = self.raw.write(view[done:])
            except OSError as error:
                self.error = error
            except ValueError:  # somebody has closed it
                self.error = OSError(errno.EBADF, os.strerror(errno.EBADF))
            else:
                if taken is None:
                    time.sleep(NOT_READY_S)
                done += taken or 0
        return len(view)

    def writable(self) -> bool:
        """It is written to."""
        return True

    def isatty(self) -> bool:
        """As the stream beneath."""
        return self.raw.isatty()

    def fileno(self) -> int:
        """As the stream beneath."""
        return self.raw.fileno()


def open_closed_files() -> None:
    """Put the null device where stdin, stdout or stderr is closed, or the next file would take its number.

    What some library then prints would go into that file.
    """
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest number that is free, which is this one


def lenient(stream: TextIO | None) -> tuple[TextIO, Lenient | None]:
    """A stream for the same place that never fails, and what it leads through (None: it leads nowhere).

    A name that the terminal cannot write is written with question marks.
    """
    if stream is None:
        return io.TextIOWrapper(io.BytesIO(), "utf-8"), None
    if not isinstance(stream, io.TextIOWrapper):
        return stream, None
    stream.flush()
    raw = Lenient(stream)
    text = io.TextIOWrapper(
        io.BufferedWriter(raw),
        stream.encoding,
        errors="replace",
        line_buffering=stream.line_buffering or stream.write_through,  # a whole line is held back by neither
        write_through=stream.write_through,
    )
    return text, raw


def refusal(out: Lenient | None) -> str | None:
    """Why stdout did not take all; None where it did, or where its reader has gone and wants no more."""
    sys.stdout.flush()
    if out is None or out.error is None or isinstance(out.error, BrokenPipeError):
        return None
    return out.error.strerror or str(out.error)


def is_gone(stream: TextIO) -> bool:
    """Whether a stream that `lenient` made takes no more: its reader has gone, or its disk is full."""
    raw = getattr(getattr(stream, "buffer", None), "raw", None)
    return isinstance(raw, Lenient) and raw.error is not None
