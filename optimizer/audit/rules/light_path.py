"""The filter in the light path is the exposure's, and is not set twice."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.audit.rule import Rule, kind_words
from optimizer.audit.scene import Scene
from optimizer.models.shots import Violation


class LightPath(Rule):
    """After a slew the filter is set anew; after a flip, and between runs, where it differs.

    A change that takes no time has its row all the same: whoever runs the list would not make it without.
    """

    name = "light_path"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Exposures, autofocus and dithers through another filter than they name, and needless changes."""
        current: str | None = None
        unknown = "no filter was set since the slew"
        for row in scene.rows:
            if row.place in scene.starts:
                current = scene.starts[row.place].begin.filter
                unknown = "nobody knows which filter is set as the list begins"
            named = row.step.filter
            if row.kind == "slew":
                current, unknown = None, "no filter was set since the slew"
            elif row.kind == "filter":
                if named is not None and named == current:
                    yield scene.violation(self.name, row, 1, "changes", f"{named} is set already")
                current = named
            elif row.kind == "expose" and named is not None and named != current:
                now = unknown if current is None else f"{current} is set"
                yield scene.violation(self.name, row, 1, "changes", f"sub in {named}, but {now}")
                current = named
            elif row.kind in ("focus", "dither") and named is not None and current not in (None, named):
                yield scene.violation(
                    self.name, row, 1, "changes", f"{kind_words(row.kind)} in {named}; {current} is set"
                )
