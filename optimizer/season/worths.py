"""What one more frame of each goal is worth tonight in view of the season."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from optimizer.season.aggregate import prices_by_hours
from optimizer.season.desk import Desk, Engine, NightRef
from optimizer.season.projects import Floats

OWN = 0.001  # of a frame's own worth, on top: what the season finishes anyway is still worth having tonight


def frame_worths_s(
    desk: Desk, refs: Sequence[NightRef], odds: Sequence[Fraction], engine: Engine, discount_per_night: float
) -> Floats:
    """Weighted seconds that a frame of each goal of a group is worth on the first night, [goals], in full.

    That is what it counts by itself and for its filter set, less what another night would give for it. Each
    later night counts so much less, or whatever the expected season can finish would be worth nothing.
    """
    projects = desk.group(refs).projects
    prices = prices_by_hours(desk, refs, odds, engine, discount_per_night)
    own_s = projects.frames_s
    worths: Floats = np.maximum(0.0, prices.shares * own_s - prices.costs_s) + OWN * own_s
    return np.where(projects.left > 0, worths, 0.0)
