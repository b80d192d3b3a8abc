"""Mutated requests: what the schema refuses the commands refuse, and what they take it takes.

What only the commands find is listed in test_schemas_apart.py.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.models.angles import Axis, degrees_from_text
from optimizer.reading.load import load_request, request_from_data
from optimizer.schemas.generator import Node
from optimizer.schemas.request import request_schema
from optimizer.schemas.written import DEC, INSTANT, LATITUDE, LONGITUDE, RA
from optimizer.words import KeyPath, key_text
from tests.models.test_models_junk import GOOD, JUNK, SHORT, places, replaced
from tests.support.schema_cases import put, taken, whole_request, without, written
from tests.support.speeds import sampled

TABLES: dict[KeyPath, str] = {
    ("night",): "Night",
    ("site",): "Site",
    ("mount",): "Mount",
    ("camera",): "Camera",
    ("focus",): "Focus",
    ("aim",): "Aim",
    ("filters", 0): "TypedFilter",
    ("targets", 0): "TypedTarget",
    ("targets", 0, "goals", 0): "TypedGoal",
    ("sets", "galaxy"): "GoalSet",
    ("season",): "SeasonAsked",
}
FILES = ("clear_odds_file", "include", "catalogue", "targets_csv")  # read by commands, not among the data


def wrong_values(key: str, node: Node) -> list[Any]:
    """Values that a key may not have: of another kind, and just outside its limits."""
    found: list[Any] = [{"a": 1}]
    for choice in node.get("anyOf", (node,)):
        if choice.get("type") in ("number", "integer"):
            found += ["12", True]
            if "minimum" in choice:
                found.append(choice["minimum"] - 1)
            if "maximum" in choice:
                found.append(choice["maximum"] + 1)
            found += [choice[limit] for limit in ("exclusiveMinimum", "exclusiveMaximum") if limit in choice]
            if choice["type"] == "integer":
                found.append(1.5)
        if choice.get("type") == "boolean":
            found += [1, "yes"]
        if "enum" in choice:
            found.append(f"{choice['enum'][0]}s")
    if node.get("maxLength") == 300:
        found += ["", " ", "a\tb", "x" * 301, 7]
    return found


def mutations() -> list[tuple[str, dict[str, Any]]]:
    base, schema = whole_request(), request_schema()
    found: list[tuple[str, dict[str, Any]]] = []

    def add(path: KeyPath, value: Any) -> None:
        found.append((f"{key_text(path)} = {json.dumps(value)[:30]}", put(base, path, value)))

    for table, part in TABLES.items():
        node = schema["$defs"][part]
        add((*table, "extra"), 1)
        for key, child in node["properties"].items():
            if key not in FILES:
                for value in wrong_values(key, child):
                    add((*table, key), value)
        for key in node.get("required", ()):
            found.append((f"{key_text((*table, key))} left out", without(base, (*table, key))))
    found += [(f"{key} left out", without(base, (key,))) for key in ("night", "site", "filters", "targets")]
    found += [("night.evening left out", without(base, ("night", "evening")))]
    found += [
        (f"site.{key} left out", without(base, ("site", key)))
        for key in ("latitude_deg", "longitude_deg", "floor_deg")
    ]
    for path, value in SINGLE:
        add(path, value)
    return found


SINGLE: list[tuple[KeyPath, Any]] = [
    (("schema",), "darkfill-request/2"),
    (("extra",), 1),
    (("filters",), []),
    (("targets",), []),
    (("tally",), ""),
    (("tally_radius_deg",), 0),
    (("night", "evening"), "14.11.2026"),
    (("night", "evening"), "2026-11-14T20:00:00"),
    (("night", "evening"), "2026-13-01"),
    (("night", "evening"), "1950-01-01"),
    (("night", "evening"), 20261114),
    (("night", "clear"), [["20:30"]]),
    (("night", "clear"), [["20:30", "21:30", "22:30"]]),
    (("night", "clear"), [["half past eight", "21:30"]]),
    (("night", "clear"), ["20:30", "21:30"]),
    (("night", "clear"), [["24:30", "25:30"]]),
    (("night", "clear"), [["20:61", "21:30"]]),
    (("night", "clear"), [["2026-11-14", "21:30"]]),
    (("night", "clear"), [["2026-11-14T20:30:00.5", "21:30"]]),
    (("night", "blocked"), [[20, 21]]),
    (("night", "clear_odds"), [["20:30", 101]]),
    (("night", "clear_odds"), [["20:30", "70"]]),
    (("night", "clear_odds"), [["20:30"]]),
    (("season", "first"), "14.11.2026"),
    (("season", "first"), 20261114),
    (("season", "clear_odds"), "60 %"),
    (("season", "clear_odds"), [0.5, 0.5]),
    (("season", "clear_odds"), [0.5] * 11 + [60]),
    (("season", "clear_odds_by_evening"), [["2026-11-14", 60]]),
    (("season", "clear_odds_by_evening"), [["2026-11-14"]]),
    (("season", "clear_odds_by_evening"), ["2026-11-14", 0.6]),
    (("site", "skyline"), [[0, 10], [370, 10]]),
    (("site", "skyline"), [[0, 10, 20]]),
    (("site", "skyline"), [[0, "10"]]),
    (("site", "skyline"), [[0, 91]]),
    (("site", "latitude"), "41d22m12s"),  # and latitude_deg
    (("targets", 0, "ra"), "00h42m44s"),  # and ra_deg
    (("targets", 1), {"name": "B", "set": "galaxy"}),
    (("targets", 1), {"name": "B", "set": "galaxy", "ra_deg": 10}),
    (("targets", 1), {"name": "B", "set": "galaxy", "ra": "10h", "ra_deg": 150, "dec_deg": 1}),
    (("targets", 1), {"name": "B", "set": "galaxy", "object": "M 81", "ra_deg": 10}),
    (("targets", 1), {"name": "B", "object": "M 81"}),
    (("targets", 1), {"name": "B", "object": "M 81", "goals": []}),
    (("targets", 1), {"name": "B", "object": None, "set": "galaxy"}),
    (("targets", 1), {"name": "B", "object": "M 81", "set": None}),
    (("targets", 1), {"name": "B", "ra": "10:00", "dec": "69", "set": ""}),
    (("targets", 1), {"name": "B", "ra": "150", "dec": "69", "set": "galaxy"}),
    (("targets", 1), {"name": "B", "ra": "10h", "dec": "69h", "set": "galaxy"}),
    (("targets", 1), {"name": "B", "ra": "10h", "dec": "69d61m", "set": "galaxy"}),
    (("targets", 1), {"name": "B", "ra": "ten", "dec": "69d", "set": "galaxy"}),
    (("targets", 1), {"name": "B", "ra": 10, "dec": "69d", "set": "galaxy"}),
    (("targets", 0, "goals"), [""]),
    (("targets", 0, "goals"), [5]),
    (("targets", 0, "goals"), "Ha"),
    (("targets", 0, "goals"), [{"exposure_s": 60, "frames": 5}]),
    (("filters", 0, "frames"), 5.5),
    (("filters", 0), {"name": "L", "frames": 5, "hours": 3}),
    (("sets", "galaxy"), {"goals": []}),
    (("sets", "galaxy"), {}),
    (("sets", "galaxy"), {"frames": 5, "hours": 2, "goals": ["L"]}),
    (("sets", "galaxy"), {"goals": [{"filter": "L", "done": 3}]}),
    (("sets",), []),
]
MUTATIONS = mutations()


def is_loaded(path: Path) -> bool:
    try:
        load_request(path)
    except InputError:
        return False
    return True


def test_what_is_mutated_is_good(tmp_path: Path) -> None:
    assert taken("request", whole_request())
    assert is_loaded(written(tmp_path, whole_request()))


def test_there_are_enough_mutations() -> None:
    assert len(MUTATIONS[::4]) > 100
    assert len({name for name, _ in MUTATIONS}) > 0.98 * len(MUTATIONS)


@pytest.mark.parametrize("first", sampled(range(4), 1))
def test_mutated_files_are_refused_by_schema_and_commands_alike(first: int, tmp_path: Path) -> None:
    some = MUTATIONS[first::4]
    by_schema = [name for name, data in some if taken("request", data)]
    by_commands = [name for name, data in some if is_loaded(written(tmp_path, data))]
    assert (by_schema, by_commands) == ([], [])


@pytest.mark.parametrize(
    ("text", "good"),
    [
        ('catalogue = ""', False), ("catalogue = 3", False), ('targets_csv = " "', False), ("include = [3]", False),
        ('include = "site.toml"', False), ('include = [""]', False), ('include = ["rig.toml"]', True),
        ("include = []", True),
    ],
)  # fmt: skip
def test_keys_that_name_files(text: str, good: bool, tmp_path: Path) -> None:
    import tomllib

    import tomlkit

    body = f"{text}\n{tomlkit.dumps(whole_request())}"
    (tmp_path / "rig.toml").write_text("[mount]\ncontact_min = 40\n")
    (tmp_path / "request.toml").write_text(body)
    assert taken("request", tomllib.loads(body)) == is_loaded(tmp_path / "request.toml") == good


def of_junk(data: dict[str, Any]) -> bool | None:
    """Whether commands take the data; None where JSON cannot hold it."""
    try:
        json.dumps(data, allow_nan=False, default=lambda value: value.isoformat()).encode()
    except (ValueError, UnicodeEncodeError, OverflowError):
        return None
    try:
        request_from_data(data, "junk")
    except InputError:
        return False
    return True


@settings(max_examples=400, deadline=None)
@given(good=st.sampled_from([GOOD, SHORT]), at=st.integers(0, 10_000), value=JUNK)
def test_junk_that_commands_take_the_schema_takes(good: dict[str, Any], at: int, value: Any) -> None:
    found = places(good)
    data = replaced(found[at % len(found)], value, good)
    if of_junk(data):
        assert taken("request", data)


ANGLES: dict[Axis, str] = {"ra": RA, "dec": DEC, "latitude": LATITUDE, "longitude": LONGITUDE}


@settings(max_examples=600, deadline=None)
@given(
    axis=st.sampled_from(sorted(ANGLES)),
    text=st.from_regex(r"[ ]?[+\-−]?[ ]?[0-9]{1,3}(\.[0-9])?[ hd°:]{0,2}([0-9]{1,2}(\.[0-9])?[ m':]{0,2}"
                       r"([0-9]{1,2}(\.[0-9])?[s\"]{0,2})?)?[ ]?[NSEW]?", fullmatch=True),
)  # fmt: skip
def test_angles_that_commands_read_the_schema_takes(axis: Axis, text: str) -> None:
    try:
        degrees_from_text(text, colon_means_hours=axis == "ra", axis=axis)
    except ValueError:
        return
    assert re.search(ANGLES[axis], text)


@pytest.mark.parametrize(
    ("axis", "text"),
    [
        ("ra", "150"), ("ra", " 150 "), ("ra", "10h61m"), ("ra", "10h20m61s"), ("ra", "ten"), ("ra", "10h20mE"),
        ("dec", "69h"), ("dec", "69d61m"), ("dec", "69dN"), ("dec", ""), ("dec", "69,5d"), ("dec", "1000d"),
        ("latitude", "38d55m12sW"), ("latitude", "38d55x"), ("longitude", "3d06m36sN"), ("longitude", "W"),
    ],
)  # fmt: skip
def test_angles_that_nobody_reads(axis: Axis, text: str) -> None:
    with pytest.raises(ValueError, match="; "):
        degrees_from_text(text, colon_means_hours=axis == "ra", axis=axis)
    assert not re.search(ANGLES[axis], text)


def test_instants_of_all_documented_forms() -> None:
    good = (
        "20:30",
        "9:05",
        "20:30:15",
        "20:30Z",
        "2026-11-14T20:30",
        "2026-11-14 20:30",
        "2026-11-14T20:30:00+01:00",
    )
    bad = ("", "20", "24:00", "20:60", "2026-11-14", "2026-02-32T20:30", "20:30 o'clock", "1950-11-14T20:30")
    assert [text for text in good if not re.search(INSTANT, text)] == []
    assert [text for text in bad if re.search(INSTANT, text)] == []
