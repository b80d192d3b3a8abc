"""How long a search may go on: one clock for all of them, or a count of work in its place."""

from __future__ import annotations

import time

import numpy as np

from optimizer.packing.compiled import Bools

# Work is counted in the inner steps of a labelling; so many take about a second (one core of a slow machine).
WORK_PER_SECOND = 7e8


class Budget:
    """Time for a search, by the clock or, where it is `deterministic`, by counted work.

    With counted work every run of the same search does the same, however fast the machine is. Compiled loops
    look at `halt` [1] and end early where it is set.
    """

    def __init__(
        self,
        seconds: float,
        *,
        deterministic: bool,
        work_per_s: float = WORK_PER_SECOND,
        halt: Bools | None = None,
    ) -> None:
        """Begin to count now; `work_per_s` is about how fast work has been done so far."""
        self.seconds, self.deterministic, self._usual = seconds, deterministic, work_per_s
        self.halt = np.zeros(1, dtype=np.bool_) if halt is None else halt
        self._began, self.work = time.monotonic(), 0.0
        self._first = (self._began, 0.0)  # when the first piece of work was over, and how much that was

    @property
    def spent_s(self) -> float:
        """Seconds spent so far."""
        return self.work / self._usual if self.deterministic else time.monotonic() - self._began

    @property
    def left_s(self) -> float:
        """Seconds that are left; never below 0."""
        return 0.0 if self.halt[0] else max(0.0, self.seconds - self.spent_s)

    @property
    def is_over(self) -> bool:
        """Whether nothing is left."""
        return self.left_s <= 0.0

    @property
    def work_per_s(self) -> float:
        """How fast work is done: as measured, the first piece left out (loops may be loaded in it)."""
        since, work = self._first
        timed = not self.deterministic and self.work > work > 0
        return (self.work - work) / max(time.monotonic() - since, 1e-3) if timed else self._usual

    @property
    def work_left(self) -> float:
        """Work for which there is time."""
        return self.left_s * self.work_per_s

    def spend(self, work: float) -> None:
        """Count a piece of work that is done."""
        self.work += work
        if not self._first[1]:
            self._first = time.monotonic(), self.work

    def part(self, share: float, most_work: float = np.inf) -> Budget:
        """A part of what is left, for a search within this one; it ends with this one.

        `most_work` limits it further, whatever the clock says.
        """
        seconds = min(share * self.left_s, most_work / self.work_per_s)
        return Budget(seconds, deterministic=self.deterministic, work_per_s=self.work_per_s, halt=self.halt)

    def stop(self) -> None:
        """End every search that this budget or a part of it was given to."""
        self.halt[0] = True
