"""The filter in the light path is the exposure's, and is not set twice."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.audit.rows import Row
from optimizer.audit.rule import Rule
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import whole_seconds
from optimizer.models.shots import Violation


def changes_at_once(row: Row) -> bool:
    """Whether the row's filter takes no time to set, so that it has no `filter` rows."""
    return row.filter is not None and whole_seconds(row.filter.change_s) == 0


class FilterSet(Rule):
    """After a slew the filter is set anew; after a flip, and between runs, where it differs."""

    name = "filter_set"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Exposures, focus runs and dithers through another filter than they name, and needless changes."""
        current: str | None = None
        for row in scene.rows:
            named = row.step.filter
            if row.kind == "slew":
                current = None
            elif row.kind == "filter":
                if named is not None and named == current:
                    yield scene.violation(self.name, row, 1, "changes", f"{named} is set already")
                current = named
            elif row.kind in ("expose", "focus", "dither") and named is not None and named != current:
                if row.kind != "expose":
                    if current is not None and not changes_at_once(row):
                        yield scene.violation(
                            self.name, row, 1, "changes", f"{row.kind} in {named}; {current} is set"
                        )
                    continue
                if not changes_at_once(row):
                    found = "no filter was set since the slew" if current is None else f"{current} is set"
                    yield scene.violation(self.name, row, 1, "changes", f"exposure in {named}, but {found}")
                current = named
