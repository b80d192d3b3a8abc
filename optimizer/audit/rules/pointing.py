"""The coordinates and the position angle that the list gives."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.audit.rows import EAST, Row
from optimizer.audit.rule import Rule, angle_words, kind_words
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import ANGLE_DEG
from optimizer.models.shots import Violation

TURN_DEG = 1e-3  # a camera's angle is never known to a thousandth of a degree


def _must_tell(row: Row) -> bool:
    """Whether the row must carry its columns: only waits and park may leave them empty."""
    return row.kind not in ("wait", "park")


class Coordinates(Rule):
    """`ra_deg`, `dec_deg` are the target's ICRS coordinates."""

    name = "coordinates"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Rows with a known target whose coordinates are missing or differ from its own."""
        for row in scene.rows:
            target = scene.target(row.target)
            if target is None:
                continue
            ra_deg, dec_deg = row.step.ra_deg, row.step.dec_deg
            if ra_deg is None or dec_deg is None:
                if _must_tell(row) or not (ra_deg is None and dec_deg is None):
                    yield scene.violation(
                        self.name,
                        row,
                        1,
                        "coordinates",
                        f"{kind_words(row.kind)} of {target.name} lacks its coordinates",
                    )
                continue
            if not 0 <= ra_deg < 360:
                # the direction may be right, but who runs the list may read it as another one
                off_deg = abs(math.floor(ra_deg / 360)) * 360.0 if math.isfinite(ra_deg) else math.inf
                message = f"ra_deg {ra_deg:g} is not from 0 to below 360"
                yield scene.violation(self.name, row, off_deg, "deg", message)
                continue
            apart = separation_deg(ra_deg, dec_deg, target.ra_deg, target.dec_deg)
            if apart > ANGLE_DEG:
                yield scene.violation(
                    self.name,
                    row,
                    apart * 3600,
                    "arcsec",
                    f"{kind_words(row.kind)} points {apart * 3600:.1f} arcsec away from {target.name}",
                )


def separation_deg(ra_deg: float, dec_deg: float, other_ra_deg: float, other_dec_deg: float) -> float:
    """Angle between two directions (haversine); 180 where a declination lies beyond a pole."""
    if not (abs(dec_deg) <= 90 and abs(other_dec_deg) <= 90):
        return 180.0
    north, other_north = math.radians(dec_deg), math.radians(other_dec_deg)
    across = math.sin(math.radians(ra_deg - other_ra_deg) / 2) ** 2 * math.cos(north) * math.cos(other_north)
    half = math.sqrt(min(1.0, math.sin((north - other_north) / 2) ** 2 + across))
    return math.degrees(2 * math.asin(half))


class PositionAngle(Rule):
    """The position angle is the target's, turned by 180 on pier side east unless a rotator undoes it."""

    name = "position_angle"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Rows with a known target whose position angle is missing or wrong."""
        for row in scene.rows:
            target = scene.target(row.target)
            if target is None:
                continue
            given = row.step.position_angle_deg
            turned = scene.german and row.side == EAST and not scene.request.mount.turn_rotator_after_flip
            expected = (target.position_angle_deg + (180 if turned else 0)) % 360
            if given is None:
                if _must_tell(row):
                    yield scene.violation(
                        self.name,
                        row,
                        1,
                        "angles",
                        f"{kind_words(row.kind)} of {target.name} lacks its position angle",
                    )
                continue
            off = abs((given - expected + 180) % 360 - 180)
            if off > TURN_DEG:
                yield scene.violation(
                    self.name,
                    row,
                    off,
                    "deg",
                    f"position angle {angle_words(given)} is {angle_words(off, 3)} off; {target.name} wants "
                    f"{angle_words(expected)} here",
                )
