"""Autofocus: the four reasons for it, each with a rule of its own."""

from __future__ import annotations

import math
from abc import abstractmethod
from collections.abc import Iterator

from optimizer.audit.rows import Row
from optimizer.audit.rule import Rule
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import ROUNDING
from optimizer.models.shots import Violation


class _FocusAfter(Rule):
    """An autofocus must lie between some event and the next exposure."""

    reason = ""

    @abstractmethod
    def wanted(self, scene: Scene) -> bool:
        """Whether the request asks for autofocus after this event."""

    @abstractmethod
    def event(self, row: Row, filter_before: str | None) -> bool:
        """Whether the row makes an autofocus due; `filter_before` is the latest exposure's filter."""

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Exposures before which an autofocus is due and missing."""
        if not self.wanted(scene):
            return
        due, since, filter_before = False, 0, None
        for row in scene.rows:
            start = scene.starts.get(row.place)
            if start is not None and start.focused is not None and start.focused >= since:
                due = False  # one was made that the steps do not have
            if self.event(row, filter_before):
                due, since = True, row.end
            if row.kind == "focus":
                due = False
            elif row.kind == "expose":
                if due:
                    yield scene.violation(
                        self.name, row, 1, "runs", f"sub without autofocus after {self.reason}"
                    )
                due, filter_before = False, row.step.filter


class FocusNewTarget(_FocusAfter):
    """An autofocus lies between a slew and the next exposure, where `on_new_target` is set."""

    name = "focus_new_target"
    reason = "the slew"

    def wanted(self, scene: Scene) -> bool:
        """Whether `focus.on_new_target` is set."""
        return scene.request.focus.on_new_target

    def event(self, row: Row, filter_before: str | None) -> bool:
        """Whether the row is a slew."""
        return row.kind == "slew"


class FocusAfterFlip(_FocusAfter):
    """An autofocus lies between a flip and the next exposure, where `refocus_after_flip` is set."""

    name = "focus_after_flip"
    reason = "the flip"

    def wanted(self, scene: Scene) -> bool:
        """Whether `mount.refocus_after_flip` is set."""
        return scene.request.mount.refocus_after_flip

    def event(self, row: Row, filter_before: str | None) -> bool:
        """Whether the row is a flip."""
        return row.kind == "flip"


class FocusFilter(_FocusAfter):
    """An autofocus lies between a `filter` row and the next exposure, where `on_filter_change` is set."""

    name = "focus_filter"
    reason = "the change of filter"

    def wanted(self, scene: Scene) -> bool:
        """Whether `focus.on_filter_change` is set."""
        return scene.request.focus.on_filter_change

    def event(self, row: Row, filter_before: str | None) -> bool:
        """Whether the row changes the filter."""
        return row.kind == "filter"


class FocusEvery(Rule):
    """Each shutter closes within `every_min` of the end of the latest autofocus."""

    name = "focus_every"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Exposures that close too late after the latest autofocus, or have none before them."""
        every_s = math.floor(scene.request.focus.every_min * 60 + ROUNDING)
        if scene.request.focus.every_min == 0:
            return
        latest: int | None = None
        for row in scene.rows:
            if row.place in scene.starts:
                latest = scene.starts[row.place].focused
            if row.kind == "focus":
                latest = row.end
            elif row.kind == "expose" and latest is None:
                yield scene.violation(self.name, row, 1, "runs", "sub without any autofocus before it")
            elif row.kind == "expose" and latest is not None:
                late = row.works_until - latest - every_s
                if late > 0:
                    yield scene.violation(
                        self.name,
                        row,
                        late,
                        "s",
                        f"the shutter closes {row.works_until - latest} s after the latest autofocus, "
                        f"{late} s later than every_min allows",
                    )
