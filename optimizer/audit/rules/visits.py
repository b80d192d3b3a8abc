"""Visits as wholes: how many, how long, and one run for each goal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from optimizer.audit.replay import AuditedRun
from optimizer.audit.rows import NO_TARGET, SIDE_NAMES, GoalKey, goals_alike
from optimizer.audit.rule import Rule
from optimizer.audit.scene import Scene
from optimizer.audit.tolerances import ROUNDING
from optimizer.models.shots import Violation

MOST_VISITS = 2


class OneRun(Rule):
    """A goal has at most one run in a visit."""

    name = "one_run"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Runs of a goal that had its run in the visit already, each at its first exposure."""
        alike = goals_alike(scene.request)
        for visit in scene.replay.visits:
            runs: dict[GoalKey, list[AuditedRun]] = {}
            for run in visit.runs:
                runs.setdefault(run.key, []).append(run)
            for key, several in runs.items():
                for run in several[alike.get(key, 1) :]:
                    yield scene.violation(
                        self.name,
                        run.rows[0],
                        1,
                        "runs",
                        f"{key[0]} in {key[1]} gets another run in the same visit",
                    )


class Visits(Rule):
    """A target has at most two visits on each pier side."""

    name = "visits"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Visits beyond the second, each at its arrival."""
        counts: Counter[tuple[int, int]] = Counter()
        for visit in scene.replay.visits:
            target = scene.target(visit.target)
            if visit.arrival is None or target is None or visit.target == NO_TARGET:
                continue
            counts[visit.target, visit.side] += 1
            many = counts[visit.target, visit.side]
            if many > MOST_VISITS:
                where = f" on {SIDE_NAMES[visit.side]}" if scene.german else ""
                yield scene.violation(
                    self.name,
                    visit.arrival,
                    many - MOST_VISITS,
                    "visits",
                    f"visit {many} to {target.name}{where}; {MOST_VISITS} are allowed",
                )


class LeastVisit(Rule):
    """A visit's shutter is open for at least the target's `least_min`."""

    name = "least_visit"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Visits that are too short, each at its first step."""
        for visit in scene.replay.visits:
            target = scene.target(visit.target)
            if target is None:
                continue
            opened = sum(row.works_until - row.start for row in visit.exposures)
            lacking = target.least_min * 60 - opened
            if lacking > ROUNDING:
                yield scene.violation(
                    self.name,
                    visit.first,
                    lacking,
                    "s",
                    f"the visit to {target.name} has {opened} s of open shutter; least_min wants "
                    f"{target.least_min * 60:g} s",
                )
