"""The sample of the README: three nights of a small list, run by a rig that is slower than its request says.

`python -m tests.support.learned_sample` prints it anew.
"""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import replace
from functools import cache
from pathlib import Path

from optimizer.learn.acts import learned
from optimizer.learn.changes import changed_request, changes_of
from optimizer.learn.found import Found
from optimizer.learn.lesson import Lesson
from optimizer.learn.lines import Place
from optimizer.learn.parted import parted
from optimizer.learn.tonight import tonight_with
from optimizer.report.learn_facts import LearnReport, learn_report
from optimizer.report.learn_view import learn_view
from optimizer.report.tables import show
from optimizer.tally.frames import Frame
from tests.support.learned_cases import EVENING
from tests.support.replan_nights import small_list
from tests.support.run_night import run_night

NIGHTS = 3
SLOWER = {"expose": 1.6, "focus": 22.0, "dither": 3.5}
LINES = {"camera.overhead_s": 14, "camera.dither_s": 16, "focus.run_s": 19}


@cache
def sample() -> LearnReport:
    """What is learned of these nights; a stall and a lost file are in the last of them, which has the list."""
    shots = small_list()
    subs = [step.step for step in shots.steps if step.kind == "expose"]
    frames: list[Frame] = []
    for ago in range(NIGHTS):
        happened = run_night(
            shots,
            random.Random(7 + ago),
            more=SLOWER,
            jitter=0.02,
            stalls={} if ago else {subs[30]: 400.0},
            lost=() if ago else (subs[10],),
        )
        shift = dt.timedelta(days=ago)
        frames += [
            replace(each, taken_utc=each.taken_utc - shift) for each in happened.frames() if each.taken_utc
        ]
    taught = learned(shots.request, frames, shots)
    changes = changes_of(shots.request, taught)
    placed = tuple((each, Place("rig.toml", LINES[each.key], own=False, written=True)) for each in changes)
    tonight = tonight_with(shots.request, changed_request(shots.request, changes), limit_s=0.5)
    found = Found(tuple(frames), len(frames), 0, (), ())
    return learn_report(
        Path("images"), Lesson(EVENING, found, taught, placed, tonight, parted(shots, frames))
    )


if __name__ == "__main__":
    show(learn_view(sample()))
