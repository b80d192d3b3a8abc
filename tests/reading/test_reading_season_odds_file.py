"""Odds of clear sky of whole nights: from a file, from the request, by month."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from optimizer.models.base import as_json_data
from optimizer.reading.load import LoadedRequest, load_request, request_from_data
from optimizer.season.asked import evenings_of, odds_of
from tests.support.bad_input.table import GOOD
from tests.support.checks import there
from tests.support.docs_files import KEYS, fences


@pytest.fixture(autouse=True)
def _in_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def loaded(season: str, text: str = "") -> LoadedRequest:
    Path("request.toml").write_text(f"{GOOD}\n[season]\n{season}\n")
    Path("odds.csv").write_bytes(text.encode())
    return load_request(Path("request.toml"))


def odds_on(found: LoadedRequest) -> list[tuple[str, float]]:
    asked = there(found.request.season)
    evenings = evenings_of(asked, found.request)
    return [
        (f"{each:%m-%d}", float(odds)) for each, odds in zip(evenings, odds_of(asked, evenings), strict=True)
    ]


@pytest.mark.parametrize(
    "text",
    [
        "evening,odds\n2026-11-15,0.25\n2026-11-14,1\n",
        "Evening;Odds\r\n2026-11-15;.25\r\n2026-11-14;1.0\r\n",
        '"2026-11-15"\t"0.25"\n# the day before\n2026-11-14\t1   # sure\n',
        "\ufeff2026-11-15 0.250\n\n2026-11-14 1.\n",
    ],
)
def test_a_file_has_other_odds_for_single_nights(text: str) -> None:
    found = loaded('nights = 3\nclear_odds = 0.5\nclear_odds_file = "odds.csv"', text)
    assert odds_on(found) == [("11-14", 1.0), ("11-15", 0.25), ("11-16", 0.5)]
    assert found.warnings == ()


def test_the_evening_says_which_month_counts() -> None:
    months = [round(number / 20, 2) for number in range(12)]
    found = loaded(f"first = 2026-12-30\nnights = 4\nclear_odds = {months}")
    assert odds_on(found) == [("12-30", 0.55), ("12-31", 0.55), ("01-01", 0.0), ("01-02", 0.0)]


def test_a_request_as_resolved_carries_the_odds_and_needs_no_file() -> None:
    found = loaded('clear_odds_file = "odds.csv"', "2026-11-15,0.25\n")
    data = as_json_data(found.request)
    assert data["season"]["clear_odds_by_evening"] == [["2026-11-15", 0.25]]
    assert request_from_data(data, "again") == found.request


def test_a_file_may_be_named_by_an_included_part() -> None:
    Path("weather.toml").write_text('[season]\nclear_odds_file = "odds.csv"\nnights = 4\n')
    Path("odds.csv").write_text("2026-11-14,0.125\n")
    Path("request.toml").write_text(f'include = ["weather.toml"]\n{GOOD}\n[season]\nnights = 1\n')
    assert odds_on(load_request(Path("request.toml"))) == [("11-14", 0.125)]


def test_without_a_season_none_is_resolved() -> None:
    Path("request.toml").write_text(GOOD)
    assert load_request(Path("request.toml")).request.season is None


def test_season_of_the_page_of_keys_comes_to_what_is_said_of_it() -> None:
    (lines,) = fences(KEYS, "toml", mark="example season")
    (text,) = fences(KEYS, "csv", mark="example season-odds")
    found = loaded(lines.replace("[season]\n", ""), text)
    assert found.warnings == ()
    given = dict(odds_on(found))
    assert len(given) == 90
    assert [given[each] for each in ("11-14", "11-15", "11-16", "11-17", "12-01")] == [
        0.9,
        0.8,
        0.1,
        0.4,
        0.35,
    ]
    assert there(found.request.season).first == dt.date(2026, 11, 14)
