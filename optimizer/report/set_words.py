"""How far the filter sets are, in words: before the night, and once the plan is carried out."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from optimizer.models.request import Request
from optimizer.models.shots import TargetTotal
from optimizer.report.words import name


@dataclass(frozen=True)
class SetProgress:
    """The progress of a target's filter set, two goals or more; shares from 0 to 1."""

    before: float
    after: float

    @property
    def words(self) -> str:
        """The shares in percent, as `filter set 44 % → 61 %`; a set is complete where nothing is missing."""
        if self.after >= 1:
            begun = "" if self.before >= 1 else f" {_percent(self.before)} →"
            return f"filter set{begun} complete"
        before, after = _percent(self.before), _percent(self.after)
        return f"filter set {after}" if before == after else f"filter set {before} → {after}"


def set_progress(request: Request, totals: Iterable[TargetTotal]) -> dict[str, SetProgress]:
    """The progress of each filter set of two goals or more, by the names of their targets.

    One goal makes no set: what it has and lacks says it all.
    """
    goals = {target.name: sum(goal.in_set for goal in target.goals) for target in request.targets}
    return {
        each.target: SetProgress(each.set_share_before, each.set_share_after)
        for each in totals
        if goals.get(each.target, 0) > 1
        and each.set_share_before is not None
        and each.set_share_after is not None
    }


def counts_sets(request: Request) -> bool:
    """Whether the progress of some filter set is part of a plan's value."""
    return request.aim.balance > 0 and any(
        sum(goal.in_set for goal in target.goals) > 1 for target in request.targets
    )


def outside_words(request: Request) -> str | None:
    """Which goals stand beside a filter set without being part of it; None where there are none."""
    apart = []
    for target in request.targets:
        own = list(dict.fromkeys(name(goal.filter, 12) for goal in target.goals if not goal.in_set))
        if own and sum(goal.in_set for goal in target.goals) > 1:
            apart.append(f"{name(target.name)} {', '.join(own)}")
    return f"Not part of a filter set, each counts by itself: {'; '.join(apart)}." if apart else None


def _percent(share: float) -> str:
    """A share in percent, rounded down: 100 % is whole."""
    return f"{math.floor(100 * share + 1e-9)} %"
