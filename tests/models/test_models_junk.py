"""Whatever is put in place of a value, it is taken, or refused at its place in words of our own."""

from __future__ import annotations

import copy
import datetime as dt
import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.errors import InputError, InputProblem
from optimizer.reading.load import load_request, request_from_data
from optimizer.words import KeyPath, key_text

GOOD: dict[str, Any] = {
    "schema": "darkfill-request/1",
    "night": {"evening": "2026-11-14", "clear": [["2026-11-14T20:30:00Z", "2026-11-15T01:00:00Z"]]},
    "site": {
        "latitude_deg": 38.92, "longitude_deg": -3.11, "floor_deg": 25, "time_zone": "UTC", "name": "Here",
        "skyline": [[0, 12], [90, 25]],
    },
    "mount": {"kind": "german", "contact_min": 40, "clearance_min": 5, "refocus_after_flip": True},
    "camera": {"dither_every": 3},
    "focus": {"every_min": 90, "leaves_target": False},
    "filters": [{"name": "L", "kind": "narrowband", "darkness": "nautical", "moon_gap_deg": 30}],
    "targets": [
        {
            "name": "T", "ra": "3h29m", "dec_deg": 31.3, "weight": 1.5, "least_min": 10, "sides": "either",
            "goals": [{"filter": "L", "exposure_s": 60, "frames": 100, "gain": 100, "in_set": True}],
        }
    ],
    "aim": {
        "value": "hours", "seed": 3,
        "balance": 0.3, "scarcity": 0.5, "look_ahead_nights": 28, "slack_s": 60,
    },
}  # fmt: skip
SHORT: dict[str, Any] = {
    **GOOD,
    "night": {"evening": "2026-11-14", "clear": [["20:30", "2026-11-15T01:00"]], "clear_odds": [["22:00", 70]]},
    "filters": [
        {"name": "L", "exposure_s": 60, "frames": 100, "gain": 100, "offset": 30, "binning": 2},
        {"name": "R", "exposure_s": 90, "hours": 2},
    ],
    "sets": {"two": {"frames": 50, "goals": ["R", {"filter": "L", "exposure_s": 70, "in_set": False}]}},
    "targets": [
        {"name": "T", "ra": "3h29m", "dec_deg": 31.3, "set": "two", "goals": ["L"]},
        {"name": "U", "ra": "4h29m", "dec_deg": 31.3, "set": "two"},
    ],
}  # fmt: skip
JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.sampled_from([10**400, -(10**400), 10**5000, float("nan"), float("inf"), -float("inf")]),
    st.floats(),
    st.text(max_size=8),
    st.sampled_from(["", " ", "\ud800", "\x1b[2J", "\u202e", "12", "1e3", "x" * 5000, "24h", "-91d"]),
    st.just("9999-12-31T23:59:59-14:00"),
    st.sampled_from([dt.date(1, 1, 1), dt.datetime(1, 1, 1, tzinfo=dt.UTC), dt.datetime.fromisoformat("0001-01-01")]),
    st.sampled_from([dt.time(3), dt.time(3, 0, 0, 5), "20:61", "9999-12-31T23:59"]),
    st.lists(st.one_of(st.integers(), st.text(max_size=3), st.lists(st.floats(), max_size=3)), max_size=3),
    st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
)  # fmt: skip


def places(data: Any, path: KeyPath = ()) -> list[KeyPath]:
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    return [place for key, value in items for place in ((*path, key), *places(value, (*path, key)))]


PLACES = places(GOOD)
OUR_WORDS_NEVER_SAY = ("Input should", "Value error", "validation", "Field required", "Extra inputs")


def replaced(path: KeyPath, value: Any, good: dict[str, Any] = GOOD) -> dict[str, Any]:
    data = copy.deepcopy(good)
    holder: Any = data
    for part in path[:-1]:
        holder = holder[part]
    holder[path[-1]] = value
    return data


def problems(data: dict[str, Any]) -> tuple[InputProblem, ...]:
    try:
        request_from_data(data, "junk")
    except InputError as error:
        found = error.problems
    else:
        return ()
    assert found  # what is refused is told
    return found


def test_the_request_is_good_before_junk_is_put_in() -> None:
    assert problems(GOOD) == ()
    assert problems(SHORT) == ()


@settings(max_examples=600, deadline=None)
@given(path=st.sampled_from(PLACES), value=JUNK)
def test_junk_is_told_where_it_stands(path: KeyPath, value: Any) -> None:
    key = key_text(path)
    for problem in problems(replaced(path, value)):
        # in the value, at the value, or at what it belongs to
        near = problem.key.startswith(key) or key.startswith(problem.key)
        # goals miss the filter that is no more, and may be longer than the new time between focus runs
        elsewhere = path[0] in ("filters", "focus") and problem.key.startswith("targets[0].goals[0].")
        # a pair of the skyline is measured against the one before it
        beside = path[:2] == ("site", "skyline") and problem.key.startswith("site.skyline[")
        assert near or elsewhere or beside
        assert problem.message
        assert problem.remedy
        line = str(problem)
        assert "\n" not in line
        assert "\x1b" not in line
        line.encode()  # half a character would fail here, and on every terminal
        assert not any(words in line for words in OUR_WORDS_NEVER_SAY)


@settings(max_examples=400, deadline=None)
@given(path=st.sampled_from(places(SHORT)), value=JUNK)
def test_junk_in_what_is_typed_short_is_taken_or_told_once(path: KeyPath, value: Any) -> None:
    """Two targets take the set, and both filters stand in several goals."""
    found = problems(replaced(path, value, SHORT))
    assert len({(problem.key, problem.message) for problem in found}) == len(found)
    for problem in found:
        assert problem.message
        assert problem.remedy
        assert "\n" not in str(problem)
        assert not any(words in str(problem) for words in OUR_WORDS_NEVER_SAY)
        if path[0] in ("filters", "sets"):  # never a key that the target does not hold
            assert not problem.key.startswith("targets[1].goals")


@settings(max_examples=150, deadline=None)
@given(first=st.sampled_from(PLACES), second=st.sampled_from(PLACES))
def test_two_faults_are_both_told(first: KeyPath, second: KeyPath) -> None:
    """A duration fits nowhere, so each of the two must be told, whatever the other broke."""
    if first[: len(second)] == second or second[: len(first)] == first:
        return  # one stands in the other
    data = replaced(first, dt.timedelta(hours=3))
    holder: Any = data
    for part in second[:-1]:
        holder = holder[part]
    holder[second[-1]] = dt.timedelta(hours=4)
    keys = [problem.key for problem in problems(data)]
    for path in (first, second):
        assert any(key_text(path).startswith(key) for key in keys), (path, keys)


@settings(max_examples=300, deadline=None)
@given(
    position=st.integers(0, 900),
    piece=st.text(alphabet="[]{}=.,:\"'#\n\\ \t0aé“_-+\x00\r\x1b", max_size=4),
    kind=st.sampled_from(["toml", "json"]),
)
def test_text_with_slips_is_taken_or_told(
    position: int, piece: str, kind: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    import tomlkit

    text = tomlkit.dumps(GOOD) if kind == "toml" else json.dumps(GOOD, indent=1)
    path = tmp_path_factory.mktemp("slips") / f"request.{kind}"
    path.write_bytes((text[:position] + piece + text[position + 1 :]).encode())
    try:
        load_request(path)
    except InputError as error:
        for problem in error.problems:
            assert problem.message
            assert problem.remedy
            assert "parser says" not in problem.remedy  # every slip has words of its own
            assert str(problem).removeprefix(str(path)).isprintable()
