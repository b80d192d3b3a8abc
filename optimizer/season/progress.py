"""How far a season is: what whoever waits for it is told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

SeasonPhase = Literal["loops", "nights", "bound", "plans", "rounds", "audit", "weather"]


@dataclass(frozen=True)
class SeasonProgress:
    """The state of a season that is being planned; value and bound are in weighted seconds, by odds.

    `done` of `of` steps of the phase are over; `left_s` is how long the rest may take at most, as far as that
    is known. What is not known yet is None.
    """

    phase: SeasonPhase
    seconds: float
    nights: int = 0
    nights_of: int = 0
    done: int = 0
    of: int = 0
    value_s: float | None = None
    bound_s: float | None = None
    left_s: float | None = None

    @property
    def gap(self) -> float | None:
        """How far the bound is above the value, as a share of the value; None as long as there is none."""
        if self.value_s is None or self.bound_s is None or self.value_s <= 0:
            return None
        return (self.bound_s - self.value_s) / self.value_s
