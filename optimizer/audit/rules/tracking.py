"""The column that says whether the mount follows the sky."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from optimizer.audit.rows import NO_TARGET, Row
from optimizer.audit.rule import Rule, SpanRule, kind_words
from optimizer.audit.scene import Scene
from optimizer.audit.spans import SampledSpans, WorkSpan
from optimizer.models.shots import Violation


class Tracking(Rule):
    """Everything tracks but `park` and the waits between visits.

    The wait before a flip tracks, too: always before a mount's own, else where the first side need not have
    been left by its end and the sky permits it. A list typed by hand may let the mount stand before a flip.
    """

    name = "tracking"

    def __init__(self, span_rules: Sequence[SpanRule]) -> None:
        """Keep the `span_rules`, which are asked of the waits before a flip as if they tracked."""
        self._span_rules = tuple(span_rules)

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Flags that are missing or say the opposite, and mounts that stand still where they need not."""
        yield from self._flags(scene)
        if scene.own_list and scene.german and scene.request.mount.flip_by == "plan":
            yield from self._needless_standing(scene)

    def _needless_standing(self, scene: Scene) -> Iterator[Violation]:
        """Waits without tracking before a flip to the same target that could have tracked."""
        spans = []
        for row, following, state in zip(scene.rows, scene.rows[1:], scene.replay.before, strict=False):
            visit = state.visit
            if not (row.idle_wait and following.kind == "flip" and state.tracks and visit is not None):
                continue
            if visit.start is not None and not visit.start.begin.acquired:
                continue  # nobody knows where it points, so it need not be tracked
            if visit.target == following.target and visit.target != NO_TARGET and row.near:
                # the flip as well: where it alone leads over what the sky forbids, the mount has to stand
                spans.append(WorkSpan(row, visit.target, visit.side, row.start, following.end))
        view = SampledSpans(spans, scene.book)
        barred = {breach.span for rule in self._span_rules for breach in rule.breaches(scene, view)}
        for index, span in enumerate(spans):
            if index not in barred:
                yield scene.violation(
                    self.name,
                    span.row,
                    span.row.end - span.row.start,
                    "s",
                    "the mount stands still before a flip, where it could track until then",
                )

    def _flags(self, scene: Scene) -> Iterator[Violation]:
        for row in scene.rows:
            expected = self._expected(scene, row)
            if row.step.tracking is not None and row.step.tracking in expected:
                continue
            given = {None: "nothing", True: "true", False: "false"}[row.step.tracking]
            wanted = "true" if True in expected else "false"
            yield scene.violation(
                self.name,
                row,
                1,
                "flags",
                f"tracking of this {kind_words(row.kind)} says {given}, not {wanted}",
            )

    @staticmethod
    def _expected(scene: Scene, row: Row) -> set[bool]:
        """The values that the row's `tracking` may have.

        An idle wait inside a visit is refused by what follows it (`acquired`).
        """
        if row.kind != "wait":
            return {row.kind != "park"}
        following = next((each for each in scene.rows[row.place + 1 :] if each.kind != "wait"), None)
        if following is None or following.kind in ("slew", "park"):
            return {False}
        if following.kind == "flip" and scene.request.mount.flip_by == "mount":
            return {True}
        return {True, False}
