"""Lengths of steps: those that the request fixes, and those that the motion of the axes takes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from optimizer.audit.rows import EAST, NO_SIDE, NO_TARGET, fixed_length_s
from optimizer.audit.rule import Rule, kind_words
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import ANGLE_DEG, ROUNDING
from optimizer.audit.zone import HALF_TURN_S, wrapped_about
from optimizer.models.shots import Violation

MAY_TAKE_NO_TIME = ("park", "filter", "dither")


class StepLength(Rule):
    """A step lasts at least as long as the request says.

    Only a filter change or a dither that takes no time, and park, may have no length.
    """

    name = "step_length"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Steps that are too short, without length, or run backwards."""
        for row in scene.rows:
            lasts = row.end - row.start
            least = fixed_length_s(scene.request, row)
            if row.kind not in MAY_TAKE_NO_TIME:
                least = max(1, least or 0)
            if lasts < (least or 0):
                yield scene.violation(
                    self.name,
                    row,
                    (least or 0) - lasts,
                    "s",
                    f"{kind_words(row.kind)} lasts {lasts} s; it takes at least {least} s",
                )


@dataclass(frozen=True)
class AxisPositions:
    """Axis positions in degrees: hour axis, declination axis."""

    hour: float
    declination: float


HOME = AxisPositions(0.0, 0.0)


class SlewTime(Rule):
    """Slew, flip and park last as long as the slower axis needs for its way, plus start and stop."""

    name = "slew_time"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Moves that are too short for the way from where the visit before ended."""
        mount = scene.request.mount
        for row, state in zip(scene.rows, scene.replay.before, strict=True):
            if not (row.arrives or row.kind == "park"):
                continue
            visit = state.visit
            left = HOME if visit is None else self._axes(scene, visit.target, visit.side, visit.end)
            reached = HOME if row.kind == "park" else self._axes(scene, row.target, row.side, row.start)
            if left is None or reached is None:
                continue
            turn = abs(reached.hour - left.hour)
            if not scene.german:
                turn = min(turn % 360, 360 - turn % 360)
            way = max(turn, abs(reached.declination - left.declination))
            needed = mount.slew_extra_s + max(0.0, way - ANGLE_DEG) / mount.slew_deg_s
            least, lasts = math.ceil(needed - ROUNDING), row.end - row.start
            if lasts < least:
                yield scene.violation(
                    self.name,
                    row,
                    least - lasts,
                    "s",
                    f"{kind_words(row.kind)} lasts {lasts} s; its way of {way:.2f}° takes at least {least} s",
                )

    @staticmethod
    def _axes(scene: Scene, target: int, side: int, second: int) -> AxisPositions | None:
        """The axis positions on a target; None where target or pier side are not known."""
        if target == NO_TARGET or (scene.german and side == NO_SIDE):
            return None
        place = scene.book.places(np.array([target]), np.array([second]))
        # a side looks at half of the sky; what lies a little past either end of that half goes on from it
        middle = np.array({EAST: HALF_TURN_S / 2, NO_SIDE: 0.0}.get(side, -HALF_TURN_S / 2))
        turn = float(wrapped_about(place.hour_angle_s, middle)[0]) / 240
        declination = float(place.declination_deg[0])
        if math.isnan(turn):
            return None
        polar = 90 - (declination if scene.request.site.latitude_deg >= 0 else -declination)
        if not scene.german:
            return AxisPositions(turn, polar)
        return AxisPositions(turn - 90, -polar) if side == EAST else AxisPositions(turn + 90, polar)
