"""When the planning of a season ends."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

AFTER_SHARE, MOST_AFTER = 0.1, 0.5  # of the time limit, for audit and sampled weathers: at first, and most
AFTER_ROUNDS = 50  # pricings of all nights that the sampled weathers are reckoned to take


@dataclass
class Limits:
    """When the planning of a season ends; part of its time limit is kept for what comes after the search."""

    gap: float
    rounds: int | None
    began: float
    time_limit_s: float | None
    after_share: float = AFTER_SHARE

    @property
    def spent_s(self) -> float:
        """Seconds since it began."""
        return time.monotonic() - self.began

    @property
    def left_s(self) -> float | None:
        """Seconds after which the search ends; None: no limit."""
        limit_s = self.time_limit_s
        return None if limit_s is None else max(0.0, (1 - self.after_share) * limit_s - self.spent_s)

    @property
    def is_over(self) -> bool:
        """Whether the search is to end; what is left is for the audit and the sampled weathers."""
        return self.left_s == 0.0

    def part(self, share: float) -> Callable[[], bool]:
        """Whether such a share is over of what is left of the search now."""
        if self.left_s is None:
            return lambda: False
        until_s = self.spent_s + share * self.left_s
        return lambda: self.spent_s >= until_s

    def keep_for_after(self, round_s: float, audit_s: float) -> None:
        """Keep time for audit and weathers, by the seconds of one pricing of all nights and of the audit."""
        if self.time_limit_s is not None:
            share = (AFTER_ROUNDS * round_s + audit_s) / self.time_limit_s
            self.after_share = min(MOST_AFTER, max(AFTER_SHARE, share))
