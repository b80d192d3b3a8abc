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
        """Visits beyond the second, each at its first step; one that a list but leaves counts nothing."""
        counts: Counter[tuple[int, int]] = Counter()
        for visit in scene.replay.visits:
            target = scene.target(visit.target)
            if target is None or visit.target == NO_TARGET:
                continue
            if visit.arrival is None and (visit.start is None or not visit.rows):
                continue
            counts[visit.target, visit.side] += 1
            many = counts[visit.target, visit.side]
            if many > MOST_VISITS:
                where = f" on {SIDE_NAMES[visit.side]}" if scene.german else ""
                yield scene.violation(
                    self.name,
                    visit.first,
                    many - MOST_VISITS,
                    "visits",
                    f"visit {many} to {target.name}{where}; {MOST_VISITS} are allowed",
                )


class LeastVisit(Rule):
    """A visit's shutter is open for at least the target's `least_min`."""

    name = "least_visit"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Visits that are too short, each at its first step.

        One that had begun before the list counts what was open then; if it gets no exposure, it is not asked.
        """
        for visit in scene.replay.visits:
            target = scene.target(visit.target)
            if target is None:
                continue
            if visit.start is not None and not visit.exposures:
                continue
            before_s = 0.0 if visit.start is None else visit.start.begin.open_s
            opened = before_s + sum(row.works_until - row.start for row in visit.exposures)
            lacking = target.least_min * 60 - opened
            if lacking > ROUNDING:
                yield scene.violation(
                    self.name,
                    visit.first,
                    lacking,
                    "s",
                    f"the visit to {target.name} has {opened:g} s of open shutter; least_min wants "
                    f"{target.least_min * 60:g} s",
                )
