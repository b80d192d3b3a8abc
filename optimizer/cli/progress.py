"""Progress on stderr: one line that changes, on a terminal only."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
import time
from typing import TYPE_CHECKING, Self

from optimizer import ctrl_c
from optimizer.packing.compiling import COMPILING
from optimizer.words import safe

if TYPE_CHECKING:
    from optimizer.season.progress import SeasonProgress

WIDTH = 78  # of the line where the terminal is no narrower
TICK_S = 0.5
BAR_CELLS = 20
FIRST_RUN = (
    "compiling the search for this machine, this once: it may take half a minute, which the time limit does "
    "not count"
)
SEASON_PHASES = {
    "loops": "compiling the search",
    "nights": "nights",
    "bound": "how much can be had",
    "plans": "first plans",
    "rounds": "round",
    "audit": "audit of all plans, then simulated weathers",
    "weather": "simulated weathers",
}
EVERY_RUN = "compiling the search, as on every run: there is no folder in which the result could be kept"


class _Line:
    """A line written anew every half second, wiped at the end; silent where stderr is no terminal.

    It is written with nothing but a carriage return: on a terminal that knows no more as well, and a process
    that is killed leaves the terminal as it was, its cursor in sight.
    """

    def __init__(self) -> None:
        self.began = time.monotonic()
        self._over = threading.Event()

    def text(self, seconds: float) -> str:
        """What the line says so many seconds after `began`."""
        raise NotImplementedError

    def __enter__(self) -> Self:
        """Start the line."""
        self._thread = threading.Thread(target=self._run, daemon=True) if sys.stderr.isatty() else None
        if self._thread is not None:
            self._thread.start()
        return self

    def __exit__(self, *error: object) -> None:
        """Wipe the line."""
        self._over.set()
        if self._thread is not None:
            self._thread.join()
            _write("")
            sys.stderr.write("\r")

    def _run(self) -> None:
        told = False
        while not self._over.wait(TICK_S):
            if COMPILING.is_going_on and not told:
                _write("")
                sys.stderr.write(f"\r{FIRST_RUN if COMPILING.kept else EVERY_RUN}\n")
                told = True
            _write(self.text(time.monotonic() - self.began))


def _write(text: str) -> None:
    """Put a text over the line; one that reached the edge of a narrow terminal would begin a new one."""
    columns = 0
    with contextlib.suppress(OSError, ValueError):  # stderr may be a stream without a terminal's size
        columns = os.get_terminal_size(sys.stderr.fileno()).columns
    width = min(WIDTH, columns - 1) if columns > 1 else WIDTH  # a terminal that does not know its own says 0
    sys.stderr.write("\r" + text[:width].ljust(width))
    sys.stderr.flush()


class Teller(_Line):
    """The line that tells value, bound and gap while a search goes on; `limit_s` is shown as its end.

    Seconds count from `began`, less what it took to compile the search's loops.
    """

    def __init__(self, limit_s: float, began: float | None = None) -> None:
        """Begin nothing yet; `began` as `time.monotonic` has it, else now."""
        super().__init__()
        self.limit_s = limit_s
        self.began = self.began if began is None else began
        self._before_s = COMPILING.seconds
        self.best: tuple[float, float] | None = None

    def tell(self, seconds: float, value_s: float, bound_s: float) -> None:
        """Hear of a better plan: value and bound in weighted seconds."""
        del seconds
        self.best = (value_s, bound_s)

    def text(self, seconds: float) -> str:
        """The words of the line: seconds of the limit, value and bound in weighted hours, gap in per cent."""
        seconds -= COMPILING.seconds - self._before_s
        words = "compiling" if COMPILING.is_going_on else f"{seconds:.0f}/{self.limit_s:.0f} s"
        if self.best is None:
            return f"{words}: looking for a first plan"
        if ctrl_c.presses():
            return f"{words}: Ctrl-C ends the search; the plan found so far is kept"
        value_s, bound_s = self.best
        hours = f"value {value_s / 3600:.2f} h of at most {bound_s / 3600:.2f} h"
        if bound_s <= 2 * value_s:  # a larger gap says no more than the hours do
            hours += f", gap {100 * (bound_s - value_s) / value_s:.1f} %" if value_s > 0 else ""
        return f"{words}: {hours}; Ctrl-C keeps it"


class Step(_Line):
    """The line that tells which of several things is being done; `hint` says what to know meanwhile."""

    def __init__(self, steps: int, hint: str = "") -> None:
        """Begin nothing yet."""
        super().__init__()
        self.steps, self.done, self.doing, self.hint = steps, 0, "", hint

    def tell(self, doing: str) -> None:
        """Hear that the next thing has begun."""
        self.done += 1
        self.doing = doing

    def text(self, seconds: float) -> str:
        """The words of the line: seconds, which of how many, the hint, and what is being done."""
        words = f"{seconds:.0f} s: {self.done} of {self.steps}"
        return f"{words}, {self.hint}: {safe(self.doing)}" if self.hint else f"{words}, {safe(self.doing)}"


class Files(_Line):
    """The line that tells how many files of a folder have been read."""

    def __init__(self) -> None:
        """Begin nothing yet."""
        super().__init__()
        self.done, self.files = 0, 0

    def tell(self, done: int, files: int) -> None:
        """Hear that one more file has been read."""
        self.done, self.files = done, files

    def text(self, seconds: float) -> str:
        """The words of the line: seconds, a bar, files read and files in all."""
        if not self.files:
            return f"{seconds:.0f} s: looking through the folder"
        cells = BAR_CELLS * self.done // self.files
        bar = "#" * cells + "." * (BAR_CELLS - cells)
        return f"{seconds:.0f} s: {bar} {self.done} of {self.files} files; Ctrl-C changes nothing"


class Learning(Files):
    """The line that tells how many files have been read, then what is done with them."""

    def __init__(self) -> None:
        """Begin nothing yet."""
        super().__init__()
        self.now = ""

    def doing(self, now: str) -> None:
        """Hear what is being done, all files being read."""
        self.now = now

    def text(self, seconds: float) -> str:
        """The words of the line: seconds, and what is being done."""
        return (
            f"{seconds:.0f} s: {safe(self.now)}; Ctrl-C changes nothing"
            if self.now
            else super().text(seconds)
        )


class SeasonLine(_Line):
    """The line that tells how far a season is: nights made ready, then value, bound, gap, and time left."""

    def __init__(self) -> None:
        """Begin nothing yet."""
        super().__init__()
        self.now: SeasonProgress | None = None
        self._dashboard = ""

    def tell(self, progress: SeasonProgress) -> None:
        """Hear how far it is; once there is a season, Ctrl-C loses it no more."""
        if progress.value_s:
            ctrl_c.keep()
        if progress.dashboard != self._dashboard:  # for whoever looks at a log as well
            self._dashboard = progress.dashboard
            if sys.stderr.isatty():
                _write("")
                sys.stderr.write("\r")
            sys.stderr.write(f"what the workers do is shown at {safe(progress.dashboard)}\n")
        self.now = progress

    def text(self, seconds: float) -> str:
        """The words of the line: seconds, what is being done, and how good the best season so far is."""
        now = self.now
        if now is None:
            return f"{seconds:.0f} s: making ready"
        if ctrl_c.presses():
            kept = "; the season found so far is kept" if now.value_s else ""
            return f"{seconds:.0f} s: Ctrl-C ends the search{kept}"
        words = f"{seconds:.0f} s"
        if now.seconds_left and now.phase in ("bound", "plans", "rounds"):
            words += f", up to {now.seconds_left:.0f} s of search left"
        if now.phase == "nights":
            cells = BAR_CELLS * now.nights_done // max(1, now.nights)
            words += f": {'#' * cells}{'.' * (BAR_CELLS - cells)} {now.nights_done} of {now.nights} nights"
        else:
            words += f": {SEASON_PHASES[now.phase]}"
            words += f" {now.round}" if now.phase == "rounds" else ""
        if not now.value_s:
            return words
        words += f"; {now.value_s / 3600:.0f} h"
        if now.bound_s is not None:
            words += f" of at most {now.bound_s / 3600:.0f} h"
        return words if now.gap is None else f"{words}, gap {100 * now.gap:.1f} %"
