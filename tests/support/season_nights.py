"""Seasons of two to four invented nights of an hour or so, some goals with frames in hand; no sky is asked."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, cast

import numpy as np

from optimizer.season.desk import Desk, NightRef, only_rig
from optimizer.season.prepared import BIN_S, Openings, PreparedNight
from optimizer.season.projects import Projects, projects_of
from tests.support.packing_nights import Place, a_problem, a_request, goal

NIGHT_S = 4000
EVENING = dt.date(2026, 11, 1)


@dataclass(frozen=True)
class TinySeason:
    """A desk whose nights are all prepared, the nights in their order, and their odds."""

    desk: Desk
    refs: tuple[NightRef, ...]
    odds: tuple[Fraction, ...]

    @property
    def projects(self) -> Projects:
        return self.desk.projects

    @property
    def nights(self) -> list[PreparedNight]:
        return [self.desk.night(ref) for ref in self.refs]


def tiny_season(seed: int, *, balance: float = 0.0, depth: bool = False) -> TinySeason:
    """The season of that seed; by depth frames are worth more or less by the second."""
    rng = random.Random(f"season {seed}")
    goals, keys = dict[str, list[dict[str, Any]]](), dict[str, dict[str, Any]]()
    for name in "ABC"[: rng.randint(2, 3)]:
        filters = rng.sample("LR", rng.choice([1, 2, 2]))
        goals[name] = [
            goal(
                each,
                rng.choice([40.0, 60.5, 130.0]),
                wanted := rng.randint(2, 25),
                done=rng.randint(0, wanted),
            )
            for each in filters
        ]
        keys[name] = {"weight": rng.choice([1.0, 0.8, 1.25])}
    parts: dict[str, Any] = {
        "keys": keys,
        "camera": {"download_s": rng.choice([0.0, 3.0, 9.5]), "dither_every": rng.choice([0, 1, 3])},
        "focus": {
            "every_min": rng.choice([0.0, 2.2, 4.0, 9.0]),
            "run_s": rng.choice([30.0, 150.0]),
            "on_new_target": rng.random() < 0.5,
            "on_filter_change": rng.random() < 0.5,
        },
        "aim": {"balance": balance},
    }
    projects = projects_of(a_request(goals, **_copied(parts)))
    bare = {name: [{**each, "done": 0} for each in own] for name, own in goals.items()}
    refs = tuple(NightRef(0, EVENING + dt.timedelta(days=each)) for each in range(rng.randint(2, 4)))
    nights = {ref: _night(rng, ref, bare, parts, depth=depth) for ref in refs}
    odds = tuple(Fraction(rng.choice([1, 2, 3, 5, 10]), 10) for _ in refs)
    rig = only_rig(a_request(goals, **_copied(parts)), projects)
    desk = Desk((rig,), projects)
    desk.nights.update(nights)
    return TinySeason(desk, refs, odds)


def _copied(parts: dict[str, Any]) -> dict[str, Any]:
    return {name: dict(own) for name, own in parts.items()}


def _night(
    rng: random.Random, ref: NightRef, goals: dict[str, Any], parts: dict[str, Any], *, depth: bool
) -> PreparedNight:
    places, task = list[Place](), 0
    for name, own in goals.items():
        for side, low, high in (("west", 0, rng.randint(900, 2500)), ("east", 2500, NIGHT_S)):
            if rng.random() < 0.7:
                begin = rng.randint(low, (low + high) // 2)
                shutter = {task + each: ((rng.randint(begin, high - 200), high),) for each in range(len(own))}
                places.append(Place(name, (begin, high), shutter, side, (0, high)))  # type: ignore[arg-type]
        task += len(own)
    problem = a_problem(places, goals, **_copied(parts))
    tasks = []
    for each in problem.tasks:
        whole = each.profit
        if depth:
            drop = rng.randint(0, whole // 2)
            sky = whole - drop * np.abs(np.arange(86401) - rng.randint(0, NIGHT_S)) // NIGHT_S
            each = replace(each, profit_by_start=np.maximum(0, sky).astype(np.int64))
        tasks.append(replace(each, whole_profit=Fraction(whole)))
    problem = replace(problem, tasks=tuple(tasks), rules=replace(problem.rules, by_time=depth))
    nothing = cast(Any, None)
    return PreparedNight(ref.evening, problem, nothing, nothing, NIGHT_S, NIGHT_S, _openings(problem))


def _openings(problem: Any) -> Openings:
    open_s, share = np.zeros((len(problem.tasks), 48)), np.ones((len(problem.tasks), 48))
    for slot in problem.slots:
        for task, spans in slot.shutter.items():
            for opens, closes in spans:
                for each in range(opens // BIN_S, closes // BIN_S + 1):
                    inside = min(closes, (each + 1) * BIN_S) - max(opens, each * BIN_S)
                    open_s[task, each] += max(0, inside)
    return Openings(open_s, share, open_s.sum(axis=1))
