"""`latest_start_utc`: at that second the step may still start without breaking a rule by itself."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from optimizer.audit.rows import NO_TARGET
from optimizer.audit.rule import Rule, SpanRule, kind_words, span_words
from optimizer.audit.scene import Scene
from optimizer.audit.spans import SampledSpans, WorkSpan
from optimizer.audit.tolerances import hour_angle_s
from optimizer.audit.types import Floats
from optimizer.models.shots import Violation


class LatestStart(Rule):
    """No latest start is before the step's start, and a step moved to it breaks no rule of sky or mount."""

    name = "latest_start"

    def __init__(self, span_rules: Sequence[SpanRule]) -> None:
        """Keep the `span_rules`, which are asked of the moved steps."""
        self._span_rules = tuple(span_rules)

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Latest starts that are missing, needless, too early or too late."""
        yield from self._presence(scene)
        yield from self._moved(scene)
        yield from self._left_tracking(scene)

    def _presence(self, scene: Scene) -> Iterator[Violation]:
        for row, state in zip(scene.rows, scene.replay.before, strict=True):
            latest = scene.latest_start(row)
            if latest is None:
                if scene.own_list and row.kind in ("expose", "flip"):
                    yield scene.violation(
                        self.name, row, 1, "instants", f"{kind_words(row.kind)} lacks its latest start"
                    )
            elif (row.idle_wait or row.kind == "park") and not state.tracks:
                yield scene.violation(
                    self.name,
                    row,
                    1,
                    "instants",
                    f"{kind_words(row.kind)} has a latest start though nothing tracks",
                )
            elif latest < row.start:
                yield scene.violation(
                    self.name,
                    row,
                    row.start - latest,
                    "s",
                    f"the latest start lies {row.start - latest} s before the step's own start",
                )

    def _moved(self, scene: Scene) -> Iterator[Violation]:
        """Breaches of moved steps, but for rules that the step breaks where it stands."""
        for rule in self._span_rules:
            broken = None
            for breach in rule.breaches(scene, scene.moved_view):
                if broken is None:
                    broken = {
                        scene.view.spans[each.span].row.place for each in rule.breaches(scene, scene.view)
                    }
                row = scene.moved_view.spans[breach.span].row
                if row.place not in broken:
                    yield scene.violation(
                        self.name,
                        row,
                        breach.amount,
                        breach.unit,
                        f"started at its latest start the step breaks {rule.name}: {breach.message}",
                    )

    def _left_tracking(self, scene: Scene) -> Iterator[Violation]:
        """Slews, flips, parks and idle waits until which the mount would track a target out of its zone.

        A flip counts even where the list lets the mount stand before it: whoever tracks on all the same must
        not come to contact, unless the first side had to be left before the flip may begin at all.
        """
        spans = []
        for row, state in zip(scene.rows, scene.replay.before, strict=True):
            latest, visit = scene.latest_start(row), state.visit
            leaves = row.arrives or row.idle_wait or row.kind == "park"
            if not leaves or latest is None or not row.near or latest <= row.start or visit is None:
                continue
            crosses = row.kind == "flip" and visit.target == row.target
            if visit.target == NO_TARGET or not (state.tracks or crosses):
                continue
            left = min(visit.tracked_until, row.start)
            own = crosses and scene.request.mount.flip_by == "mount"
            span = WorkSpan(row, visit.target, visit.side, left, latest, reaching=own, promised=True)
            stands = None if state.tracks else WorkSpan(row, visit.target, visit.side, left, row.start)
            spans.append((span, stands))
        if not scene.german or not spans:
            return
        gone = self._beyond(scene, SampledSpans([stands or span for span, stands in spans], scene.book))
        view = SampledSpans([span for span, _ in spans], scene.book)
        late, forgiven = self._beyond(scene, view), hour_angle_s(view.declination_deg)
        for index in np.flatnonzero(late > forgiven).tolist():
            span, stands = spans[index]
            if stands is not None and gone[index] > forgiven[index]:
                continue  # by the flip's own start the first side had to be left
            yield scene.violation(
                self.name,
                span.row,
                late[index],
                "s",
                f"until this latest start the mount would track {span_words(late[index])} of hour angle "
                "beyond the zone of the target before",
            )

    @staticmethod
    def _beyond(scene: Scene, view: SampledSpans) -> Floats:
        """Seconds of hour angle by which each span leads out of its zone."""
        beyond = view.beyond(scene.zone)
        late: Floats = np.fmax(beyond.contact, np.fmax(beyond.flip_from, beyond.lower_culmination))
        return late
