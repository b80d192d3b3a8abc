"""Where schema and commands part, in full: what only reading a file finds, and what only a command takes.

A schema knows the kind and the limits of each key. It does not know what two keys say to one another, what a
name means, or what stands in another file.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from optimizer.errors import InputError
from optimizer.reading.load import load_request
from optimizer.words import KeyPath
from tests.support.schema_cases import put, taken, whole_request, without, written

ONE = {"name": "One", "object": "M 81", "set": "galaxy"}
GOAL = {"filter": "L", "exposure_s": 60, "frames": 10}

# Why the commands refuse it, where, and a value that the schema takes.
ONLY_COMMANDS_REFUSE: list[tuple[str, str, KeyPath, Any]] = [
    ("names must differ", "has this name too", ("targets", 1), {**ONE, "name": "Andromeda"}),
    ("a filter must be there", "no filter of this name", ("targets", 0, "goals", 0, "filter"), "Hb"),
    ("a set must be there", "no set of this name", ("targets", 1, "set"), "nebula"),
    ("the same goal twice", "asks for the same filter", ("targets", 1, "goals"), [GOAL, GOAL]),
    ("an amount from somewhere", "neither in this goal nor under its filter", ("targets", 1), {"name": "B", "object": "M 81", "goals": ["L"]}),
    ("hours against frames", "give one of the two", ("targets", 0, "goals", 0, "hours"), 7.5),
    ("more subs than there may be", "fewer hours", ("targets", 1, "goals"), [{"filter": "L", "exposure_s": 0.1, "hours": 9999}]),
    ("a sub longer than focus allows", "longer than the time between", ("focus", "every_min"), 1),
    ("a span backwards", "earlier instant first", ("night", "clear"), [["23:30", "21:00"]]),
    ("odds in order", "sort the pairs", ("night", "clear_odds"), [["23:30", 50], ["21:00", 60]]),
    ("odds of another night", "odds of another night", ("night", "clear_odds"), [["2026-01-01T20:30", 50]]),
    ("an evening's odds once", "has its odds already", ("season", "clear_odds_by_evening"), [["2026-11-14", 0.6], ["2026-11-14", 0.5]]),
    ("a season within the tables", "known to the end of 2100", ("season",), {"first": "2100-12-01"}),
    ("azimuths in order", "sort the pairs", ("site", "skyline"), [[90, 10], [0, 10]]),
    ("a time zone must exist", "no such time zone", ("site", "time_zone"), "Europe/Nowhere"),
    ("an object must be known", "lacks it", ("targets", 1), {**ONE, "object": "Nowhere 9"}),
    ("a day of the calendar", "no such day", ("night", "evening"), "2026-02-30"),
    ("at most three decimals", "more than three decimals", ("targets", 0, "weight"), 1.23456),
    ("an angle written as text in its range", "too large", ("targets", 1), {"name": "B", "ra": "25h", "dec": "91d", "set": "galaxy"}),
    ("a sign and a letter", "a sign and a letter", ("site",), {"latitude": "-38dS", "longitude": "3d", "floor_deg": 30}),
    ("decimals before the last number", "only the last number", ("targets", 1), {"name": "B", "ra": "10.5h20m", "dec": "69d", "set": "galaxy"}),
    ("a whole number with a point", "must be written as a whole number", ("targets", 0, "goals", 0, "frames"), 60.0),
    ("a tally by its ending", "does not end in .csv", ("tally",), "in-hand.txt"),
    ("a file must be there", "no such file", ("site", "skyline"), "nowhere.txt"),
    ("a file outside the folder", "outside the folder", ("include",), ["../site.toml"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "path", "value"), [case[1:] for case in ONLY_COMMANDS_REFUSE], ids=[case[0] for case in ONLY_COMMANDS_REFUSE]
)  # fmt: skip
def test_what_only_reading_finds(words: str, path: KeyPath, value: Any, tmp_path: Path) -> None:
    data = put(whole_request(), path, value)
    assert taken("request", data)
    with pytest.raises(InputError) as told:
        load_request(written(tmp_path, data))
    assert words in str(told.value)


def test_a_request_that_lacks_schema_is_a_part_to_its_schema(tmp_path: Path) -> None:
    """An editor checks the keys of site.toml and rig.toml with it; nobody plans a part."""
    data = without(whole_request(), ("schema",))
    assert taken("request", data)
    assert taken("request", {"site": {"floor_deg": 30}})
    assert not taken("request", {"site": {"floor_deg": 95}})
    with pytest.raises(InputError, match="schema"):
        load_request(written(tmp_path, data))


def test_what_a_part_should_have_brought_is_not_known_to_the_schema(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text("[site]\nfloor_deg = 30\n")
    data = {**without(whole_request(), ("site", "latitude_deg")), "include": ["site.toml"]}
    assert taken("request", data)
    with pytest.raises(InputError, match=r"site\.latitude"):
        load_request(written(tmp_path, data))


def test_angles_of_a_part_and_of_the_request_may_clash(tmp_path: Path) -> None:
    part = {"site": {"latitude": "41d22m"}}
    (tmp_path / "site.toml").write_text('[site]\nlatitude = "41d22m"\n')
    data = {**whole_request(), "include": ["site.toml"]}
    assert taken("request", part)
    assert taken("request", data)
    with pytest.raises(InputError, match="keep one of the two"):
        load_request(written(tmp_path, data))


def test_what_only_commands_take(tmp_path: Path) -> None:
    """Instants in spellings of ISO 8601 that no page of ours shows; what an option or a command makes needless."""
    import datetime as dt

    for instant in ("20261114T203000Z", "2026-W46-6T20:30Z", "2026-11-14T20:30:00.000Z"):
        data = put(whole_request(), ("night", "blocked"), [[instant, "23:00"]])
        assert not taken("request", data)
        load_request(written(tmp_path, data))
    data = without(whole_request(), ("night", "evening"))
    assert not taken("request", data)
    load_request(written(tmp_path, data), evening=dt.date(2026, 11, 14))
    no_targets = without(whole_request(), ("targets",))
    assert not taken("request", no_targets)
    load_request(written(tmp_path, no_targets), targets_needed=False)  # as `darkfill flip` reads it
