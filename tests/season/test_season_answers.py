"""What sampled seasons answer for each project, told in numbers and sentences."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from optimizer.models.season import Project, ProjectGoalState
from optimizer.report.season_words import share_words
from optimizer.season.answers import policy_told, with_weather
from optimizer.season.expected import Expected
from optimizer.season.policy import NEVER
from optimizer.season.steps import Step

EVENINGS = tuple(dt.date(2026, 12, 10) + dt.timedelta(days=number) for number in range(10))


def expected() -> Expected:
    """Ten seasons: one project finished in six of them, on night 0 to 5, another in none."""
    nights = np.array([0, 1, 2, 3, 4, 5, NEVER, NEVER, NEVER, NEVER])
    finished = np.stack([np.minimum(nights, 0), nights, np.full(10, NEVER)], axis=1)
    left = np.stack([np.zeros(10), np.where(nights == NEVER, 10.0, 0.0), np.full(10, 7.0)], axis=1)
    return Expected(
        policy="scarce hours",
        seed=3,
        persistence=0.25,
        evenings=EVENINGS,
        targets=("Near", "Near", "Far"),
        finished=finished,
        left=left,
        values_s=np.arange(10.0) * 100,
        shares=np.array([0.8, 0.9, 1.0]),
        share_of_bound=0.9123456,
        steps=(
            Step("Far", "clear_night", EVENINGS[4], 0.25, 0.0, 10),
            Step("Far", "half_the_frames", None, 1.0, 0.0, 10),
        ),
        seconds=1.23456,
    )


def project(target: str, filters: tuple[str, ...]) -> Project:
    return Project(
        target=target,
        rigs=("rig",),
        weight=1.0,
        wanted_s=6000.0,
        in_hand_s=0.0,
        planned_s=0.0,
        nights=10,
        last_useful_evening="2026-12-19",
        finish_50=None,
        finish_90=None,
        finish_share=None,
        left_after=None,
        goals=tuple(
            ProjectGoalState(
                filter=each,
                exposure_s=300.0,
                wanted=20,
                in_hand=0,
                planned=0.0,
                nights=10,
                last_useful_evening="2026-12-19",
                left_after=None,
            )
            for each in filters
        ),
    )


def test_dates_and_shares_are_those_of_the_samples() -> None:
    """Of ten, five are finished by the fifth night; in nine it is finished in none."""
    near, far = with_weather([project("Near", ("L", "R")), project("Far", ("L",))], expected())
    assert (near.finish_50, near.finish_90, near.finish_share) == ("2026-12-14", None, 0.6)
    assert near.left_after == 4 * 300.0  # four of ten lack ten subs
    assert [goal.left_after for goal in near.goals] == [0.0, 4.0]
    assert (far.finish_50, far.finish_90, far.finish_share, far.left_after) == (None, None, 0.0, 2100.0)


def test_steps_are_told_beside_what_is_without_them() -> None:
    near, far = with_weather([project("Near", ("L", "R")), project("Far", ("L",))], expected())
    assert near.steps == ()
    assert [(step.change, step.finish_share) for step in far.steps] == [
        ("clear_night", 0.25),
        ("half_the_frames", 1.0),
    ]
    assert far.steps[0].sentence == (
        "with one more clear night where it helps most (most often that of 14 December) it is finished in 25 % of "
        "10 simulated seasons, without in 0 %"
    )
    assert far.steps[1].sentence == (
        "with half the subs wanted it is finished in 100 % of 10 simulated seasons, without in 0 %"
    )


@pytest.mark.parametrize(
    ("share", "words"), [(0.395, "39 %"), (0.004, "< 1 %"), (0.997, "99 %"), (0.29, "29 %"), (1.0, "100 %")]
)
def test_share_of_a_step_is_told_as_the_tables_have_it(share: float, words: str) -> None:
    steps = (Step("Far", "half_the_frames", None, share, 0.0, 200),)
    (far,) = with_weather([project("Far", ("L",))], replace(expected(), steps=steps))
    assert f"finished in {words} of 200 simulated seasons" in far.steps[0].sentence
    assert share_words(share) == words


def test_the_policy_is_told_with_its_spread() -> None:
    told = policy_told(expected())
    assert (told.name, told.seasons, told.seed, told.persistence) == ("scarce hours", 10, 3, 0.25)
    assert (told.share_of_bound, told.mean_value_s, told.seconds) == (0.9123, 450.0, 1.235)
    assert (told.share_low, told.share_high) == pytest.approx((0.82, 0.98))
