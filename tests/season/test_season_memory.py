"""What a season keeps of all its nights at once is little, by depth too, and tells the same."""

from __future__ import annotations

import datetime as dt
import pickle
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from benchmarks.season_lists import season_data
from optimizer.models.season import SeasonFile
from optimizer.problem import build_problem
from optimizer.problem.tasks import Task
from optimizer.reading.load import request_from_data
from optimizer.season.aggregate import hours_of
from optimizer.season.bound import priced
from optimizer.season.desk import Desk, Inline, NightRef, neutral, only_rig
from optimizer.season.kept.stored import night_loaded, night_stored
from optimizer.season.prepared import PreparedNight, prepare, sky_of
from optimizer.season.pricing import Prices, price
from optimizer.season.projects import Ints, projects_of
from optimizer.season.rounds import Rounds
from optimizer.season.season import season_of


@pytest.fixture(scope="module")
def nights() -> tuple[PreparedNight, PreparedNight]:
    """A night by depth as it is prepared, and what is kept of it."""
    data = season_data(3, 1, balance=0.3, odds=0.5)
    data["aim"] |= {"value": "depth"}
    night = prepare(request_from_data(data, "a season by depth"), dt.date(2026, 11, 1))
    return night, night.without_tables()


def test_kept_of_a_night_by_depth_is_little(nights: tuple[PreparedNight, PreparedNight]) -> None:
    """A table of a second each for each goal is 0.7 MB; of ninety nights with ninety goals 5.5 GB."""
    whole, kept = (len(pickle.dumps(each)) for each in nights)
    assert whole > 5_000_000
    assert kept < whole / 20
    assert all(task.profit_by_start is None for task in nights[1].problem.tasks)


def test_season_by_depth_tells_visits_as_its_nights_lay_them_out() -> None:
    data = season_data(3, 2, balance=0.3, odds=0.5)
    data["aim"] |= {"value": "depth", "workers": 1, "slack_s": 0}
    told: SeasonFile = season_of(
        request_from_data(data, "a season by depth"), engine="threads", workers=1, rounds=1, gap=0.0
    )
    for night in told.nights:
        frames = {(each.target, each.filter): each.frames for each in night.plan}
        seen: dict[tuple[str, str], int] = {}
        for visit in night.visits:
            for each in visit.frames:
                seen[each.target, each.filter] = seen.get((each.target, each.filter), 0) + each.frames
        assert frames == seen
    assert sum(len(night.visits) for night in told.nights) > 2


@pytest.fixture(scope="module")
def desk() -> tuple[Desk, NightRef]:
    """A desk by depth with room for one night at a time, and one of its nights."""
    data = season_data(3, 1, balance=0.3, odds=0.5)
    data["aim"] |= {"value": "depth"}
    request = request_from_data(data, "a season by depth")
    projects = projects_of(request)
    return Desk((only_rig(request, projects),), projects, most_bytes=1), NightRef(0, dt.date(2026, 11, 1))


def test_prices_of_a_night_by_depth_need_no_table_by_the_second(desk: tuple[Desk, NightRef]) -> None:
    own, ref = desk
    prices = Prices(own.projects.progress.plain + 0.2, np.full(len(own.projects.goals), 5.0))
    whole = price(own.night(ref), prices, own.projects.left, 3)
    outline = own.priced(ref)
    assert [pickle.dumps(each) for each in price(outline, prices, own.projects.left, 3)] == [
        pickle.dumps(each) for each in whole
    ]
    assert whole[0].worth_s > 0
    assert all(task.profit_by_start is None for task in outline.problem.tasks)
    assert outline.held_bytes < own.night(ref).held_bytes / 2


def test_a_night_once_priced_is_never_made_ready_for_it_again(
    desk: tuple[Desk, NightRef], monkeypatch: pytest.MonkeyPatch
) -> None:
    own, ref = desk
    own.priced(ref)
    own.nights.clear()
    monkeypatch.setattr(Desk, "_fetched", lambda *_: pytest.fail("the whole night was asked for"))
    prices = Prices(own.projects.progress.plain, np.zeros(len(own.projects.goals)))
    assert priced(own, [ref], prices)[0]
    assert hours_of(own, [ref])[0].open_s.any()
    assert Rounds(own, [ref], [Fraction(1, 2)], Inline(own)).best.units


def test_night_by_depth_counts_the_same_in_numbers_of_half_the_length(desk: tuple[Desk, NightRef]) -> None:
    own, ref = desk
    night, request = own.night(ref), neutral(own.rigs[0].request)
    of_night, _, windows = sky_of(request, ref.evening)
    for short, true in zip(night.problem.tasks, build_problem(of_night, windows).tasks, strict=True):
        assert short.profit_by_start is not None
        assert short.profit_by_start.dtype == np.int32
        assert short.profit_by_start.tolist() == _by_start(true).tolist()
    again = night_loaded(night_stored(night, request), request)
    assert again is not None
    for one, other in zip(again.problem.tasks, night.problem.tasks, strict=True):
        assert one.profit_by_start is not None
        assert one.profit_by_start.dtype == np.int32
        assert one.profit_by_start.tolist() == _by_start(other).tolist()


def _by_start(task: Task) -> Ints:
    assert task.profit_by_start is not None
    return task.profit_by_start


def test_no_night_is_made_ready_where_the_season_is_put_together(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Workers have the nights; what is told of them comes from there, in short."""
    data = season_data(2, 2, balance=0.3, odds=0.5)
    data["aim"] |= {"workers": 1, "slack_s": 0, "value": "hours"}
    monkeypatch.setattr(Desk, "_fetched", lambda *_: pytest.fail("a night was made ready here"))
    told = season_of(
        request_from_data(data, "a season"), engine="processes", workers=1, rounds=0, gap=0.0, cache=tmp_path
    )
    assert all(night.plan and night.visits and night.targets for night in told.nights)
    assert told.policy is not None
