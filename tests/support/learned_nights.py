"""Nights of a rig whose real lengths are known, with all that spoils a measurement: what learning is held against."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from optimizer.models.shots import Step
from optimizer.tally.frames import Frame
from tests.support.executing import Cloud
from tests.support.followed_nights import list_of
from tests.support.night_files import Camera
from tests.support.run_night import Happened, run_night

DAY = dt.timedelta(seconds=86164)  # after so long the sky stands as before, and so do the ways of the axes


@dataclass(frozen=True)
class Rig:
    """What a rig really takes: seconds by the kind of a step, as `run_night` has them, and beyond what is planned.

    `lasts` holds `expose` (from the closing of the shutter on), `dither`, `focus` and `filter NAME`; `more` the
    seconds by which `slew`, `centre`, `settle` and `flip` last longer than the list has them.
    """

    lasts: Mapping[str, float] = field(default_factory=dict)
    more: Mapping[str, float] = field(default_factory=dict)
    jitter: float = 0.0
    whole_seconds: bool = False  # of its camera's DATE-OBS

    def longer_s(self, name: str, act: str, filter_name: str | None) -> tuple[float, float]:
        """By how much an act takes longer than the list plans it: least and most, where filters differ.

        Acts are those of learning: `slew` and `flip` hold the centring and the settling after them.
        """
        request = list_of(name).request
        if act == "filter":
            told = [
                self.lasts.get(f"filter {each.name}", each.change_s) - each.change_s
                for each in request.filters
                if filter_name in (None, each.name)
            ]
            return min(told), max(told)
        if act in ("slew", "flip"):
            more_s = sum(self.more.get(kind, 0.0) for kind in (act, "centre", "settle"))
            return more_s, more_s
        planned = {
            "between_subs": ("expose", request.camera.download_s),
            "dither": ("dither", request.camera.dither_s),
            "focus": ("focus", request.focus.run_s),
        }
        kind, planned_s = planned[act]
        more_s = self.lasts.get(kind, planned_s) - planned_s
        return more_s, more_s


def real_rig(name: str, rng: random.Random) -> Rig:
    """A rig that takes longer than the request of a list has it, each filter by its own."""
    request = list_of(name).request
    filters = {f"filter {each.name}": each.change_s + rng.uniform(2.0, 16.0) for each in request.filters}
    return Rig(
        {
            "expose": request.camera.download_s + rng.uniform(0.5, 8.0),
            "dither": request.camera.dither_s + rng.uniform(2.0, 15.0),
            "focus": request.focus.run_s + rng.uniform(8.0, 80.0),
            **filters,
        },
        {"slew": rng.uniform(0.0, 6.0), "centre": rng.uniform(5.0, 50.0), "flip": rng.uniform(0.0, 20.0)},
        rng.choice((0.0, 0.02, 0.05)),
        rng.random() < 0.4,
    )


def night_of(name: str, rig: Rig, rng: random.Random) -> Happened:
    """A night of a rig: clouds, a stall or two, files lost and damaged, a dark, a camera's clock that is off."""
    shots = list_of(name)
    subs = [step.step for step in shots.steps if step.kind == "expose"]
    odd = rng.sample(subs[2:-1], 9)
    stalled = rng.sample(
        [step.step for step in shots.steps if step.kind not in ("wait", "park")], rng.randrange(3)
    )
    return run_night(
        shots,
        rng,
        lasts=rig.lasts,
        more=rig.more,
        jitter=rig.jitter,
        clouds=_clouds(shots.steps[0], shots.steps[-1], rng),
        stalls={number: rng.uniform(100.0, 1500.0) for number in stalled},
        darks={odd[0]: rng.uniform(30.0, 300.0)},
        lost=odd[1:4],
        damaged={odd[4]: "cut_short", odd[5]: "not_fits"},
        copies=odd[6:8],
        camera=Camera(clock_off_s=rng.uniform(-8.0, 8.0), whole_seconds=rig.whole_seconds),
    )


def frames_of(name: str, rig: Rig, rng: random.Random, nights: int) -> list[Frame]:
    """The frames of so many nights in a row, on each of which the list is run, in any order."""
    frames: list[Frame] = []
    for number in range(nights):
        for frame in night_of(name, rig, rng).frames():
            assert frame.taken_utc is not None
            frames.append(replace(frame, taken_utc=frame.taken_utc + number * DAY))
    rng.shuffle(frames)
    return frames


def _clouds(first: Step, last: Step, rng: random.Random) -> tuple[Cloud, ...]:
    length_s = (last.start_utc - first.start_utc).total_seconds()
    begins = first.start_utc + dt.timedelta(seconds=rng.uniform(0.1, 0.9) * length_s)
    ends = begins + dt.timedelta(seconds=rng.uniform(200.0, 2000.0))
    does = rng.choice((None, "spoilt", "passed", "paused"))
    return () if does is None else (Cloud(begins, ends, does),)  # type: ignore[arg-type]
