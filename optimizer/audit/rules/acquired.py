"""An exposure needs a telescope that has arrived, by the right steps, on the right target and pier side."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.audit.replay import AuditedVisit
from optimizer.audit.rows import NO_SIDE, SIDE_NAMES, Row
from optimizer.audit.rule import Rule, kind_words
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import whole_seconds
from optimizer.models.shots import Violation

RANK = {"centre": 1, "settle": 2, "rotate": 3, "filter": 4, "focus": 5}
READY = RANK["rotate"]  # what a finished exposure leaves: filter and focus may follow


def _both(kinds: list[str]) -> str:
    """Kinds of steps in words: `plate solve and settling`."""
    return " and ".join(kind_words(kind) for kind in kinds)


class Acquired(Rule):
    """slew or flip, centre, settle, rotate, filter, focus come in that order, and before the exposure."""

    name = "acquired"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Exposures without an arrival, and steps out of their order."""
        for visit in scene.replay.visits:
            yield from self._arrival(scene, visit)
            yield from self._place(scene, visit)

    def _arrival(self, scene: Scene, visit: AuditedVisit) -> Iterator[Violation]:
        start = visit.start
        if visit.arrival is None and start is None:
            yield scene.violation(
                self.name,
                visit.first,
                1,
                "steps",
                f"{kind_words(visit.first.kind)} without a slew or flip before it: the mount tracks nothing",
            )
        mount = scene.request.mount
        due = [
            kind
            for kind, lasts in (("centre", mount.centre_s), ("settle", mount.settle_s))
            if whole_seconds(lasts)
        ]
        exposed = start is not None and start.begin.acquired
        rank = READY if exposed else 0
        needed = [] if exposed or (visit.arrival is None and start is None) else due
        for row in visit.rows:
            if row.place == scene.join:
                rank = min(rank, READY)  # the newer list may set another filter than the older one just did
            if row.kind == "expose":
                if needed:
                    yield scene.violation(
                        self.name,
                        row,
                        len(needed),
                        "steps",
                        f"sub without {_both(needed)} {self._after(visit)}",
                    )
                needed, exposed, rank = [], True, READY
            elif row.kind == "wait":
                if needed:
                    yield scene.violation(
                        self.name, row, len(needed), "steps", f"wait before {_both(needed)}"
                    )
            elif row.kind in RANK:
                if (exposed and RANK[row.kind] <= READY) or self._too_late(row, rank):
                    yield scene.violation(
                        self.name, row, 1, "steps", f"{kind_words(row.kind)} is out of its order"
                    )
                rank = max(rank, RANK[row.kind])
                needed = [kind for kind in needed if kind != row.kind]

    @staticmethod
    def _after(visit: AuditedVisit) -> str:
        """After what the telescope had to be acquired, in words."""
        if visit.arrival is None:
            return "on a target that was not acquired as the list begins"
        return f"after the {kind_words(visit.arrival.kind)}"

    @staticmethod
    def _too_late(row: Row, rank: int) -> bool:
        """Whether something that must follow this row came before it; a second autofocus harms nothing."""
        return rank >= RANK[row.kind] and row.kind != "focus"

    def _place(self, scene: Scene, visit: AuditedVisit) -> Iterator[Violation]:
        """Rows on another target than the mount, and exposures on another pier side."""
        for row in visit.rows:
            if row.step.target is not None and row.target != visit.target:
                here = scene.target(visit.target)
                yield scene.violation(
                    self.name,
                    row,
                    1,
                    "steps",
                    f"{kind_words(row.kind)} of {row.step.target} while the mount is on "
                    f"{here.name if here else 'no known target'}",
                )
            if row.kind == "expose" and scene.german and row.side not in (NO_SIDE, visit.side):
                yield scene.violation(
                    self.name,
                    row,
                    1,
                    "steps",
                    f"sub on {SIDE_NAMES[row.side]} while the mount is on {SIDE_NAMES[visit.side]}",
                )
