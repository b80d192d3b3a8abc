"""Nights on which much goes wrong at once, drawn at random: what the camera's files alone can tell of them.

Two things look the same in a folder: a sub whose file is lost, and a stall that lasts exactly as long as a sub.
So stalls are drawn that differ from any whole number of subs, and no file is lost right beside one: of what is left,
every sub can be told.
"""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimizer.models.shots import ShotList, Step
from tests.support.executing import Cloud, Done
from tests.support.followed_nights import list_of
from tests.support.night_files import Camera, Damage
from tests.support.run_night import Happened, run_night

JUMP_S = 30.0  # a sub later than the one before by more than this tells of a stall
# By which a stall differs from any whole number of subs: so late nothing is called late, and a clock is off by 8 s more.
APART_S = 40.0
PROMPT_S = 20.0  # from the closing of the shutter until its file is whole
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
    for attempt in range(1000):
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
    may_stall = [step.step for step in shots.steps if step.kind not in ("wait", "park")]
    stalled = rng.sample(may_stall, rng.choice((0, 1, 1, 2)))
    flip = next((step.step for step in shots.steps if step.kind == "flip"), None)
    if flip is not None and rng.random() < 0.5:
        stalled.append(rng.choice([number for number in may_stall if flip - 8 <= number < flip]))
    odd = rng.sample(subs[2:-1], 10)
    happened = run_night(
        shots,
        rng,
        more={"expose": rng.choice((0.0, 0.0, 1.0, 3.0)), "focus": rng.choice((0.0, 0.0, 25.0))},
        jitter=rng.choice((0.0, 0.02, 0.06)),
        begins_late_s=rng.choice((0.0, 0.0, 0.0, 12.0, _half_a_sub_s(shots, 1, rng))),
        clouds=_clouds(shots, rng),
        stalls={number: _half_a_sub_s(shots, number, rng) for number in stalled},
        darks={odd[0]: 47.0},
        lost=odd[1 : rng.randrange(2, 4)],
        damaged={number: rng.choice(DAMAGES) for number in odd[4:6]},
        copies=odd[6:8],
        appears_late={number: rng.uniform(20.0, 500.0) for number in odd[8:10]},
        camera=camera,
    )
    return Troubled(happened, camera)


def _half_a_sub_s(shots: ShotList, number: int, rng: random.Random) -> float:
    """Seconds that are some subs and about a half, of the next run after a step."""
    coming = [step.seconds for step in shots.steps if step.kind == "expose" and step.step >= number]
    row_s = coming[0] if coming else 300
    return row_s * (rng.randrange(round(1500 / row_s)) + rng.uniform(0.42, 0.58))


def _clouds(shots: ShotList, rng: random.Random) -> tuple[Cloud, ...]:
    length_s = (shots.steps[-1].start_utc - shots.steps[0].start_utc).total_seconds()
    begins = shots.steps[0].start_utc + dt.timedelta(seconds=rng.uniform(0.1, 0.9) * length_s)
    ends = begins + dt.timedelta(seconds=rng.uniform(200.0, 2000.0))
    does = rng.choice((None, "spoilt", "spoilt", "passed", "passed", "paused"))
    return () if does is None else (Cloud(begins, ends, does),)  # type: ignore[arg-type]


def _can_be_told(happened: Happened) -> bool:
    """Whether each jump in how late the list runs can be told from subs without a file, and each such sub from a jump."""
    subs, prompt = happened.executed.subs, _prompt(happened)
    for place, (before, after) in enumerate(pairwise((None, *subs))):
        assert after is not None
        number, was = after.step.step, 0 if before is None else before.step.step
        was_s = 0.0 if before is None else happened.lateness[was]
        between = happened.shots.steps[was : number - 1]
        if number not in prompt and _acts_s(between) > after.step.seconds:
            return False
        jump_s, skips = happened.lateness[number] - was_s, any(step.kind == "expose" for step in between)
        if abs(jump_s) < JUMP_S and not skips:
            continue
        if jump_s > JUMP_S and skips:
            return False  # any of the subs between may have come after a longer stall
        if _may_be_a_later_sub(happened.shots.steps[was:], after, was_s):
            return False
        if not {each.step.step for each in subs[max(0, place - 2) : place + 2]} <= prompt:
            return False
    return True


def _may_be_a_later_sub(steps: Sequence[Step], after: Done, was_s: float) -> bool:
    """Whether a sub that follows a jump looks like a later one that is as late as was usual, or on time.

    What lies between may have taken three quarters longer. A list becomes less late only where it waits or skips subs.
    """
    skips = any(step.kind == "expose" and step.step < after.step.step for step in steps)
    for place, step in enumerate(steps):
        if step.step <= after.step.step or step.goal_key != after.step.goal_key:
            continue
        late_s = (after.start_utc - step.start_utc).total_seconds()
        apart_s = APART_S + 0.75 * _acts_s(steps[:place])
        waits_s = sum(each.seconds for each in steps[:place] if each.kind == "wait")
        least_s = -apart_s if skips else was_s - waits_s - APART_S
        if least_s < late_s < was_s + apart_s:
            return True
    return False


def _acts_s(steps: Sequence[Step]) -> int:
    return sum(step.seconds for step in steps if step.kind not in ("expose", "wait"))


def _prompt(happened: Happened) -> set[int]:
    """The numbers of the subs whose file was sound and there as soon as can be."""
    return {
        file.step.step
        for file in happened.files
        if file.kind == "light"
        and file.damage is None
        and (file.whole_utc - file.taken_utc).total_seconds() - file.exposure_s < PROMPT_S
    }
