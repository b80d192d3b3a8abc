"""How much a second of open shutter counts by the odds of clear sky that are given for it.

The odds are told at some instants of the night; they run straight between, stay as at the first before it and
as at the last after it. A second counts its odds, 0 to 1.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from optimizer.sky.clock import SPAN_S, NightClock
from optimizer.sky.gathered import GatheredCurve


def odds_curve(given: Sequence[tuple[dt.datetime, float]], clock: NightClock) -> GatheredCurve:
    """What open shutter may be expected to gather by odds in per cent at instants that ascend."""
    at_s = [clock.seconds(instant) for instant, _ in given]
    shares = [percent / 100.0 for _, percent in given]
    return GatheredCurve.of_weights(np.interp(np.arange(SPAN_S + 1, dtype=np.float64), at_s, shares))
