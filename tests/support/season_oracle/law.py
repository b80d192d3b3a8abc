"""What a season is worth, by its definition in fractions, from the request alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from optimizer.models.request import Request
from tests.support.oracle.worth import progress


@dataclass(frozen=True)
class SeasonLaw:
    """Goals in the order of a night's tasks: targets by name, goals as they are listed.

    `wanted_s` and `in_hand_s` are weighted seconds at full worth. `sets` are the goals of each filter set.
    """

    left: tuple[int, ...]
    wanted_s: tuple[Fraction, ...]
    in_hand_s: tuple[Fraction, ...]
    sets: tuple[tuple[int, ...], ...]
    balance: Fraction

    @classmethod
    def of(cls, request: Request) -> SeasonLaw:
        left: list[int] = []
        wanted_s: list[Fraction] = []
        in_hand_s: list[Fraction] = []
        sets: list[tuple[int, ...]] = []
        for target in sorted(request.targets, key=lambda each: each.name):
            own = []
            for goal in target.goals:
                frame_s = Fraction(str(target.weight)) * Fraction(str(goal.exposure_s))
                if goal.in_set:
                    own.append(len(left))
                left.append(max(0, goal.frames - goal.done))
                wanted_s.append(frame_s * goal.frames)
                in_hand_s.append(frame_s * min(goal.frames, goal.done))
            if len(own) > 1:
                sets.append(tuple(own))
        balance = Fraction(str(request.aim.balance))
        return cls(tuple(left), tuple(wanted_s), tuple(in_hand_s), tuple(sets) if balance else (), balance)

    def value_s(self, gathered_s: Sequence[Fraction]) -> Fraction:
        """Weighted seconds of a season that gathers so much of each goal, by odds."""
        total = sum(gathered_s, Fraction())
        for own in self.sets:
            wanted = [self.wanted_s[goal] for goal in own]
            before, after = (
                [min(Fraction(1), (self.in_hand_s[goal] + more[goal]) / self.wanted_s[goal]) for goal in own]
                for more in ([Fraction(0)] * len(gathered_s), gathered_s)
            )
            grown = sum(wanted) * (progress(wanted, after) - progress(wanted, before))
            total += self.balance * (grown - sum(gathered_s[goal] for goal in own))
        return total
