"""A folder that images arrive in, looked at again and again -> the frames that are whole by now."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from optimizer.tally.frames import Damaged, Frame


@dataclass(frozen=True)
class Images:
    """What a folder of images holds by now.

    `frames` are those that count, in the order in which they began; those of no known time come last.
    `damaged` are files that cannot be counted, `being_written` those that may soon be. `later` are frames
    whose exposure ended after the instant up to which frames count, where one was given. `trouble` is a
    clause that says why the folder cannot be read just now: the rest is then as it was last known.
    """

    frames: tuple[Frame, ...] = ()
    damaged: tuple[Damaged, ...] = ()
    being_written: tuple[Path, ...] = ()
    later: tuple[Frame, ...] = ()
    trouble: str | None = None


class FolderWatch:
    """The images in a folder and the folders in it, of which only what is new is read at each look."""

    def __init__(
        self, folder: Path, clock: Callable[[], float] = time.time, *, by: dt.datetime | None = None
    ) -> None:
        """Watch a folder, which need not be there yet; nothing is read before the first `poll`.

        `clock` tells the time in seconds since 1970. With `by` only frames count whose exposure ended by
        that instant.
        """
        self._folder, self._clock, self._by = folder, clock, by

    def poll(self) -> Images:
        """Look at the folder and tell what it holds by now; never raises because of what lies there."""
        raise NotImplementedError
