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

    An autofocus between two exposures of a run is followed by a dither. In a list that goes on with a run,
    the exposures since its latest dither count, and the first act may be its dither, whatever follows. Such a
    list may also begin with an autofocus right after a dither of the older one.
    """

    name = "dither_every"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Missing dithers, and those that no exposure precedes or follows."""
        camera = scene.request.camera
        if camera.dither_every:
            for visit in scene.replay.visits:
                for run in visit.runs:
                    yield from self._missing(scene, visit, run, camera.dither_every)
        between = {row.place for visit in scene.replay.visits for row in self._between(scene, visit)}
        for row in scene.rows:
            if row.kind == "dither" and row.place not in between:
                yield scene.violation(
                    self.name, row, 1, "dithers", "dither that does not lie between two subs"
                )

    @staticmethod
    def _between(scene: Scene, visit: AuditedVisit) -> Iterator[Row]:
        """Dithers that have exposures on both sides, with nothing but autofocus and dithers between.

        The dither with which a list goes on needs them only before it.
        """
        goes_on = visit.start is not None and visit.start.begin.undithered > 0
        waiting: list[Row] | None = [] if goes_on else None
        for row in visit.rows:
            if row.gap:
                continue
            if waiting is not None and row.place in scene.leading_dithers:
                yield row
            elif row.kind == "expose":
                yield from waiting or ()
                waiting = []
            elif row.kind == "dither":
                if waiting is not None:
                    waiting.append(row)
            elif row.kind != "focus":
                waiting = None

    @staticmethod
    def _gone_on(visit: AuditedVisit, run: AuditedRun) -> tuple[int, list[Row]]:
        """Exposures before the list that count with the run, and what lies between them and its first one."""
        if visit.start is None or run is not visit.runs[0]:
            return 0, []
        block = visit.arrival_rows()
        goes_on = all(row.gap or row.kind in ("dither", "focus") for row in block)
        undithered = visit.start.begin.undithered
        return (undithered, block) if goes_on and undithered else (0, [])

    def _missing(self, scene: Scene, visit: AuditedVisit, run: AuditedRun, every: int) -> Iterator[Violation]:
        since, block = self._gone_on(visit, run)
        focused = led = False
        for row in [*block, *run.rows]:
            if row.gap:
                continue
            if row.kind == "dither":
                led = row.place in scene.leading_dithers or row.place == scene.dithered_until
                since, focused = 0, False
            elif row.kind == "focus":
                focused = not led
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
                focused = led = False
