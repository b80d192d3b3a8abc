"""What the odds of clear sky make of each exposure, by the audit's own route.

The odds run straight from each instant given to the next, and stay before the first and after the last. The
area under these straight pieces is known exactly; nothing is summed second by second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.audit.clock import REACH_S
from optimizer.audit.depth import depth_seconds
from optimizer.audit.rows import Row
from optimizer.audit.scene import Scene
from optimizer.audit.types import Floats

FAR_S = 8.0 * REACH_S  # beyond any step whose sky is looked at, and any instant of a night's odds


@dataclass(frozen=True)
class Odds:
    """Straight pieces: where each begins, in seconds after the night's origin, its odds there, and its slope.

    All three have shape (pieces,); odds are 0 to 1, slopes are a second.
    """

    begins: Floats
    odds: Floats
    slopes: Floats

    @classmethod
    def of(cls, scene: Scene) -> Odds:
        """The pieces of the odds that a request gives; all seconds are clear where it gives none."""
        given = scene.request.night.clear_odds
        if not given:
            return cls(np.array([-FAR_S]), np.ones(1), np.zeros(1))
        times = np.array([scene.clock.seconds(instant) for instant, _ in given], dtype=np.float64)
        odds = np.array([percent for _, percent in given], dtype=np.float64) / 100
        rises = (odds[1:] - odds[:-1]) / (times[1:] - times[:-1])
        first = min(-FAR_S, times[0] - 1)
        return cls(
            np.array([first, *times]),
            np.array([odds[0], *odds]),
            np.array([0.0, *rises, 0.0]),
        )

    def at(self, seconds: np.ndarray) -> Floats:
        """Odds at seconds after the night's origin, in their shape."""
        piece = np.searchsorted(self.begins, seconds, side="right") - 1
        odds: Floats = self.odds[piece] + self.slopes[piece] * (seconds - self.begins[piece])
        return odds

    def area_s(self, until: np.ndarray) -> Floats:
        """Seconds times odds from the first piece's beginning until each of these seconds."""
        lasts = np.diff(self.begins)
        whole = np.array([0.0, *np.cumsum(lasts * (self.odds[:-1] + self.slopes[:-1] * lasts / 2))])
        piece = np.searchsorted(self.begins, until, side="right") - 1
        passed = until - self.begins[piece]
        area: Floats = whole[piece] + passed * (self.odds[piece] + self.slopes[piece] * passed / 2)
        return area


def odds_seconds(scene: Scene, rows: Sequence[Row]) -> Floats:
    """Open shutter of each exposure times the mean odds while it is open, in seconds, shape (n,)."""
    odds = Odds.of(scene)
    opens = np.array([row.start for row in rows], dtype=np.float64)
    closes = np.array([max(row.works_until, row.start + 1) for row in rows], dtype=np.float64)
    exposed = np.array([row.step.exposure_s or 0.0 for row in rows], dtype=np.float64)
    near = np.array([row.near for row in rows], dtype=bool)
    mean = (odds.area_s(np.where(near, closes, 1.0)) - odds.area_s(np.where(near, opens, 0.0))) / np.where(
        near, closes - opens, 1.0
    )
    return np.where(near, mean, odds.odds[-1]) * exposed


def counted_seconds(scene: Scene, rows: Sequence[Row]) -> Floats:
    """What each exposure counts for the value before its weight, in seconds, shape (n,).

    That is its open shutter or, if the aim asks for it, its depth, each second times the odds of clear sky.
    """
    if scene.request.aim.value == "depth":
        return depth_seconds(scene, rows, Odds.of(scene).at)
    return odds_seconds(scene, rows)
