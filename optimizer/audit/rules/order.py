"""The list's own order: numbers, contiguity, park, the night's bounds, exposures against flips."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from optimizer.audit.clock import NIGHT_S
from optimizer.audit.rule import Rule, kind_words
from optimizer.audit.scene import Scene
from optimizer.models.shots import Violation


class Contiguous(Rule):
    """Steps are numbered from 1 and each starts where the one before ends."""

    name = "contiguous"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Gaps, overlaps and wrong numbers."""
        for row in scene.rows:
            if row.step.step != row.place + 1:
                yield scene.violation(
                    self.name,
                    row,
                    abs(row.step.step - row.place - 1),
                    "steps",
                    f"row {row.place + 1} of the list is numbered {row.step.step}",
                )
        for row, following in pairwise(scene.rows):
            idle = following.start - row.end
            if idle > 0:
                yield scene.violation(
                    self.name,
                    following,
                    idle,
                    "s",
                    f"{kind_words(following.kind)} starts {idle} s after the step before it ends; idle time "
                    "is a wait row",
                )
            elif idle < 0:
                yield scene.violation(
                    self.name,
                    following,
                    -idle,
                    "s",
                    f"{kind_words(following.kind)} starts {-idle} s before the step before it ends",
                )


class EndsWithPark(Rule):
    """`park` is the last step and the only one of its kind; a list without steps moves nothing."""

    name = "ends_with_park"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """A missing park, or one too many."""
        if scene.rows and scene.rows[-1].kind != "park":
            yield scene.violation(self.name, scene.rows[-1], 1, "steps", "the list does not end with park")
        for row in scene.rows[:-1]:
            if row.kind == "park":
                yield scene.violation(self.name, row, 1, "steps", "park before the end of the list")


class WithinNight(Rule):
    """All but `park` lies in the 24 h that begin at the solar noon before the night."""

    name = "within_night"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Steps outside those hours; the noon's fraction of a second is forgiven."""
        for row in scene.rows:
            outside = max(-row.start, row.end - NIGHT_S)
            if row.kind != "park" and outside > 1:
                yield scene.violation(
                    self.name,
                    row,
                    outside,
                    "s",
                    f"{kind_words(row.kind)} lies {outside} s outside the night, which runs from "
                    f"{scene.clock.text(0)} to {scene.clock.text(NIGHT_S)}",
                )


class Straddle(Rule):
    """No shutter is open during a flip."""

    name = "straddle"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Exposures that overlap a flip in time, wherever they stand in the list."""
        flips = [row for row in scene.rows if row.kind == "flip"]
        for row in scene.rows:
            if row.kind != "expose":
                continue
            for flip in flips:
                shared = min(row.works_until, flip.end) - max(row.start, flip.start)
                if shared > 0:
                    yield scene.violation(
                        self.name,
                        row,
                        shared,
                        "s",
                        f"the shutter is open for {shared} s of the flip in step {flip.step.step}",
                    )
