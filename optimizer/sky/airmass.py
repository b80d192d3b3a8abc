"""Relative airmass at an altitude."""

from __future__ import annotations

import numpy as np

from optimizer.sky.clock import FloatArray, Times


def airmass(altitude_deg: Times) -> FloatArray:
    """Relative airmass at an apparent altitude in degrees; NaN below the horizon.

    Kasten & Young 1989, Applied Optics 28, 4735.
    """
    altitude = np.asarray(altitude_deg, dtype=np.float64)
    above = np.maximum(altitude, 0.0)
    value = 1.0 / (np.sin(np.radians(above)) + 0.50572 * (above + 6.07995) ** -1.6364)
    return np.where(altitude >= 0.0, value, np.nan)
