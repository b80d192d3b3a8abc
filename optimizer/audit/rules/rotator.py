"""The rotator turns by 180 degrees wherever the pier side changed, and nowhere else."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.audit.replay import AuditedVisit
from optimizer.audit.rows import NO_SIDE
from optimizer.audit.rule import Rule
from optimizer.audit.scene import Scene
from optimizer.models.shots import Violation


class Rotator(Rule):
    """A visit has one `rotate` where the mount wants it and the visit before was on the other pier side."""

    name = "rotator"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Turns of the rotator that are missing before an exposure, or needless."""
        for visit in scene.replay.visits:
            turns = [row for row in visit.rows if row.kind == "rotate"]
            wanted = scene.request.mount.turn_rotator_after_flip and self._changed(scene, visit)
            for row in turns[1 if wanted else 0 :]:
                yield scene.violation(
                    self.name, row, 180, "deg", "rotate, though the pier side did not change"
                )
            if wanted and not turns and visit.exposures:
                yield scene.violation(
                    self.name,
                    visit.exposures[0],
                    180,
                    "deg",
                    "sub without a rotator turn after the change of pier side",
                )

    @staticmethod
    def _changed(scene: Scene, visit: AuditedVisit) -> bool:
        """Whether the visit before was on the other pier side; unknown ones count as no change."""
        before = visit.before
        if not scene.german or visit.arrival is None or before is None:
            return False
        return NO_SIDE not in (before.side, visit.side) and before.side != visit.side
