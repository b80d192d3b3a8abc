"""Names in the list that the request must know."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.audit.rows import NO_TARGET
from optimizer.audit.rule import Rule, kind_words
from optimizer.audit.scene import Scene
from optimizer.models.shots import Violation


class KnownTarget(Rule):
    """Every step of a visit names a target of the request; a wait between visits names none."""

    name = "known_target"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Unknown, missing and needless targets."""
        for row in scene.rows:
            named = row.step.target
            if named is not None and row.target == NO_TARGET:
                yield scene.violation(
                    self.name, row, 1, "names", f"the request has no target named {named!r}"
                )
            elif named is None and (row.arrives or row.in_visit) and not self._before_flip(scene, row.place):
                yield scene.violation(self.name, row, 1, "names", f"{kind_words(row.kind)} names no target")
            elif named is not None and row.idle_wait:
                yield scene.violation(
                    self.name, row, 1, "names", f"a wait without tracking names a target, {named!r}"
                )

    @staticmethod
    def _before_flip(scene: Scene, place: int) -> bool:
        """Whether the row is the tracking wait before a mount's own flip, which may go without a target."""
        span = scene.span_of.get(place)
        return span is not None and span.reaching


class KnownFilter(Rule):
    """Filters named in the list are filters of the request; `filter` and `expose` rows name one."""

    name = "known_filter"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Unknown and missing filters."""
        for row in scene.rows:
            named = row.step.filter
            if named is not None and row.filter is None:
                yield scene.violation(
                    self.name, row, 1, "names", f"the request has no filter named {named!r}"
                )
            elif named is None and row.kind in ("filter", "expose"):
                yield scene.violation(self.name, row, 1, "names", f"{kind_words(row.kind)} names no filter")
