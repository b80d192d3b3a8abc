"""Dithers between the exposures of a run."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.audit.replay import AuditedRun, AuditedVisit
from optimizer.audit.rows import Row
from optimizer.audit.rule import Rule
from optimizer.audit.scene import Scene
from optimizer.models.shots import Violation


class DitherEvery(Rule):
    """No more than `dither_every` exposures without a dither between.

    An autofocus between two exposures of a run is followed by a dither.
    """

    name = "dither_every"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Missing dithers, and those that no exposure precedes or follows."""
        camera = scene.request.camera
        runs = [run for visit in scene.replay.visits for run in visit.runs]
        if camera.dither_every:
            for run in runs:
                yield from self._missing(scene, run, camera.dither_every)
        between = {row.place for visit in scene.replay.visits for row in self._between(visit)}
        for row in scene.rows:
            if row.kind == "dither" and row.place not in between:
                yield scene.violation(
                    self.name, row, 1, "dithers", "dither that does not lie between two subs"
                )

    @staticmethod
    def _between(visit: AuditedVisit) -> Iterator[Row]:
        """Dithers that have exposures on both sides, with nothing but autofocus and dithers between."""
        waiting: list[Row] | None = None
        for row in visit.rows:
            if row.kind == "expose":
                yield from waiting or ()
                waiting = []
            elif row.kind == "dither":
                if waiting is not None:
                    waiting.append(row)
            elif row.kind != "focus":
                waiting = None

    def _missing(self, scene: Scene, run: AuditedRun, every: int) -> Iterator[Violation]:
        since, focused = 0, False
        for row in run.rows:
            if row.kind == "dither":
                since, focused = 0, False
            elif row.kind == "focus":
                focused = True
            else:
                since += 1
                if focused:
                    yield scene.violation(
                        self.name,
                        row,
                        1,
                        "dithers",
                        "sub without a dither after the autofocus inside its run",
                    )
                    since = 1
                elif since > every:
                    yield scene.violation(
                        self.name,
                        row,
                        since - every,
                        "subs",
                        f"{since} subs of a run without a dither; dither_every is {every}",
                    )
                focused = False
