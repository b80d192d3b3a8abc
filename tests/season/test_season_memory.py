"""What a season keeps of all its nights at once is little, by depth too, and tells the same."""

from __future__ import annotations

import datetime as dt
import pickle

import pytest

from benchmarks.season_lists import season_data
from optimizer.models.season import SeasonFile
from optimizer.reading.load import request_from_data
from optimizer.season.prepared import PreparedNight, prepare
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
