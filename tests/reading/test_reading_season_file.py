"""A season's file is read as it was written; damaged, changed or of another kind, it is refused in words."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from optimizer.errors import InputError
from optimizer.export.season_files import season_json
from optimizer.models.base import as_json_data
from optimizer.reading.season_file import read_season, season_from_data
from tests.support.season_view_cases import a_season, season_of_two

ANEW = "plan the season anew with darkfill season REQUEST"


@pytest.fixture(autouse=True)
def _in_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def refused(text: str | bytes) -> list[str]:
    path = Path("my.season.json")
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(InputError) as caught:
        read_season(path)
    lines = str(caught.value).split("\n")
    assert all(line.isprintable() and "; " in line for line in lines)
    return lines


def test_it_is_read_as_it_was_written() -> None:
    season = a_season()
    Path("my.season.json").write_text(season_json(season), encoding="utf-8")
    assert read_season(Path("my.season.json")) == season
    assert season_from_data(json.loads(season_json(season)), "x") == season


def test_what_is_no_season_is_refused() -> None:
    assert refused('{"schema": "darkfill-request/1"}') == [
        'my.season.json:1: schema = "darkfill-request/1": this is a request, not a season; name the file that '
        "darkfill season wrote for it"
    ]
    assert refused('{"schema": "darkfill-shots/1"}') == [
        'my.season.json:1: schema = "darkfill-shots/1": this is a shot list, not a season; name the file that '
        "darkfill season wrote"
    ]
    assert refused("[1]")[0].endswith("the season must be an object; put it in braces: { ... }")
    assert "there is no such file" in str(_error(lambda: read_season(Path("none.json"))))
    assert "empty" in refused(" ")[0]
    assert "UTF-8" in refused(b'{"schema": "\xff"}')[0]


def _error(call: Callable[[], object]) -> InputError:
    with pytest.raises(InputError) as caught:
        call()
    return caught.value


def test_a_file_cut_short_is_refused_wherever_it_ends() -> None:
    """As a full disk or a broken copy would leave it; the last byte alone is but the line end."""
    text = season_json(a_season())
    for end in range(1, len(text) - 2, len(text) // 40):
        refused(text[:end])


def _some_plan(data: dict[str, Any]) -> dict[str, Any]:
    """The first subs of the first night that has any."""
    return next(each for night in data["nights"] for each in night["plan"])


VISIT: dict[str, Any] = {
    "target": "Nowhere",
    "pier_side": None,
    "start_utc": "2026-11-17T20:00:00Z",
    "end_utc": "2026-11-17T21:00:00Z",
    "frames": [],
}
STEP = {
    "change": "rig_more",
    "rig": "other",
    "finished": 1.0,
    "finished_without": 0.5,
    "value_s": 2.0,
    "value_without_s": 1.0,
    "seasons": 40,
    "sentence": "with it 1.0 of 4 projects, without it 0.5",
}
CHANGES: list[tuple[str, Callable[[dict[str, Any]], Any], str]] = [
    ("no night", lambda data: data.update(nights=[]), "nights = []: there is no night"),
    (
        "evenings backwards",
        lambda data: data["nights"].reverse(),
        'nights[1].evening = "2026-11-16": this evening is not after the one before it',
    ),
    (
        "an evening twice",
        lambda data: data["nights"].insert(0, data["nights"][0]),
        'nights[1].evening = "2026-11-14": this evening is not after the one before it',
    ),
    (
        "no day of the calendar",
        lambda data: data["nights"][1].update(evening="2026-02-30"),
        'nights[1].evening = "2026-02-30": there is no such day in the calendar',
    ),
    (
        "a value less",
        lambda data: data["values"].pop(),
        "values: these are not one value for each goal of the request in this file",
    ),
    (
        "a value twice",
        lambda data: data["values"].append(data["values"][0]),
        "values: these are not one value for each goal of the request in this file",
    ),
    (
        "another request",
        lambda data: data["rigs"][0]["request"]["aim"].update(balance=0.9),
        "the request in this file is not the one that the season was planned for",
    ),
    ("odds beyond one", lambda data: data["nights"][0].update(odds=7), "nights[0].odds = 7: too large"),
    (
        "worth below 0",
        lambda data: data["values"][0].update(worth_s=-1),
        "values[0].worth_s = -1 [seconds]: too small",
    ),
    (
        "own worth of 0",
        lambda data: data["values"][0].update(own_s=0),
        "values[0].own_s = 0 [seconds]: too small",
    ),
    ("worth in words", lambda data: data["values"][0].update(worth_s="much"), "this is text, not a number"),
    ("an unknown key", lambda data: data.update(more=1), "more = 1: this key is not known here"),
    ("nights of null", lambda data: data.update(nights=None), "nights = null: this is not a list"),
    (
        "more subs than are asked for",
        lambda data: _some_plan(data).update(frames=10**30),
        "these are more subs than the goal lacks, which are",
    ),
    (
        "subs that count beyond measure",
        lambda data: _some_plan(data).update(counted_s=1e308),
        "no subs count for so much",
    ),
    (
        "subs of a worth beyond measure",
        lambda data: (
            [_some_plan(data).update(counted_s=None)] + [each.update(own_s=1e308) for each in data["values"]]
        ),
        "no subs count for so much",
    ),
    (
        "subs of nothing that is asked for",
        lambda data: _some_plan(data).update(target="\x1b[31mX"),
        "these subs are for no goal of the request in this file",
    ),
    (
        "subs of a goal told twice",
        lambda data: [night["plan"].append(night["plan"][0]) for night in data["nights"] if night["plan"]],
        "these subs are told twice",
    ),
    (
        "a project less",
        lambda data: data["projects"].pop(),
        "these are not one project for each target of the request in this file",
    ),
    (
        "a project twice",
        lambda data: data["projects"].append(data["projects"][0]),
        "these are not one project for each target of the request in this file",
    ),
    (
        "a project of a rig that is none",
        lambda data: data["projects"][1].update(rigs=["other"]),
        "these are not the rigs whose requests have this target",
    ),
    (
        "a visit to what is not planned",
        lambda data: data["nights"][3].update(visits=[VISIT]),
        'visits[0].target = "Nowhere": the plan of this night has no subs of this target',
    ),
    (
        "a step of a rig that is none",
        lambda data: data["steps"].append(STEP),
        "this step is of no rig in this file",
    ),
    ("a plan of words", lambda data: data["nights"][0].update(plan=["x"]), "nights[0].plan[0]"),
]


@pytest.mark.parametrize(
    ("change", "told"), [case[1:] for case in CHANGES], ids=[case[0] for case in CHANGES]
)
def test_a_changed_file_is_refused_with_key_and_remedy(change: Callable[[Any], Any], told: str) -> None:
    data = as_json_data(a_season())
    change(data)
    (line,) = refused(json.dumps(data, indent=1))
    assert told in line
    assert line.startswith("my.season.json:")


TWO: list[tuple[str, Callable[[dict[str, Any]], Any], str]] = [
    ("one name twice", lambda data: data["rigs"][1].update(name="north"), "another rig has this name too"),
    (
        "a night of nobody",
        lambda data: data["nights"][3].update(rig="south"),
        'nights[3].rig = "south": there is no rig of this name in this file',
    ),
    (
        "no night of the second",
        lambda data: data.update(nights=data["nights"][::2]),
        'there is no night of the rig "wide"',
    ),
    (
        "rigs out of order",
        lambda data: data["nights"].insert(0, data["nights"].pop(1)),
        'nights[1].rig = "north": the night of this rig is not after the one before it',
    ),
    (
        "a value of one rig less",
        lambda data: data["values"].pop(),
        "these are not one value for each goal of each request in this file",
    ),
    (
        "another request of the second",
        lambda data: data["rigs"][1]["request"]["aim"].update(scarcity=0.9),
        "the request in this file is not the one that the season was planned for",
    ),
    (
        "a number too few elsewhere",
        lambda data: data["rigs"][0]["elsewhere"].pop(),
        "these are not 5 numbers, one for each goal of the request",
    ),
    (
        "more subs than all rigs left",
        lambda data: data["nights"][2]["plan"][0].update(frames=46),
        "these are more subs than the goal lacks, which are 45",
    ),
    (
        "a goal that the rig has not",
        lambda data: data["nights"][1]["plan"][0].update(gain=None),
        "these subs are for no goal of the request in this file",
    ),
]


@pytest.mark.parametrize(("change", "told"), [case[1:] for case in TWO], ids=[case[0] for case in TWO])
def test_a_changed_file_of_two_rigs_is_refused(change: Callable[[Any], Any], told: str) -> None:
    data = as_json_data(season_of_two())
    change(data)
    assert told in "\n".join(refused(json.dumps(data, indent=1)))


def test_a_file_of_two_rigs_is_read_as_it_was_written() -> None:
    season = season_of_two()
    Path("two.season.json").write_text(season_json(season), encoding="utf-8")
    assert read_season(Path("two.season.json")) == season


def test_a_number_that_is_none_is_refused() -> None:
    text = season_json(a_season()).replace('"worth_s": 60.0', '"worth_s": NaN', 1)
    assert "this is not a finite number" in refused(text)[0]


def test_a_deep_or_huge_file_is_refused() -> None:
    refused('{"schema":' + "[" * 100_000 + "]" * 100_000 + "}")
    refused(json.dumps({**as_json_data(a_season()), "months": [{"a": 1}] * 3}))
