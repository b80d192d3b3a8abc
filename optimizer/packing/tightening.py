"""The bound made tighter in a thread of its own, while plans are looked for."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from types import TracebackType

from optimizer import ctrl_c
from optimizer.packing.bound import NightBound, tighter_bounds
from optimizer.packing.graph import NightGraph


class Tightening:
    """Within its `with` block `found` is the best bound so far; at the end a pricing may be waited for."""

    def __init__(
        self,
        graph: NightGraph,
        found: NightBound,
        seconds: float,
        reached: Callable[[], float],
        tell: Callable[[int], None],
        *,
        counted: bool,
    ) -> None:
        """`counted`: all is done as the block is entered, by counted work, the same on every run.

        `reached` says what the best plan so far is worth; `tell` hears of each better bound, in whatever
        thread it is found.
        """
        self.found, self._tell = found, tell
        self._bounds = tighter_bounds(graph, found, seconds, reached, counted=counted)
        self._counted = counted
        self._over = False
        self._thread = threading.Thread(target=self._run, daemon=True)

    def wait(self, seconds: float) -> None:
        """Until the bound gets no better, or so many seconds, or Ctrl-C."""
        deadline = time.monotonic() + seconds
        while not self._counted and self._thread.is_alive() and not ctrl_c.presses():
            left_s = deadline - time.monotonic()
            if left_s <= 0:
                break
            self._thread.join(min(left_s, ctrl_c.POLL_S))

    def _run(self) -> None:
        for better in self._bounds:
            before, self.found = self.found, better
            if better.bound < before.bound:
                self._tell(better.bound)
            if self._over:
                return

    def __enter__(self) -> Tightening:
        """Begin."""
        if self._counted:
            self._run()
        else:
            self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End it, whether or not it is done."""
        self._over = True
        if not self._counted:
            self._thread.join()
