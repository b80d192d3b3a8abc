"""Nights on which much goes wrong at once, drawn at random: what the camera's files alone can tell of them.

Two things look the same in a folder: a sub whose file is lost, and a stall that lasts exactly as long as a sub.
So stalls are drawn that differ from any whole number of subs, and no file is lost right beside one: of what is left,
every sub can be told.
"""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import dataclass
from itertools import pairwise

from optimizer.models.shots import ShotList, Step
from tests.support.executing import Cloud
from tests.support.followed_nights import list_of
from tests.support.night_files import Camera, Damage
from tests.support.run_night import Happened, run_night

JUMP_S = 30.0  # a sub later than the one before by more than this tells of a stall
APART_S = 25.0  # by which a stall differs from any whole number of subs
DAMAGES: tuple[Damage, ...] = ("cut_short", "broken_header", "not_fits")


@dataclass(frozen=True)
class Troubled:
    """A night, and the camera that took it."""

    happened: Happened
    camera: Camera

    @property
    def shots(self) -> ShotList:
        return self.happened.shots


def troubled_night(name: str, seed: int) -> Troubled:
    """A night of a list by its name, the same for a seed on every run."""
    shots = list_of(name)
    for attempt in range(200):
        night = _drawn(shots, random.Random(f"{name} {seed} {attempt}"))
        if _can_be_told(night.happened):
            return night
    raise AssertionError(f"no night of {name} by seed {seed} can be told from its files")


def _drawn(shots: ShotList, rng: random.Random) -> Troubled:
    subs = [step.step for step in shots.steps if step.kind == "expose"]
    camera = Camera(
        clock_off_s=rng.choice((0.0, 0.0, -8.0, 3.5, 8.0)),
        whole_seconds=rng.random() < 0.5,
        written_over_s=rng.choice((0.0, 1.5, 12.0)),
    )
    stalled = rng.sample([step.step for step in shots.steps if _may_stall(step)], rng.choice((0, 1, 1, 2)))
    odd = rng.sample(subs[2:-1], 10)
    happened = run_night(
        shots,
        rng,
        more={"expose": rng.choice((0.0, 0.0, 1.0, 3.0)), "focus": rng.choice((0.0, 0.0, 25.0))},
        jitter=rng.choice((0.0, 0.02, 0.06)),
        begins_late_s=rng.choice((0.0, 0.0, 0.0, 75.0, 400.0)),
        clouds=_clouds(shots, rng),
        stalls={number: rng.uniform(60.0, 1500.0) for number in stalled},
        darks={odd[0]: 47.0},
        lost=odd[1 : rng.randrange(2, 4)],
        damaged={number: rng.choice(DAMAGES) for number in odd[4:6]},
        copies=odd[6:8],
        appears_late={number: rng.uniform(20.0, 500.0) for number in odd[8:10]},
        camera=camera,
    )
    return Troubled(happened, camera)


def _may_stall(step: Step) -> bool:
    return step.kind not in ("wait", "park")


def _clouds(shots: ShotList, rng: random.Random) -> tuple[Cloud, ...]:
    length_s = (shots.steps[-1].start_utc - shots.steps[0].start_utc).total_seconds()
    begins = shots.steps[0].start_utc + dt.timedelta(seconds=rng.uniform(0.1, 0.9) * length_s)
    ends = begins + dt.timedelta(seconds=rng.uniform(200.0, 2000.0))
    does = rng.choice((None, None, "spoilt", "passed", "paused"))
    return () if does is None else (Cloud(begins, ends, does),)  # type: ignore[arg-type]


def _can_be_told(happened: Happened) -> bool:
    """Whether each stall differs from any number of subs, and the subs beside it have their files."""
    subs, whole = happened.executed.subs, happened.whole(happened.done[-1].end_utc + dt.timedelta(hours=1))
    lateness = happened.lateness
    first, *_ = subs
    pairs = [(None, first), *pairwise(subs)]
    for place, (before, after) in enumerate(pairs):
        was_s = 0.0 if before is None else lateness[before.step.step]
        jump_s = lateness[after.step.step] - was_s
        if jump_s < JUMP_S:
            continue
        row_s = after.step.seconds
        if jump_s > row_s / 2 and abs((jump_s + row_s / 2) % row_s - row_s / 2) < APART_S:
            return False
        beside = subs[max(0, place - 2) : place + 2]
        if any(each.step.step not in whole for each in beside):
            return False
    return True
