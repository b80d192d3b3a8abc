"""What a list says of its season, kept by a night that goes on with that list or is held against it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from optimizer.models.request import Request
from optimizer.models.season_tonight import InSeason
from optimizer.models.targets import goal_key


@dataclass(frozen=True)
class KeptSeason:
    """The season of an older list, for a request that has the goals of that list or some of them."""

    season: InSeason
    request: Request

    @property
    def factors(self) -> Mapping[tuple[str, int], Fraction] | None:
        """The factors that the list says its season gives, as `Scarcity.factors`; 1 for a goal that it lacks.

        None where its night was not planned by the season's values.
        """
        if self.season.policy != "season values":
            return None
        told = {each.goal_key: each.factor for each in self.season.goals}
        return {
            (target.name, place): Fraction(repr(told.get(goal_key(target, goal), 1.0)))
            for target in self.request.targets
            for place, goal in enumerate(target.goals)
        }

    def told(self, problem: object, visits: object) -> InSeason:
        """What a list made of this night says: by what subs count, and nothing of what the night gives."""
        told = {each.goal_key: each for each in self.season.goals}
        keys = [goal_key(target, goal) for target, goal in self.request.goals()]
        goals = tuple(told[key] for key in keys if key in told)
        rest = {"with_s": None, "without_s": None, "goals": goals, "targets": ()}
        return self.season.model_copy(update=rest)
