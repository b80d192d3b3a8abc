"""`--evening tonight`: which evening it is by the clock at the site, and how that is told."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from optimizer import load
from optimizer.models.site import Night, evening_at, night_span
from optimizer.reading import evening
from tests.support.cli_cases import content, darkfill, request

MADRID, SYDNEY, PHOENIX = (-3.11, "Europe/Madrid"), (149.1, "Australia/Sydney"), (-112.0, "America/Phoenix")


@pytest.mark.parametrize(
    ("place", "local", "expected"),
    [
        (MADRID, "2026-11-14T11:59:59+01:00", "2026-11-13"),
        (MADRID, "2026-11-14T12:00:00+01:00", "2026-11-14"),
        (MADRID, "2026-11-14T23:59:59+01:00", "2026-11-14"),
        (MADRID, "2026-11-15T00:00:00+01:00", "2026-11-14"),
        (MADRID, "2027-01-01T01:20:00+01:00", "2026-12-31"),
        (PHOENIX, "2026-11-14T11:59:59-07:00", "2026-11-13"),
        (PHOENIX, "2026-11-14T12:00:00-07:00", "2026-11-14"),
        (PHOENIX, "2026-11-15T00:00:00-07:00", "2026-11-14"),
        (SYDNEY, "2026-12-24T12:00:00+11:00", "2026-12-24"),
        (SYDNEY, "2026-12-25T00:00:00+11:00", "2026-12-24"),
        (SYDNEY, "2026-12-25T11:59:59+11:00", "2026-12-24"),
        # the clock is put forward at 02:00 on 2026-03-29, and back at 03:00 on 2026-10-25
        (MADRID, "2026-03-29T01:59:59+01:00", "2026-03-28"),
        (MADRID, "2026-03-29T03:00:00+02:00", "2026-03-28"),
        (MADRID, "2026-03-29T11:59:59+02:00", "2026-03-28"),
        (MADRID, "2026-03-29T12:00:00+02:00", "2026-03-29"),
        (MADRID, "2026-10-25T02:59:59+02:00", "2026-10-24"),
        (MADRID, "2026-10-25T02:00:00+01:00", "2026-10-24"),
        (MADRID, "2026-10-25T11:59:59+01:00", "2026-10-24"),
        (MADRID, "2026-10-25T12:00:00+01:00", "2026-10-25"),
    ],
)
def test_tonight_lasts_from_noon_to_noon_in_the_site_s_zone(
    place: tuple[float, str], local: str, expected: str
) -> None:
    """Whatever zone the instant itself is given in."""
    now = dt.datetime.fromisoformat(local)
    for instant in (now, now.astimezone(dt.UTC)):
        assert evening_at(instant, *place).isoformat() == expected


@pytest.mark.parametrize("longitude_deg", [-170.0, -120.0, -60.0, 0.0, 60.0, 120.0, 149.1, 175.0])
@pytest.mark.parametrize("hour", range(24))
def test_tonight_is_never_over_even_in_a_zone_far_from_the_site_s_own(
    longitude_deg: float, hour: int
) -> None:
    """Whoever gives no time zone has UTC, in which 20:00 in Australia is the morning."""
    now = dt.datetime(2026, 11, 14, hour, 30, tzinfo=dt.UTC)
    asked = Night(evening=evening_at(now, longitude_deg, "UTC"))
    begin, end = night_span(asked, longitude_deg, "UTC")
    assert begin - dt.timedelta(hours=12) <= now < end


@pytest.mark.parametrize(
    ("now", "line", "date"),
    [
        ("2026-11-14T20:30:00+01:00", "tonight: the night of 2026-11-14, as it is 20:30 at Heron Flat", "14"),
        (
            "2026-11-15T01:20:00+01:00",
            "tonight: the night of 2026-11-14, as it is 01:20 at Heron Flat, from 12:00 on that of 2026-11-15",
            "14",
        ),
    ],
)
def test_plan_of_tonight_tells_the_evening_and_names_its_files_by_it(
    now: str, line: str, date: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(evening, "utc_now", lambda: dt.datetime.fromisoformat(now).astimezone(dt.UTC))
    path = request(tmp_path, ("evening = 2026-11-14", "evening = 2026-03-01"))
    ran = darkfill("plan", path, "--evening", "tonight")
    assert ran.code == 0
    assert ran.stderr.splitlines()[0] == line
    assert ran.stdout.startswith(f"Night of 2026-11-{date} at Heron Flat\n")
    assert sorted(content(tmp_path)) == sorted(
        ["request.toml", *(f"request.2026-11-{date}.shots.{end}" for end in ("json", "csv"))]
    )


@pytest.mark.parametrize("command", ["flip", "windows", "sides"])
def test_other_commands_know_tonight_as_well(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(evening, "utc_now", lambda: dt.datetime(2026, 11, 14, 20, tzinfo=dt.UTC))
    path = request(tmp_path, ("evening = 2026-11-14", "evening = 2026-03-01"))
    ran = darkfill(command, path, "--evening", "tonight")
    assert ran.stderr.splitlines()[0] == "tonight: the night of 2026-11-14, as it is 21:00 at Heron Flat"
    assert ran.stdout == darkfill(command, path, "--evening", "2026-11-14").stdout


def test_tonight_is_a_word_for_python_too_and_needs_no_evening_in_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(evening, "utc_now", lambda: dt.datetime(2026, 11, 15, 10, 59, tzinfo=dt.UTC))
    path = request(tmp_path, ("evening = 2026-11-14\n", ""))
    assert load(path, evening="tonight").request.night.evening == dt.date(2026, 11, 14)


def test_request_whose_zone_is_wrong_is_told_that_alone(tmp_path: Path) -> None:
    path = request(tmp_path, ("Europe/Madrid", "Europe/Madrit"))
    ran = darkfill("plan", path, "--evening", "tonight")
    assert ran.code == 2
    (line,) = ran.stderr.splitlines()
    assert "time_zone" in line


def test_computer_whose_clock_was_never_set_is_told_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A small computer at the mount without a network begins in 1970."""
    monkeypatch.setattr(evening, "utc_now", lambda: dt.datetime(1970, 1, 1, 20, tzinfo=dt.UTC))
    ran = darkfill("plan", request(tmp_path), "--evening", "tonight")
    assert ran.code == 2
    assert "--evening" in ran.stderr
    assert "1970" in ran.stderr
    assert "the year is out of reach" in ran.stderr
