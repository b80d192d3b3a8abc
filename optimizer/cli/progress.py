"""Progress of a search on stderr: one line that changes, on a terminal only."""

from __future__ import annotations

import sys
import threading
import time
from types import TracebackType
from typing import Self

WIDTH = 78
TICK_S = 0.5


class Teller:
    """Shows best value, bound and gap while the search goes on; silent where stderr is no terminal."""

    def __init__(self, limit_s: float) -> None:
        """Begin nothing yet; `limit_s` is shown as the search's end."""
        self.limit_s = limit_s
        self.best: tuple[float, float] | None = None
        self.began = time.monotonic()
        self.live = sys.stderr.isatty()
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> Self:
        """Start the line."""
        if self.live:
            self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Wipe the line."""
        self._over.set()
        if self.live:
            self._thread.join()
            sys.stderr.write("\r" + " " * WIDTH + "\r")
            sys.stderr.flush()

    def tell(self, seconds: float, value_s: float, bound_s: float) -> None:
        """Hear of a better plan: value and bound in weighted seconds of open shutter."""
        del seconds
        self.best = (value_s, bound_s)

    def _run(self) -> None:
        while not self._over.wait(TICK_S):
            seconds = time.monotonic() - self.began
            text = f"searching {seconds:.0f} of at most {self.limit_s:.0f} s"
            if self.best is not None:
                value_s, bound_s = self.best
                gap = f"{100 * (bound_s - value_s) / value_s:.1f} %" if value_s > 0 else "-"
                text += (
                    f": {value_s / 3600:.2f} h, at most {bound_s / 3600:.2f} h (gap {gap}); Ctrl-C keeps it"
                )
            sys.stderr.write("\r" + text[:WIDTH].ljust(WIDTH))
            sys.stderr.flush()
