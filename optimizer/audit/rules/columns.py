"""Columns that say where the target stands at the start of its step."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optimizer.audit.rows import NO_TARGET
from optimizer.audit.rule import Rule
from optimizer.audit.scene import Scene
from optimizer.audit.sky import Places
from optimizer.audit.tolerances import ANGLE_DEG, hour_angle_s
from optimizer.audit.types import Floats
from optimizer.models.shots import Violation

HALF_DIGIT = 0.5e-4  # of four decimals
HALF_DIGIT_H = 0.5e-6  # of six decimals


def airmass(altitude_deg: Floats) -> Floats:
    """Kasten & Young 1989, Applied Optics 28, 4735; NaN at and below -6 degrees, where it means nothing."""
    altitude = np.where(altitude_deg > -6, altitude_deg, np.nan)
    path: Floats = 1 / (np.sin(np.radians(altitude)) + 0.50572 * (altitude + 6.07995) ** -1.6364)
    return path


class Columns(Rule):
    """Hour angle, altitude, azimuth, airmass and the Moon's separation are right to their last digit."""

    name = "columns"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Values that differ from the sky's by more than half their last digit and what is forgiven."""
        rows = [row for row in scene.rows if row.target != NO_TARGET and row.near]
        if not rows:
            return
        second = np.array([row.start for row in rows], dtype=np.int64)
        places = scene.book.places(np.array([row.target for row in rows], dtype=np.int64), second)
        separation = scene.book.bodies(second).moon_separation_deg(places)
        for name, unit, true, forgiven, turn in self._truths(places, separation):
            given = np.array(
                [np.nan if (value := getattr(row.step, name)) is None else value for row in rows],
                dtype=np.float64,
            )
            off = np.abs(given - true)
            off = np.minimum(off, np.abs(turn - off)) if turn else off
            for index in np.flatnonzero(off > forgiven).tolist():
                yield scene.violation(
                    self.name,
                    rows[index],
                    off[index],
                    unit,
                    f"{name} says {given[index]:g}; it is {true[index]:.6f}",
                )

    @staticmethod
    def _truths(places: Places, separation: Floats) -> Iterator[tuple[str, str, Floats, Floats, float]]:
        """Each column with unit, true values, what is forgiven, and the full turn where it wraps (else 0)."""
        even = np.full(separation.shape, HALF_DIGIT + ANGLE_DEG)
        yield (
            "hour_angle_h",
            "h",
            places.hour_angle_s / 3600,
            HALF_DIGIT_H + hour_angle_s(places.declination_deg) / 3600,
            24,
        )
        yield "altitude_deg", "deg", places.altitude_deg, even, 0
        sideways = np.maximum(np.cos(np.radians(places.true_altitude_deg)), 1e-6)
        yield "azimuth_deg", "deg", places.azimuth_deg, HALF_DIGIT + ANGLE_DEG / sideways, 360
        slope = (
            np.abs(airmass(places.altitude_deg - ANGLE_DEG) - airmass(places.altitude_deg + ANGLE_DEG)) / 2
        )
        yield "airmass", "airmasses", airmass(places.altitude_deg), HALF_DIGIT + slope, 0
        yield "moon_separation_deg", "deg", separation, even, 0
