"""Seasons of several rigs on real skies: shared goals, filter sets of which each has a part, nothing shared."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from benchmarks.season_lists import season_data
from optimizer.models.request import Request
from optimizer.models.season import SeasonFile
from optimizer.reading.load import request_from_data
from optimizer.season.aggregate import sampled
from optimizer.season.asked import RigAsked
from optimizer.season.coarse import paths_at
from optimizer.season.desk import Desk, Inline, NightRef, Rig
from optimizer.season.planned import NightPlan
from optimizer.season.play import Play
from optimizer.season.rounds import Rounds, Standing
from optimizer.season.season import season_of
from optimizer.season.shared import shared_projects
from tests.support.season_nights import TinySeason, tiny_season

NIGHTS = 2


def rig(name: str, goals: dict[int, str], *, nights: int = NIGHTS, frames: int = 60, **site: Any) -> RigAsked:
    """A rig that shoots some targets of the list of seasons through some filters, all clear at even odds."""
    data = season_data(max(goals) + 1, nights, balance=0.5, odds=0.5)
    data["targets"] = [
        {**data["targets"][number], "goals": goals_of(data["targets"][number], own, frames)}
        for number, own in goals.items()
    ]
    data["aim"] |= {"workers": 1, "gap": 0.0, "slack_s": 0, "time_limit_s": 0.3}
    data["site"] = {**data["site"], **site}  # the list's own site is that of all
    data["rig"] = name
    return RigAsked(name, request_from_data(data, name))


def goals_of(target: dict[str, Any], filters: str, frames: int) -> list[dict[str, Any]]:
    own = [goal for goal in target["goals"] if goal["filter"] in filters.split()]
    return [{**goal, "frames": frames, "done": 0} for goal in own]


def planned(*rigs: RigAsked, rounds: int = 1) -> SeasonFile:
    return season_of(rigs, engine="threads", workers=1, rounds=rounds, gap=0.0)


def value_s(rigs: Sequence[RigAsked], file: SeasonFile) -> Fraction:
    """What the plans in a file are worth by hours, by the law, and that no more is taken than is left."""
    projects, numbers = shared_projects([each.in_all for each in rigs])
    place = {
        (own.name, *goal_key): int(number)
        for own, of_rig in zip(rigs, numbers, strict=True)
        for goal_key, number in zip(_keys(own.request), of_rig, strict=True)
    }
    taken = [Fraction(0)] * len(projects.goals)
    for night in file.nights:
        for each in night.plan:
            number = place[night.rig, each.target, each.filter, each.exposure_s]
            taken[number] += Fraction(repr(night.odds)) * each.frames
            assert each.frames <= projects.goals[number].left
    assert all(more <= most for more, most in zip(taken, projects.left.tolist(), strict=True))
    return projects.value_s([goal.frame_s * more for goal, more in zip(projects.goals, taken, strict=True)])


def _keys(request: Request) -> list[tuple[str, str, float]]:
    targets = sorted(request.targets, key=lambda each: each.name)
    return [(target.name, goal.filter, goal.exposure_s) for target in targets for goal in target.goals]


def test_a_rig_elsewhere_leaves_the_site_of_the_others() -> None:
    there, here = rig("there", {0: "L"}, latitude_deg=36.0), rig("here", {0: "L"})
    assert there.request.site.latitude_deg == 36.0 != here.request.site.latitude_deg


@pytest.fixture(scope="module")
def apart() -> tuple[RigAsked, RigAsked]:
    """Two rigs at one place that share no target."""
    return rig("north", {0: "L R", 1: "Ha"}), rig("south", {2: "L Ha"})


@pytest.fixture(scope="module")
def beside(apart: tuple[RigAsked, RigAsked]) -> SeasonFile:
    return planned(*apart)


def test_rigs_that_share_nothing_give_exactly_the_sum(
    apart: tuple[RigAsked, RigAsked], beside: SeasonFile
) -> None:
    alone = [planned(each) for each in apart]
    assert round(1000 * beside.proof.value) == sum(round(1000 * each.proof.value) for each in alone) > 0
    assert round(1000 * beside.proof.bound) == sum(round(1000 * each.proof.bound) for each in alone)
    for one in alone:
        name = one.rigs[0].name
        assert [night for night in beside.nights if night.rig == name] == list(one.nights)
        assert [value for value in beside.values if value.rig == name] == list(one.values)
        targets = {project.target for project in one.projects}
        for project in beside.projects:
            if project.target in targets:  # the same weather, the same nights
                same = next(each for each in one.projects if each.target == project.target)
                assert project.model_copy(update={"steps": ()}) == same.model_copy(update={"steps": ()})


def test_nights_are_by_evening_and_rig_and_projects_name_their_rigs(beside: SeasonFile) -> None:
    evenings = ["2026-11-01", "2026-11-02"]
    assert [(night.evening, night.rig) for night in beside.nights] == [
        (evening, name) for evening in evenings for name in ("north", "south")
    ]
    assert [project.rigs for project in beside.projects] == [("north",), ("north",), ("south",)]
    assert {(value.rig, value.filter) for value in beside.values} == {
        ("north", "L"), ("north", "R"), ("north", "Ha"), ("south", "L"), ("south", "Ha"),
    }  # fmt: skip


def test_two_rigs_alike_give_at_least_what_one_gives_and_at_most_twice() -> None:
    one, other = (rig(name, {0: "L", 1: "Ha"}, frames=150) for name in ("one", "other"))
    alone, both = planned(one), planned(one, other)
    assert 0 < alone.proof.value <= both.proof.value <= 2 * alone.proof.bound
    assert both.proof.bound <= 2 * alone.proof.bound * (1 + 1e-9)
    told = Fraction(repr(both.proof.value))
    assert 0 <= value_s((one, other), both) - told < Fraction(1, 1000)
    assert {project.rigs for project in both.projects} == {("one", "other")}
    assert all(night.plan for night in both.nights)
    for project, of_one in zip(both.projects, alone.projects, strict=True):
        assert project.nights == 2 * of_one.nights  # of all rigs together
        assert project.open_s == 2 * (of_one.open_s or 0)
        assert project.last_useful_evening == of_one.last_useful_evening


def test_a_filter_set_of_which_each_rig_has_a_part_counts_as_a_whole() -> None:
    colour, narrow = rig("colour", {0: "L R"}), rig("narrow", {0: "Ha"})
    both = planned(colour, narrow)
    told = Fraction(repr(both.proof.value))
    assert 0 <= value_s((colour, narrow), both) - told < Fraction(1, 1000)
    assert both.proof.value <= both.proof.bound
    taken = {(night.rig, each.filter) for night in both.nights for each in night.plan}
    assert taken >= {("colour", "L"), ("narrow", "Ha")}
    assert all(night.value_s > 0 for night in both.nights)
    assert all(" of 1 project is finished on average in " in step.sentence for step in both.steps)


def test_a_season_by_depth_of_rigs_at_different_places_is_audited_and_told() -> None:
    def deep(each: RigAsked) -> RigAsked:
        aim = each.request.aim.model_copy(update={"value": "depth"})
        return RigAsked(each.name, each.request.model_copy(update={"aim": aim}))

    here = deep(rig("here", {0: "L Ha"}, nights=1))
    there = deep(
        rig("there", {0: "L R"}, nights=1, latitude_deg=36.0, longitude_deg=25.0, time_zone="Europe/Athens")
    )
    both = planned(here, there, rounds=0)
    assert 0 < both.proof.value <= both.proof.bound
    assert not any(night.broken_rules for night in both.nights)
    assert {night.rig for night in both.nights if night.visits} == {"here", "there"}
    assert both.nights[0].dusk_utc != both.nights[1].dusk_utc


def refs_of(nights: int, rigs: int) -> list[NightRef]:
    first = dt.date(2026, 11, 1)
    return [NightRef(rig, first + dt.timedelta(days=night)) for night in range(nights) for rig in range(rigs)]


def test_of_a_long_season_evenings_are_sampled_with_all_their_rigs() -> None:
    refs, odds = refs_of(90, 2), [Fraction(1, 2), Fraction(1, 4)] * 90
    chosen, weights, places = sampled(refs, odds)
    assert len(chosen) == 90  # every second of the evenings, with both rigs
    assert [refs[each].rig for each in chosen] == [0, 1] * 45
    assert places == [each for each in range(1, 90, 2) for _ in range(2)]
    assert sum(weights[0::2]) == 45
    assert sum(weights[1::2]) == Fraction(90, 4)
    alone = sampled(refs[0::2], odds[0::2])
    assert alone == ([each // 2 for each in chosen[0::2]], weights[0::2], places[0::2])


def test_of_very_many_nights_fewer_evenings_are_sampled() -> None:
    refs = refs_of(20, 150)
    chosen, weights, _ = sampled(refs, [Fraction(1)] * len(refs))
    assert len(chosen) == 1500
    assert sum(weights) == 3000


@pytest.mark.parametrize(("nights", "rigs", "most"), [(30, 1, 6), (120, 1, 6), (40, 2, 6), (90, 4, 24)])
def test_nights_planned_anew_at_once_go_by_how_many_there_are(nights: int, rigs: int, most: int) -> None:
    """Of one rig six, as ever; of several a fifteenth of all, if that is more."""
    tiny = tiny_season(2)
    night, own = tiny.nights[0], tiny.desk.rigs[0]
    desk = Desk(tuple(replace(own, name=f"{number}") for number in range(rigs)), tiny.projects)
    refs = refs_of(nights, rigs)
    desk.units.update(dict.fromkeys(refs, night.problem.profit_unit))
    batches = Rounds(desk, refs, [Fraction(1, 3)] * len(refs), Inline(desk)).batches()
    assert max(map(len, batches)) == most
    assert sorted(number for own in batches for number in own) == list(range(len(refs)))


def test_paths_of_a_rig_hold_its_own_goals_alone(apart: tuple[RigAsked, RigAsked]) -> None:
    """Of a hundred rigs with their own goals each, all goals of all nights would be gigabytes."""
    shared = RigAsked("third", rig("third", {0: "L", 2: "Ha"}).request)
    asked = [*apart, shared]
    projects, numbers = shared_projects([each.request for each in asked])
    own = zip(asked, numbers, strict=True)
    desk = Desk(tuple(Rig(each.name, each.request, of_rig) for each, of_rig in own), projects)
    ref = NightRef(2, dt.date(2026, 11, 1))
    count = len(desk.numbers(ref))
    ((frames, gathered_s, goals),) = paths_at(desk, (ref,), [np.ones((1, count))], [np.full((1, count), 9)])
    assert len(desk.groups) == 1
    assert frames.shape == gathered_s.shape == (1, 2) < (1, len(projects.goals))
    assert [projects.goals[goal].filter for goal in goals] == ["L", "Ha"]
    assert frames.any()


@pytest.mark.parametrize("balance", [0.0, 0.4])
def test_the_worth_of_plans_is_exact_whichever_rig_s_plan_is_changed(balance: float) -> None:
    """Only goals of that rig and of their filter sets are looked at."""
    rng = random.Random(1)
    tiny = next(
        each for each in (tiny_season(seed, balance=balance) for seed in range(20)) if _has_two_sets(each)
    )
    count, own = len(tiny.projects.goals), tiny.desk.rigs[0]
    shares = [list(range(count)), [0], [1, count - 1], [count - 1]]  # the first links them all
    rigs = tuple(replace(own, numbers=np.array(goals, dtype=np.int64)) for goals in shares)
    desk, refs = Desk(rigs, tiny.projects), refs_of(2, len(rigs))
    desk.units.update({ref: Fraction(1, 1 + ref.rig) for ref in refs})
    standing = Standing(desk, refs, [Fraction(1, 3), Fraction(2, 7)] * 4)
    for _ in range(60):
        number = rng.randrange(len(refs))
        tasks = len(shares[refs[number].rig])
        frames = tuple(rng.randint(0, 4) for _ in range(tasks))
        standing.put(number, NightPlan(((0, 0, 0, 1, 0),), frames, tuple(7 * each for each in frames)))
        assert standing.value_s == tiny.projects.value_s(standing.gathered)
        without = standing.copied()
        without.put(number, NightPlan())
        assert standing.lost_without(number) == standing.value_s - without.value_s


def _has_two_sets(season: TinySeason) -> bool:
    return len(season.projects.sets) > 1 and len(season.projects.goals) > 3


def test_the_only_night_of_rigs_that_share_nothing_is_planned_for_each_as_without_a_season() -> None:
    both = planned(rig("north", {0: "L R"}, nights=1), rig("south", {2: "Ha"}, nights=1))
    assert [night.rig for night in both.nights] == ["north", "south"]
    assert all(night.visits and night.value_s > 0 for night in both.nights)
    assert both.proof.value == pytest.approx(sum(night.value_s for night in both.nights), abs=0.002)
    assert both.proof.bound >= both.proof.value


def test_ctrl_c_keeps_the_plans_of_rigs_that_have_them(
    apart: tuple[RigAsked, RigAsked], monkeypatch: pytest.MonkeyPatch
) -> None:
    begin = Play.begin

    def pressed(play: Play, tell: Callable[[], None]) -> None:
        if play.group.rigs == (1,):
            raise KeyboardInterrupt
        begin(play, tell)

    monkeypatch.setattr(Play, "begin", pressed)
    both = planned(*apart)
    assert both.proof.ended == "interrupted"
    assert both.proof.value > 0
    assert {night.rig for night in both.nights if night.plan} == {"north"}
    assert (both.policy, both.steps) == (None, ())


def test_a_project_of_rigs_that_are_planned_apart_is_finished_when_both_are() -> None:
    """Sums alone count, so that neither rig minds the other, and the project has goals of both."""

    def plain(each: RigAsked) -> RigAsked:
        aim = each.request.aim.model_copy(update={"balance": 0.0})
        return RigAsked(each.name, each.request.model_copy(update={"aim": aim}))

    few, many = plain(rig("few", {0: "L"}, frames=5)), plain(rig("many", {0: "Ha"}, frames=130))
    both, alone = planned(few, many, rounds=0), planned(many, rounds=0)
    (project,), (own,) = both.projects, alone.projects
    assert project.rigs == ("few", "many")
    assert [goal.filter for goal in project.goals] == ["L", "Ha"]
    assert project.finish_share is not None
    assert project.finish_share <= (own.finish_share or 0.0) < 0.5
    assert {step.change for step in project.steps} == {"clear_night", "half_the_frames"}
    shares = {step.change: step.finish_share or 0.0 for step in project.steps}
    assert shares["half_the_frames"] > project.finish_share


def test_once_the_time_is_over_no_group_begins_another_round(
    apart: tuple[RigAsked, RigAsked], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever group's turn it is as the time ends, the others have had theirs."""
    rounds: list[tuple[int, ...]] = []

    def one_round(play: Play, *_: object) -> None:
        rounds.append(play.group.rigs)
        play.limits.time_limit_s = 1e-9

    monkeypatch.setattr(Play, "_one_round", one_round)
    both = planned(*apart, rounds=9)
    assert rounds == [(0,)]
    assert both.proof.ended == "time"
