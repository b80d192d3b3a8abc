"""The flag that tells the mount whether to follow the sky."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.audit.rows import Row
from optimizer.audit.rule import Rule
from optimizer.audit.scene import Scene
from optimizer.models.shots import Violation


class Tracking(Rule):
    """Everything tracks but `park` and the waits between visits.

    The wait before a mount's own flip does, too.
    """

    name = "tracking"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Flags that are missing or say the opposite."""
        for row in scene.rows:
            expected = self._expected(scene, row)
            if row.step.tracking is not None and row.step.tracking in expected:
                continue
            told = {None: "nothing", True: "true", False: "false"}[row.step.tracking]
            wanted = "true" if True in expected else "false"
            yield scene.violation(
                self.name, row, 1, "flags", f"tracking of this {row.kind} says {told}, not {wanted}"
            )

    @staticmethod
    def _expected(scene: Scene, row: Row) -> set[bool]:
        """The flags that may stand.

        An idle wait inside a visit is refused by what follows it (`acquired`).
        """
        if row.kind != "wait":
            return {row.kind != "park"}
        following = next((each for each in scene.rows[row.place + 1 :] if each.kind != "wait"), None)
        if following is None or following.kind in ("slew", "park"):
            return {False}
        if following.kind == "flip":
            return {scene.request.mount.flip_by == "mount"}
        return {True, False}
