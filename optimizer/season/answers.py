"""What a season answers for each project: when it is finished, what cannot be, and what one step would give.

"Cannot" is said only where the open hours of all nights prove it; what sampled weathers say is told as such.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np

from optimizer.models.season import Project, ProjectStep, SeasonPolicy
from optimizer.season.expected import Expected
from optimizer.season.steps import Step
from optimizer.words import date_words

HALF, MOST = 0.5, 0.9  # of the sampled seasons, by which finish dates are told
LOW, HIGH = 0.1, 0.9  # between which 80 % of the seasons lie
SHARE_DECIMALS, FRAME_DECIMALS, SECOND_DECIMALS = 4, 3, 1


def with_weather(projects: Sequence[Project], expected: Expected) -> list[Project]:
    """The projects with what the sampled seasons say of them; goals must be in the order of the season's."""
    left_after = expected.left_after()
    numbers: dict[str, list[int]] = {}
    for number, target in enumerate(expected.targets):
        numbers.setdefault(target, []).append(number)
    steps: dict[str, list[Step]] = {}
    for step in expected.steps:
        steps.setdefault(step.target, []).append(step)
    told = []
    for project in projects:
        own = left_after[numbers[project.target]].tolist()
        goals = [
            goal.model_copy(update={"left_after": round(frames, FRAME_DECIMALS)})
            for goal, frames in zip(project.goals, own, strict=True)
        ]
        share = round(expected.finish_share(project.target), SHARE_DECIMALS)
        dates = [expected.finish_evening(project.target, each) for each in (HALF, MOST)]
        told.append(
            project.model_copy(
                update={
                    "finish_50": None if dates[0] is None else dates[0].isoformat(),
                    "finish_90": None if dates[1] is None else dates[1].isoformat(),
                    "finish_share": share,
                    "left_after": round(
                        sum(
                            frames * goal.exposure_s for goal, frames in zip(project.goals, own, strict=True)
                        ),
                        SECOND_DECIMALS,
                    ),
                    "goals": tuple(goals),
                    "steps": tuple(_step(step) for step in steps.get(project.target, ())),
                }
            )
        )
    return told


def _step(step: Step) -> ProjectStep:
    """What a step gives, beside the same seasons without it."""
    with_it = round(step.finish_share, SHARE_DECIMALS)
    change: Literal["clear_night", "half_the_frames"]
    if step.change == "clear_night":
        change, what = "clear_night", "one more clear night where it helps most"
        if step.evening is not None:
            what += f" (most often that of {date_words(step.evening)})"
    else:
        change, what = "half_the_frames", "half the subs wanted"
    sentence = (
        f"with {what} it is finished in {_percent(with_it)} of {step.seasons} simulated seasons, without "
        f"in {_percent(round(step.without, SHARE_DECIMALS))}"
    )
    return ProjectStep(change=change, sentence=sentence, finish_share=with_it)


def _percent(share: float) -> str:
    """A share rounded down, as the tables of a season have it."""
    return "< 1 %" if 0 < share < 0.01 else f"{math.floor(100 * share + 1e-9)} %"


def policy_told(expected: Expected) -> SeasonPolicy:
    """The policy by which the sampled seasons were planned, and how far it came."""
    low, high = np.quantile(expected.shares, (LOW, HIGH))
    return SeasonPolicy(
        name=expected.policy,
        seasons=expected.seasons,
        seed=expected.seed,
        persistence=expected.persistence,
        share_of_bound=round(expected.share_of_bound, SHARE_DECIMALS),
        share_low=round(float(low), SHARE_DECIMALS),
        share_high=round(float(high), SHARE_DECIMALS),
        mean_value_s=round(expected.value_range_s()[0], SECOND_DECIMALS),
        seconds=round(expected.seconds, 3),
    )
