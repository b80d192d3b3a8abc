"""How late the steps may be. Slack that is missing is no danger, but less quality than was asked for."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.audit.rows import Row
from optimizer.audit.rule import Rule, kind_words
from optimizer.audit.scene import Scene
from optimizer.models.shots import Violation

MOST_SHOWN = 8  # steps that are named one by one


class Slack(Rule):
    """Between the start of a step and its latest start lie at least `aim.slack_s` seconds."""

    name = "slack"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Tell the steps that may be less late; where they are many, how many there are, and the worst."""
        wanted_s = scene.request.aim.slack_s
        short = [(row, spare_s) for row, spare_s in spare_seconds(scene) if spare_s < wanted_s]
        shown = sorted(short, key=lambda each: each[1])[:MOST_SHOWN]
        if len(short) > len(shown):
            least_s = shown[0][1]
            yield scene.violation(
                self.name,
                None,
                wanted_s - least_s,
                "s",
                f"{len(short)} steps have less slack than the {wanted_s} s that are asked for, "
                f"the least of them {least_s} s; the {len(shown)} with the least are named",
            )
        for row, spare_s in shown:
            yield scene.violation(
                self.name,
                row,
                wanted_s - spare_s,
                "s",
                f"step {row.step.step}, {_doing(row)}, has {spare_s} s of slack; {wanted_s} s are asked for",
            )


def _doing(row: Row) -> str:
    """What a step does: `L of Pelican` where it exposes, `flip of Pelican`."""
    exposes = row.kind == "expose" and row.step.filter is not None
    what = row.step.filter if exposes else kind_words(row.kind)
    return f"{what} of {row.step.target}" if row.step.target else str(what)


def spare_seconds(scene: Scene) -> Iterator[tuple[Row, int]]:
    """How many seconds later each step may start, of those that carry a latest start.

    Left out are waits and parks, which take up what is late, and a flip that the mount makes by itself, which
    no lateness of the list puts off.
    """
    by_mount = scene.request.mount.flip_by == "mount"
    for row in scene.rows:
        latest = scene.latest_start(row)
        takes_up = row.kind in ("wait", "park") or (by_mount and row.kind == "flip")
        if latest is not None and not takes_up:
            yield row, latest - row.start
