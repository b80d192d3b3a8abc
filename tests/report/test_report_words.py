"""Numbers and instants in words: what is rounded, and to which side."""

from __future__ import annotations

import datetime as dt

import pytest

from optimizer.report.words import (
    at_least_minutes,
    clock,
    count,
    duration,
    minus,
    name,
    percent,
    run_text,
    run_words,
    tied,
    zone_words,
)


def utc(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 min"),
        (29, "0 min"),
        (31, "1 min"),
        (3569, "59 min"),
        (3571, "1 h 00 min"),  # never "60 min"
        (3600, "1 h 00 min"),
        (3660, "1 h 01 min"),
        (86400, "24 h 00 min"),
        (4321.5, "1 h 12 min"),
    ],
)
def test_durations(seconds: float, words: str) -> None:
    assert duration(seconds) == words


@pytest.mark.parametrize(
    ("instant", "zone", "words"),
    [
        ("2026-11-14T23:05:59", "UTC", "23:05"),
        ("2026-11-14T23:05:59", "Europe/Madrid", "00:05"),
        ("2026-11-14T23:05:59", "Asia/Kathmandu", "04:50"),  # UTC+5:45
        ("2026-10-25T00:30:00", "Europe/Madrid", "02:30"),  # summer time still
        ("2026-10-25T01:30:00", "Europe/Madrid", "02:30"),  # an hour later by the sky, the same on the clock
        ("2026-11-14T23:05:59", "Pacific/Marquesas", "13:35"),  # UTC-9:30
    ],
)
def test_clock_is_the_sites(instant: str, zone: str, words: str) -> None:
    assert clock(utc(instant), zone) == words


def test_clock_with_seconds_and_without_an_event() -> None:
    assert clock(utc("2026-11-14T23:05:09"), "UTC", seconds=True) == "23:05:09"
    assert clock(None, "Europe/Madrid") == "-"


@pytest.mark.parametrize(
    ("evening", "zone", "words"),
    [
        ("2026-11-14", "UTC", "UTC, UTC+00"),
        ("2026-11-14", "Asia/Kathmandu", "Asia/Kathmandu, UTC+05:45"),
        ("2026-11-14", "Pacific/Marquesas", "Pacific/Marquesas, UTC-09:30"),
        ("2026-10-24", "Europe/Madrid", "Europe/Madrid, UTC+02, later UTC+01: the clocks change"),
        # in New Zealand clocks go forward on 27 September 2026, at 14:00 UTC of the 26th
        ("2026-09-26", "Pacific/Auckland", "Pacific/Auckland, UTC+12, later UTC+13: the clocks change"),
        ("2026-09-25", "Pacific/Auckland", "Pacific/Auckland, UTC+12"),
        # in California they go back on 1 November 2026, at 09:00 UTC
        ("2026-10-31", "America/Los_Angeles", "America/Los_Angeles, UTC-07, later UTC-08: the clocks change"),
        ("2026-11-01", "America/Los_Angeles", "America/Los_Angeles, UTC-08"),
    ],
)
def test_zone_says_where_the_clocks_change(evening: str, zone: str, words: str) -> None:
    """IANA time zone database; the night is taken from noon to noon UTC."""
    noon = utc(f"{evening}T12:00:00")
    assert zone_words(noon, noon + dt.timedelta(days=1), zone) == words


def test_small_words() -> None:
    assert percent(0.8765) == "88 %"
    assert percent(0.001549, 2) == "0.15 %"
    assert (count(1, "flip"), count(0, "flip"), count(2, "entry", "entries")) == (
        "1 flip",
        "0 flips",
        "2 entries",
    )


def test_names_are_safe_and_short() -> None:
    assert name("N" * 32) == "N" * 32
    assert name("N" * 33) == "N" * 31 + "…"
    assert name("a\u202eb") == "a\\u202eb"
    assert name("OIII narrow", 12) == "OIII narrow"


def test_a_number_below_nought_has_a_minus_sign() -> None:
    assert minus(f"{-1.5:.1f} min") == "−1.5 min"
    assert at_least_minutes(-0.25) == "−0.3 min"


def test_a_run_is_told_in_one_form() -> None:
    assert run_text("Ha", 16, 300.0) == "Ha 16×300s"
    assert run_words("Ha", 16, 300.0) == tied(run_text("Ha", 16, 300.0))
