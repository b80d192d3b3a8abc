"""Exposures against the goals they serve."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from optimizer.audit.rows import GoalKey, Row, goal_caps
from optimizer.audit.rule import Rule
from optimizer.audit.scene import Scene
from optimizer.models.shots import Violation


class GoalMatch(Rule):
    """Each exposure is one that a goal of its target asks for: filter, length, gain, offset, binning."""

    name = "goal_match"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Exposures that no goal asks for."""
        caps = goal_caps(scene.request)
        for row in scene.rows:
            if row.kind == "expose" and row.goal_key not in caps:
                amount, unit, message = self._nearest(row, list(caps))
                yield scene.violation(self.name, row, amount, unit, message)

    @staticmethod
    def _nearest(row: Row, goals: list[GoalKey]) -> tuple[float, str, str]:
        """What is wrong with the exposure, judged by the goals of its target and filter."""
        step = row.step
        alike = [goal for goal in goals if goal[:2] == (step.target, step.filter)]
        if not alike:
            return 1, "subs", f"{step.target} has no goal in filter {step.filter}"
        if step.exposure_s is None:
            return 1, "subs", "the sub has no exposure_s"
        if all(goal[2] != step.exposure_s for goal in alike):
            off = min(abs((goal[2] or 0) - step.exposure_s) for goal in alike)
            wanted = ", ".join(f"{goal[2]:g}" for goal in alike)
            return (
                off,
                "s",
                f"sub of {step.exposure_s:g} s; {step.target} in {step.filter} wants {wanted} s",
            )
        return (
            1,
            "subs",
            (
                f"gain {step.gain}, offset {step.offset}, binning {step.binning} belong to "
                f"no goal of {step.target} "
                f"in {step.filter} with {step.exposure_s:g} s"
            ),
        )


class Frames(Rule):
    """A goal gets at most the frames that it still lacks."""

    name = "frames"

    def check(self, scene: Scene) -> Iterator[Violation]:
        """Goals with too many exposures, each at the first exposure beyond."""
        caps = goal_caps(scene.request)
        counts: Counter[GoalKey] = Counter()
        beyond: dict[GoalKey, Row] = {}
        for row in scene.rows:
            if row.kind == "expose" and row.goal_key in caps:
                counts[row.goal_key] += 1
                if counts[row.goal_key] == caps[row.goal_key] + 1:
                    beyond[row.goal_key] = row
        for key, row in beyond.items():
            many = counts[key] - caps[key]
            yield scene.violation(
                self.name,
                row,
                many,
                "subs",
                f"{key[0]} in {key[1]} with {key[2]:g} s gets {counts[key]} subs; it lacks {caps[key]}",
            )
