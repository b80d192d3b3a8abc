"""A tiny season of two rigs: what the planner says of it, beside the truth."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

from optimizer.models.season import SeasonFile
from optimizer.season.asked import RigAsked
from optimizer.season.season import season_of
from tests.support.scenarios.small_pair import small_pair
from tests.support.season_oracle.best import Best, best_season
from tests.support.season_oracle.judge import TinySeason, _rounded_up
from tests.support.season_oracle.law import SeasonLaw
from tests.support.season_oracle.reachable import Column

Key = tuple[str, str, float]  # target, filter, exposure
THOUSANDTH = 1e-3
PLAYED = (
    "something to do", "a goal for both", "a set of which each has a part", "nothing in common", "alike",
    "weather of its own", "frames are scarce", "by depth", "set by depth", "odds below 1",
)  # fmt: skip


@dataclass(frozen=True)
class TinyPair:
    """Two requests as plain data, and what the truth about their season is."""

    data: tuple[dict[str, Any], dict[str, Any]]

    @classmethod
    def of(cls, seed: int) -> TinyPair:
        return cls(small_pair(seed))

    @cached_property
    def rigs(self) -> tuple[TinySeason, ...]:
        return tuple(TinySeason(each) for each in self.data)

    @cached_property
    def _goals(self) -> dict[Key, tuple[dict[str, Any], dict[str, Any]]]:
        """Target and goal of all goals, each once: targets by name, goals as they are first listed."""
        listed: dict[Key, tuple[dict[str, Any], dict[str, Any]]] = {}
        for data in self.data:
            for target in data["targets"]:
                for goal in target["goals"]:
                    listed.setdefault(
                        (target["name"], goal["filter"], float(goal["exposure_s"])), (target, goal)
                    )
        return dict(sorted(listed.items(), key=lambda item: item[0][0]))

    @cached_property
    def keys(self) -> list[Key]:
        return list(self._goals)

    @cached_property
    def law(self) -> SeasonLaw:
        left, wanted_s, in_hand_s = [], [], []
        sets: dict[str, list[int]] = {}
        for number, (key, (target, goal)) in enumerate(self._goals.items()):
            frame_s = Fraction(str(target["weight"])) * Fraction(str(goal["exposure_s"]))
            left.append(max(0, goal["frames"] - goal["done"]))
            wanted_s.append(frame_s * goal["frames"])
            in_hand_s.append(frame_s * min(goal["frames"], goal["done"]))
            if goal["in_set"]:
                sets.setdefault(key[0], []).append(number)
        balance = Fraction(str(self.data[0]["aim"]["balance"]))
        whole = tuple(tuple(own) for own in sets.values() if len(own) > 1) if balance else ()
        return SeasonLaw(tuple(left), tuple(wanted_s), tuple(in_hand_s), whole, balance)

    def numbers(self, rig: int) -> list[int]:
        """The numbers of the goals of a rig, in the order of its nights' tasks."""
        targets = sorted(self.data[rig]["targets"], key=lambda each: str(each["name"]))
        return [
            self.keys.index((target["name"], goal["filter"], float(goal["exposure_s"])))
            for target in targets
            for goal in target["goals"]
        ]

    @cached_property
    def nights(self) -> list[tuple[int, int]]:
        """Rig and number of each night in the order of the season: by evening, then by rig."""
        return [(rig, night) for night in range(len(self.rigs[0].evenings)) for rig in range(len(self.rigs))]

    @cached_property
    def odds(self) -> list[Fraction]:
        return [self.rigs[rig].odds[night] for rig, night in self.nights]

    def _of_all(self, rig: int, columns: Sequence[Column]) -> list[Column]:
        """Columns of a rig's night, told by all goals of the season."""
        own, told = self.numbers(rig), []
        for column in columns:
            frames, gathered_s = [0] * len(self.keys), [Fraction(0)] * len(self.keys)
            for goal, taken, got in zip(own, column.frames, column.gathered_s, strict=True):
                frames[goal], gathered_s[goal] = taken, got
            told.append(Column(tuple(frames), tuple(gathered_s)))
        return told

    @cached_property
    def columns(self) -> list[list[Column]]:
        return [self._of_all(rig, self.rigs[rig].columns[night]) for rig, night in self.nights]

    @cached_property
    def best(self) -> Best:
        """Of the nights as they were gone through, with rounded profits where they were rounded."""
        return best_season(self.law, self.columns, self.odds)

    @cached_property
    def most_s(self) -> float:
        """What no season is worth more than: as if each frame's profit had been rounded up."""
        found = [(rig, self.rigs[rig].nights[night]) for rig, night in self.nights]
        if all(night.steps is None for _, night in found):
            return self.best.most_s
        return best_season(
            self.law, [self._of_all(rig, _rounded_up(night)) for rig, night in found], self.odds
        ).most_s

    def planned(self, *only: int, **how: Any) -> SeasonFile:
        """The planner's own season, of both rigs or of those named."""
        rigs = [self.rigs[rig] for rig in only or range(len(self.rigs))]
        asked = [RigAsked(each.request.rig, each.request) for each in rigs]
        return season_of(asked, **{"engine": "threads", "workers": 1, "gap": 0.0, **how})


def features(pair: TinyPair) -> set[str]:
    """What of the law was in play."""
    one, other = (set(pair.numbers(rig)) for rig in (0, 1))
    by_depth = pair.data[0]["aim"]["value"] == "depth"
    wanted = {number for number, left in enumerate(pair.law.left) if left}
    most = [
        sum(
            (
                p * max(column.frames[goal] for column in own)
                for p, own in zip(pair.odds, pair.columns, strict=True)
            ),
            Fraction(),
        )
        for goal in range(len(pair.law.left))
    ]
    found = {
        "something to do": pair.best.value_s > 0,
        "a goal for both": bool(one & other & wanted),
        "a set of which each has a part": any(
            wanted & (one - other) & set(own) and wanted & (other - one) & set(own) for own in pair.law.sets
        ),
        "nothing in common": not {pair.keys[each][0] for each in one}
        & {pair.keys[each][0] for each in other},
        "alike": {**pair.data[0], "rig": ""} == {**pair.data[1], "rig": ""},
        "weather of its own": pair.data[0]["site"] != pair.data[1]["site"],
        "frames are scarce": any(total > left > 0 for total, left in zip(most, pair.law.left, strict=True)),
        "by depth": by_depth,
        "set by depth": by_depth and bool(pair.law.sets),
        "odds below 1": any(0 < each < 1 for each in pair.odds),
    }
    return {name for name, is_so in found.items() if is_so}


def faults_of(pair: TinyPair, file: SeasonFile) -> list[str]:
    """What in the season's file cannot be, by all that its nights can bring and by the law of what is left."""
    law, proof, faults = pair.law, file.proof, []
    plans = []
    for number, (rig, night) in enumerate(pair.nights):
        told = file.nights[number]
        if (told.rig, told.evening) != (pair.data[rig]["rig"], pair.rigs[rig].evenings[night].isoformat()):
            faults.append(f"night {number} is {told.rig} on {told.evening}")
        taken: Counter[Key] = Counter()
        for each in told.plan:
            taken[each.target, each.filter, each.exposure_s] += each.frames
        frames = tuple(taken.pop(key, 0) for key in pair.keys)
        plans.append(frames)
        if taken or frames not in {column.frames for column in pair.columns[number]}:
            faults.append(f"night {number}: no plan takes {frames}, {dict(taken)}")
        if told.broken_rules:
            faults.append(f"night {number} breaks {told.broken_rules}")
    for goal, left in enumerate(law.left):
        by_odds = sum((p * frames[goal] for p, frames in zip(pair.odds, plans, strict=True)), Fraction())
        if by_odds > left or any(frames[goal] > left for frames in plans):
            faults.append(f"goal {goal}: {by_odds} by odds where {left} are left")
    if proof.by == "hours":
        frame_s = [
            all_ / goal["frames"] for all_, (_, goal) in zip(law.wanted_s, pair._goals.values(), strict=True)
        ]
        value_s = law.value_s(
            [
                each * sum((p * frames[goal] for p, frames in zip(pair.odds, plans, strict=True)), Fraction())
                for goal, each in enumerate(frame_s)
            ]
        )
        if not -1e-9 <= value_s - Fraction(str(proof.value)) < 2 * THOUSANDTH:  # each group is rounded down
            faults.append(f"worth {float(value_s)}, told {proof.value}")
    best, most = float(pair.best.value_s), pair.most_s
    if proof.value > most * (1 + 1e-9) + 1e-6:
        faults.append(f"value {proof.value} above {most}")
    if proof.bound < best * (1 - 1e-12):
        faults.append(f"bound {proof.bound} below {best}")
    if proof.gap <= 0 and proof.value < best - 2.1 * THOUSANDTH:
        faults.append(f"proven best {proof.value} below {best}")
    return faults


def faults_beside_one(pair: TinyPair, file: SeasonFile, rounds: int | None) -> list[str]:
    """What is wrong beside the seasons of each rig alone: the sum where nothing is shared, else no less."""
    alone = [pair.planned(rig, rounds=rounds) for rig in (0, 1)]
    played, faults = features(pair), []
    values, bounds = ([round(1000 * value) for value in each] for each in (
        [one.proof.value for one in alone], [one.proof.bound for one in alone]
    ))  # fmt: skip
    value, bound = round(1000 * file.proof.value), round(1000 * file.proof.bound)
    if "nothing in common" in played and (value, bound) != (sum(values), sum(bounds)):
        faults.append(f"{value} to {bound} where each alone gives {values} to {bounds}")
    if "alike" in played:
        if value > 2 * bounds[0] or bound < max(values):
            faults.append(f"{value} to {bound} where one gives {values[0]} to {bounds[0]}")
        if value < values[0] and not math.isclose(value, values[0], rel_tol=1e-6):
            faults.append(f"{value} where one gives {values[0]}")
    return faults
