"""What whoever shows progress may look at: whether loops are being compiled, and for how long they were."""

from __future__ import annotations

import time


class Compiling:
    """A clock that runs while loops are compiled: those seconds count for no limit."""

    def __init__(self) -> None:
        """Begin at 0 seconds, at rest.

        `kept` says whether the compiled loops are kept on disk for later processes; if not, every process
        compiles them anew.
        """
        self.kept = True
        self._since: float | None = None
        self._before_s = 0.0

    @property
    def is_going_on(self) -> bool:
        """Whether it runs."""
        return self._since is not None

    @property
    def seconds(self) -> float:
        """Seconds for which it ran so far in this process."""
        since = self._since
        return self._before_s + (0.0 if since is None else time.monotonic() - since)

    def begin(self, *, kept: bool) -> None:
        """Start it."""
        self.kept, self._since = kept, time.monotonic()

    def end(self) -> None:
        """Stop it, where it runs."""
        self._before_s, self._since = self.seconds, None


COMPILING = Compiling()  # of this process


def search_clock() -> float:
    """`time.monotonic`, but standing still while loops are compiled."""
    return time.monotonic() - COMPILING.seconds
