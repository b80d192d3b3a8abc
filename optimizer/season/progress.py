"""How far a season is: what whoever waits for it is told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

SeasonPhase = Literal["loops", "nights", "bound", "plans", "rounds", "audit", "weather"]


@dataclass(frozen=True)
class SeasonProgress:
    """The state of a season that is being planned; value and bound are in weighted seconds, by odds.

    `nights_done` of `nights` are ready; `round` counts the rounds in which plans are made better;
    after about `seconds_left` the search ends, then come audit and weathers. What is not known yet is None.
    `dashboard` is the address of a page that shows what the workers of a cluster do; empty: there is none.
    """

    phase: SeasonPhase
    nights_done: int
    nights: int
    value_s: float | None = None
    bound_s: float | None = None
    seconds_left: float | None = None
    round: int = 0
    dashboard: str = ""

    @property
    def gap(self) -> float | None:
        """How far the bound is above the value, as a share of the value; None as long as there is none."""
        if self.value_s is None or self.bound_s is None or self.value_s <= 0:
            return None
        return (self.bound_s - self.value_s) / self.value_s


Tell = Callable[[SeasonProgress], None]
