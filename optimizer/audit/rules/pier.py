"""Pier sides: which exist, how the mount changes them, and which a target allows."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

import numpy as np

from optimizer.audit.replay import MountState
from optimizer.audit.rows import EAST, NO_SIDE, NO_TARGET, SIDE_NAMES, WEST, Row
from optimizer.audit.rule import Breach, Rule, SpanRule, kind_words, span_words
from optimizer.audit.scene import Scene
from optimizer.audit.spans import SampledSpans
from optimizer.audit.tolerances import hour_angle_s
from optimizer.audit.zone import HALF_TURN_S, wrapped_about
from optimizer.models.shots import Violation


class PierSide(Rule):
    """On a German mount every step of a visit names its pier side, and only a flip goes from west to east.

    On a fork no step names one.
    """

    name = "pier_side"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Missing or impossible pier sides, and changes of pier side that no flip made."""
        for row, visit, state in zip(scene.rows, scene.replay.visit_of, scene.replay.before, strict=True):
            message = None
            if not scene.german:
                if row.side != NO_SIDE:
                    message = f"{kind_words(row.kind)} names {SIDE_NAMES[row.side]}; a fork has none"
                elif row.kind == "flip":
                    message = "a fork never flips"
            elif visit is not None:
                if row.side == NO_SIDE and row.kind != "wait":
                    message = f"{kind_words(row.kind)} names no pier side"
                elif row.arrives:
                    message = self._arrival(row, state)
                elif row.kind != "expose" and row.side not in (NO_SIDE, visit.side):
                    message = (
                        f"{kind_words(row.kind)} on {SIDE_NAMES[row.side]} while the mount is on "
                        f"{SIDE_NAMES[visit.side]}"
                    )
            if message is not None:
                yield scene.violation(self.name, row, 1, "sides", message)

    @staticmethod
    def _arrival(row: Row, state: MountState) -> str | None:
        """What is wrong with the pier side on which a slew or flip arrives; None where nothing is."""
        before = state.visit
        from_west = before is not None and before.side == WEST and row.target in (before.target, NO_TARGET)
        if row.kind == "slew":
            crosses = from_west and row.target != NO_TARGET and row.side == EAST
            return (
                "a slew carries the target from pier side west to pier side east; that is a flip"
                if crosses
                else None
            )
        if row.side == WEST:
            return "a flip arrives on pier side west; it leads from west to east"
        return None if from_west else "a flip, but the visit before was not to this target on pier side west"


class Sides(SpanRule):
    """A target is shot before or after its transit as `sides` says; with `flip_by = never` nothing flips."""

    name = "sides"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Flips that may not be, and steps on a pier side that the target does not allow."""
        if scene.request.mount.flip_by == "never":
            for row in scene.rows:
                if row.kind == "flip":
                    yield scene.violation(self.name, row, 1, "steps", "a flip, though flip_by is never")
        if scene.german:
            yield from self._german(scene)
        yield from super().check(scene)

    def _german(self, scene: Scene) -> Iterator[Violation]:
        refused = {"before": EAST, "after": WEST}
        for (index, side), group in groupby(
            scene.span_of.values(), key=lambda span: (span.target, span.side)
        ):
            target = scene.target(index)
            rows = [span.row for span in group]
            if target is not None and refused.get(target.sides) == side:
                yield scene.violation(
                    self.name,
                    rows[0],
                    len(rows),
                    "steps",
                    f"{target.name} on {SIDE_NAMES[side]}; it is wanted {target.sides} its transit only",
                )

    def breaches(self, scene: Scene, view: SampledSpans) -> Iterator[Breach]:
        """Exposures of a fork, which has no pier sides, before or after the transit where they may not be."""
        if scene.german or not view.spans:
            return
        forgiven = hour_angle_s(view.declination_deg)
        for index, span in enumerate(view.spans):
            target = scene.target(span.target)
            if target is None or not span.shutter or target.sides == "either":
                continue
            middle = np.array(-HALF_TURN_S / 2 if target.sides == "before" else HALF_TURN_S / 2)
            opening = wrapped_about(view.start_hour_angle_s[index], middle) - middle
            beyond = float(max(-opening, opening + view.gained_s[index])) - HALF_TURN_S / 2
            if beyond > forgiven[index]:
                yield Breach(
                    index,
                    beyond,
                    "s",
                    f"sub of {target.name} lies {span_words(beyond)} of hour angle on the wrong "
                    "side of its transit; "
                    f"it is wanted {target.sides} it only",
                )
