"""Odds of clear sky kept in a file: its forms, and what its local times mean in the night that is asked for."""

from __future__ import annotations

import datetime as dt
import itertools
from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.models.base import as_json_data
from optimizer.models.site import night_span
from optimizer.reading.load import LoadedRequest, load_request, request_from_data

REQUEST = """\
schema = "darkfill-request/1"
[night]
evening = 2026-11-14
clear_odds_file = "tonight.csv"
[site]
latitude_deg = 38.92
longitude_deg = -3.11
time_zone = "Europe/Madrid"
floor_deg = 25
[[filters]]
name = "L"
[[targets]]
name = "T"
ra_deg = 52
dec_deg = 31
goals = [{filter = "L", exposure_s = 60, frames = 10}]
"""


@pytest.fixture(autouse=True)
def _in_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "requests").mkdir()
    monkeypatch.chdir(tmp_path / "requests")


def loaded(text: str, request: str = REQUEST, evening: dt.date | None = None) -> LoadedRequest:
    Path("request.toml").write_text(request)
    Path("tonight.csv").write_bytes(text.encode())
    return load_request(Path("request.toml"), evening=evening)


def told(text: str, request: str = REQUEST, evening: dt.date | None = None) -> list[str]:
    with pytest.raises(InputError) as caught:
        loaded(text, request, evening)
    return str(caught.value).split("\n")


def odds(found: LoadedRequest) -> list[tuple[str, float]]:
    return [(f"{instant:%m-%dT%H:%M:%S}", percent) for instant, percent in found.request.night.clear_odds]


@pytest.mark.parametrize(
    "text",
    [
        "20:30,70\n01:00,40.5\n",
        "time,percent\r\n20:30:00,70\r\n01:00:00,40.5\r\n",
        '"time";"percent"\n"20:30";"70"\n"01:00";"40.5"\n',
        "20:30\t70 %\n\n01:00\t40.5%   # they say\n",
        "# by the sky itself\n20:30 70\n1:00  40.5 %\n",
        "\ufeffwhen;how likely\n2026-11-14T20:30;70\n2026-11-15 01:00;40.5\n",
        "2026-11-14T19:30Z, 70\n2026-11-15T02:00:00+02:00, 40.5\n",
        "19:30Z, 70.\n2026-11-15t00:00z, 40.50\n",
    ],
)
def test_forms_that_other_programs_and_people_write(text: str) -> None:
    assert odds(loaded(text)) == [("11-14T19:30:00", 70), ("11-15T00:00:00", 40.5)]


def test_a_request_without_the_key_has_no_odds() -> None:
    assert odds(loaded("20:30, 70\n", REQUEST.replace('clear_odds_file = "tonight.csv"\n', ""))) == []


def test_times_of_day_lie_in_the_night_that_is_asked_for() -> None:
    assert odds(loaded("20:30, 70\n11:00, 40\n", evening=dt.date(2026, 12, 1))) == [
        ("12-01T19:30:00", 70),
        ("12-02T10:00:00", 40),
    ]


@pytest.mark.parametrize("longitude_deg", [-179, -90, -3.11, 90, 179])
@pytest.mark.parametrize("zone", ["UTC", "Europe/Madrid", "Pacific/Auckland", "America/Denver"])
def test_every_hour_of_the_day_lies_between_the_noons(longitude_deg: float, zone: str) -> None:
    """Wherever the site is by its clock; none of these nights has a change of the clocks."""
    request = REQUEST.replace("-3.11", str(longitude_deg)).replace("Europe/Madrid", zone)
    for hour in range(24):
        found = loaded(f"{hour}:05, 70\n", request).request
        ((instant, _),) = found.night.clear_odds
        begin, end = night_span(found.night, longitude_deg, zone)
        assert begin <= instant < end
        assert instant.astimezone(dt.UTC if zone == "UTC" else _zone(zone)).hour == hour


def _zone(name: str) -> dt.tzinfo:
    import zoneinfo

    return zoneinfo.ZoneInfo(name)


@pytest.mark.parametrize(
    ("evening", "text", "hours"),
    [
        (
            "2026-10-24",
            "01:30, 70\n2026-10-25T02:30+02:00, 60\n2026-10-25T02:30+01:00, 50\n03:30, 40\n",
            [1, 1, 1],
        ),
        ("2027-03-27", "01:30, 70\n2027-03-28T01:30Z, 60\n03:30, 50\n04:30, 40\n", None),
    ],
)
def test_instants_with_an_offset_are_clear_where_the_clocks_change(
    evening: str, text: str, hours: list[int] | None
) -> None:
    request = REQUEST.replace("2026-11-14", evening)
    if hours is None:  # 03:30 in summer time is the instant of line 2
        assert told(text, request) == [
            'tonight.csv:3: "03:30": line 2 has the odds of this instant already; keep one of the two'
        ]
        return
    instants = [instant for instant, _ in loaded(text, request).request.night.clear_odds]
    assert [(b - a) / dt.timedelta(hours=1) for a, b in itertools.pairwise(instants)] == hours


def test_all_that_is_wrong_is_told_at_once() -> None:
    wrong = REQUEST.replace("floor_deg = 25", "floor_deg = 95")
    assert [line.split(": ")[0] for line in told("20:30, 700\n21:00, x\n24:00, 3\n", wrong)] == [
        "request.toml:9",
        "tonight.csv:1",
        "tonight.csv:2",
        "tonight.csv:3",
    ]


def test_a_site_whose_zone_is_unknown_is_told_and_nothing_else() -> None:
    (line,) = told("20:30, 70\n", REQUEST.replace("Europe/Madrid", "Europe/Madird"))
    assert line.startswith("request.toml:8: site.time_zone")


def test_a_dated_file_of_another_evening_is_refused_when_the_evening_is_replaced() -> None:
    (line,) = told("2026-11-14T20:30, 70\n", evening=dt.date(2026, 11, 20))
    assert line.startswith("tonight.csv: all its times lie before the night of 2026-11-20")


def test_the_file_is_looked_for_beside_the_file_that_names_it_and_the_later_key_wins() -> None:
    Path("night").mkdir()
    Path("night/night.toml").write_text('[night]\nclear_odds_file = "odds.csv"\n')
    Path("night/odds.csv").write_text("20:30, 70\n")
    rest = 'include = ["night/night.toml"]\n' + REQUEST.replace('clear_odds_file = "tonight.csv"\n', "")
    assert odds(loaded("", rest)) == [("11-14T19:30:00", 70)]
    own = rest.replace("evening", 'clear_odds = [["2026-11-14T22:00:00Z", 5]]\nevening')
    assert odds(loaded("", own)) == [("11-14T22:00:00", 5)]


def test_a_request_as_resolved_needs_no_file() -> None:
    request = loaded("20:30, 70\n01:00, 40.5\n").request
    data = as_json_data(request)
    assert "clear_odds_file" not in data["night"]
    assert request_from_data(data, "again") == request
