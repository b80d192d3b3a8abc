"""A rig more, a rig less, a week less: what they change by the same sampled weathers."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from optimizer.models.season_asked import SeasonAsked
from optimizer.season import season_steps as of_steps
from optimizer.season.desk import Desk, Inline, NightRef, Rig
from optimizer.season.expected import Expected, expected
from optimizer.season.policy import NEVER
from optimizer.season.simulation import of_all_rigs
from optimizer.season.weather import sampled_weathers
from tests.support.season_nights import TinySeason, tiny_season

SEASONS = 60
EVENINGS = [dt.date(2026, 11, 1) + dt.timedelta(days=number) for number in range(8)]


def season_of(rigs: int, seed: int, nights: int) -> TinySeason:
    """A season of rigs that are all alike, of which every night is as the first of a tiny season."""
    tiny = tiny_season(seed)
    rig, night = tiny.desk.rigs[0], tiny.nights[0]
    desk = Desk(
        tuple(Rig(f"rig {number}", rig.request, rig.numbers) for number in range(rigs)), tiny.projects
    )
    refs = tuple(NightRef(number, evening) for evening in EVENINGS[:nights] for number in range(rigs))
    desk.nights.update({ref: replace(night, evening=ref.evening) for ref in refs})
    return TinySeason(desk, refs, (Fraction(1, 4),) * len(refs))


def expected_of(season: TinySeason) -> Expected:
    nights = len({ref.evening for ref in season.refs})
    engine = Inline(season.desk)
    return expected(season.desk, season.refs, season.odds, SeasonAsked(nights=nights), 3, engine, SEASONS)


def steps_of(found: Expected) -> dict[tuple[str, str | None], Any]:
    return {(step.change, step.rig): step for step in found.season_steps}


def finished(found: Expected) -> float:
    """Projects finished at the end of a season, on average, counted once more."""
    targets = np.array(found.targets)
    return sum(
        float(np.mean((found.finished[:, targets == each] != NEVER).all(axis=1)))
        for each in set(found.targets)
    )


@pytest.mark.parametrize("seed", [0, 3])
def test_one_more_rig_brings_what_a_season_of_two_brings_and_one_less_what_one_brings(seed: int) -> None:
    """By the same weathers: with two rigs more paths of a night are known, so it is near and not equal."""
    one, two = expected_of(season_of(1, seed, 8)), expected_of(season_of(2, seed, 8))
    more, less = steps_of(one)["rig_more", "rig 0"], steps_of(two)["rig_less", "rig 1"]
    assert more.value_without_s == pytest.approx(float(one.values_s.mean()), abs=0.06)
    assert more.value_s == pytest.approx(float(two.values_s.mean()), rel=0.05)
    assert less.value_s == pytest.approx(float(one.values_s.mean()), rel=0.05)
    assert more.value_s > 1.2 * more.value_without_s
    assert less.value_s < less.value_without_s / 1.2
    assert more.finished_without == pytest.approx(finished(one), abs=0.001)
    assert less.finished_without == pytest.approx(finished(two), abs=0.001)
    assert more.finished >= more.finished_without
    assert less.finished <= less.finished_without
    assert set(steps_of(one)) == {("rig_more", "rig 0"), ("week_less", None)}
    assert len(two.season_steps) == 5


def test_without_its_last_week_a_season_of_eight_nights_has_one() -> None:
    season = season_of(1, 3, 8)
    step = steps_of(expected_of(season))["week_less", None]
    clear = sampled_weathers(season.odds, 0.0, SEASONS, 3)[:, 0].mean()
    of_a_clear_night_s = float(expected_of(season_of(1, 3, 1)).values_s.max())
    assert step.value_s == pytest.approx(clear * of_a_clear_night_s, rel=0.02)
    assert step.value_s < step.value_without_s
    assert not [each for each in expected_of(season_of(1, 3, 7)).season_steps if each.change == "week_less"]


def test_sentences_tell_projects_and_seasons(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(of_steps, "STEP_NIGHTS", 1)
    monkeypatch.setattr(of_steps, "LEAST_SEASONS", 15)
    found = expected_of(season_of(2, 3, 8))
    steps = steps_of(found)
    assert {each.seasons for each in steps.values()} == {15}
    count = len(set(found.targets))
    step = steps["rig_more", "rig 1"]
    assert step.sentence == (
        f"with one more rig like rig 1 {step.finished:.1f} of {count} projects are finished on average in the "
        f"first 15 of 60 simulated seasons, without it {step.finished_without:.1f}"
    )
    assert steps["rig_less", "rig 0"].sentence.startswith("without the rig rig 0 ")
    assert steps["week_less", None].sentence.startswith("without the last seven nights ")


def test_of_many_rigs_those_with_most_hours_are_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(of_steps, "MOST_RIGS", 1)
    assert set(steps_of(expected_of(season_of(3, 0, 2)))) == {("rig_more", "rig 0"), ("rig_less", "rig 0")}


def test_dates_of_several_rigs_are_evenings() -> None:
    season = season_of(3, 3, 4)
    found = expected_of(season)
    assert found.evenings == tuple(EVENINGS[:4])
    assert found.finished.max() == 3
    clear = sampled_weathers([Fraction(1, 4)] * 4, 0.0, SEASONS, 3)  # at one place for all of them
    rows, goals = np.nonzero(found.finished >= 0)
    assert clear[rows, found.finished[rows, goals]].all()


def test_hours_ahead_are_those_of_all_rigs_on_the_evening() -> None:
    refs = [NightRef(0, EVENINGS[0]), NightRef(1, EVENINGS[0]), NightRef(0, EVENINGS[1])]
    hours = np.array([[3.0, 1.0], [2.0, 0.0], [5.0, 1.0]])  # the second rig has no such goal
    assert of_all_rigs(refs, hours).tolist() == [[5.0, 1.0], [5.0, 1.0], [5.0, 1.0]]
    assert of_all_rigs(refs[:1], hours[:1]).tolist() == [[3.0, 1.0]]
