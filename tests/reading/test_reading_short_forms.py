"""What is typed short reads as its long form: defaults of filters, sets, names of filters alone."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimizer.models.base import as_json_data
from optimizer.models.request import Request, sha256_of
from optimizer.models.short_forms import DEFAULTS
from optimizer.reading.load import load_request, request_from_data
from tests.support.bad_input.table import GOOD, add, changed
from tests.support.docs_files import KEYS, fences
from tests.support.request_strategies import requests

COLOUR = [
    {"filter": "L", "exposure_s": 120, "hours": 4, "gain": 100},
    {"filter": "R", "exposure_s": 180, "hours": 1.5, "gain": 100},
    {"filter": "G", "exposure_s": 180, "hours": 1.5, "gain": 100},
    {"filter": "B", "exposure_s": 180, "hours": 1.5, "gain": 100},
]
HA = {"filter": "Ha", "exposure_s": 300, "frames": 60, "gain": 200, "offset": 30}
NARROW = [
    {**HA, "binning": 2},
    {"filter": "OIII", "exposure_s": 300, "frames": 60, "gain": 200, "binning": 2},
    {"filter": "SII", "exposure_s": 300, "frames": 40, "gain": 200, "offset": 30, "binning": 2},
]
STARS = {"filter": "L", "exposure_s": 120, "frames": 20, "gain": 100, "in_set": False}
NINE: tuple[dict[str, Any], ...] = (
    {"name": "Triangulum", "object": "M 33", "goals": [HA, *COLOUR]},
    {"name": "Silver Edge", "object": "NGC 891", "position_angle_deg": 22, "goals": COLOUR},
    {"name": "Phantom", "object": "M 74", "goals": COLOUR},
    {"name": "Bode", "object": "M 81", "weight": 0.8, "goals": COLOUR},
    {"name": "Fireworks", "object": "NGC 6946", "goals": COLOUR},
    {"name": "Bubble", "object": "NGC 7635", "goals": NARROW},
    {"name": "Heart", "object": "IC 1805", "goals": [STARS, *NARROW]},
    {"name": "California", "object": "NGC 1499", "position_angle_deg": 60, "goals": NARROW},
    {"name": "Rosette", "object": "NGC 2237", "least_min": 30, "goals": NARROW},
)
FILTERS: tuple[dict[str, Any], ...] = (
    *({"name": name} for name in "LRGB"),
    {"name": "Ha", "kind": "narrowband"},
    {"name": "OIII", "kind": "narrowband", "moonlight_factor": 1},
    {"name": "SII", "kind": "narrowband"},
)
REST = """\
schema = "darkfill-request/1"
[night]
evening = 2026-11-14
blocked = [["2026-11-14T22:10:00Z", "2026-11-14T22:40:00Z"]]
[site]
name = "Dry Fork"
latitude_deg = 38.92
longitude_deg = -3.11
time_zone = "Europe/Madrid"
floor_deg = 25
[mount]
contact_min = 40
clearance_min = 12
[camera]
dither_every = 3
[focus]
every_min = 75
"""


def as_toml(header: str, table: dict[str, Any]) -> str:
    return "\n".join((header, *(f"{key} = {json.dumps(value)}" for key, value in table.items()), ""))


def long_form() -> str:
    """Each key on its line, each goal of each target written out."""
    parts = [REST, *(as_toml("[[filters]]", each) for each in FILTERS)]
    for target in NINE:
        parts.append(as_toml("[[targets]]", {key: target[key] for key in target if key != "goals"}))
        parts += [as_toml("[[targets.goals]]", goal) for goal in target["goals"]]
    return "".join(parts)


def test_nine_targets_with_seven_filters_in_sixty_lines_equal_their_long_form(tmp_path: Path) -> None:
    (short,) = fences(KEYS, "toml", mark="example less")
    long = long_form()
    (tmp_path / "short.toml").write_text(short, encoding="utf-8")
    (tmp_path / "long.toml").write_text(long, encoding="utf-8")
    typed, whole = load_request(tmp_path / "short.toml"), load_request(tmp_path / "long.toml")
    assert typed.request == whole.request
    assert typed.sha256 == whole.sha256
    assert (len(typed.request.targets), len(typed.request.filters)) == (9, 7)
    assert len(short.splitlines()) == 51  # as README says
    assert len(long.splitlines()) > 200
    assert typed.warnings == whole.warnings == ()


def test_resolved_request_holds_neither_sets_nor_defaults(tmp_path: Path) -> None:
    (short,) = fences(KEYS, "toml", mark="example less")
    (tmp_path / "short.toml").write_text(short, encoding="utf-8")
    request = load_request(tmp_path / "short.toml").request
    data = as_json_data(request)
    assert "sets" not in data
    assert not any("set" in target for target in data["targets"])
    assert not any(key in row for row in data["filters"] for key in DEFAULTS)
    assert request_from_data(data, "again") == request


BASE: dict[str, Any] = {
    "schema": "darkfill-request/1",
    "night": {"evening": "2026-11-14"},
    "site": {"latitude_deg": 38.92, "longitude_deg": -3.11, "floor_deg": 25},
}
PLACE = {"name": "Cradle", "ra_deg": 52.3, "dec_deg": 31.3}


def short_request(goal: Any, of_set: dict[str, Any], of_filter: dict[str, Any]) -> Request:
    """A request from Python whose only target takes a set of one goal."""
    return request_from_data(
        {
            **BASE,
            "filters": [{"name": "L", **of_filter}],
            "sets": {"one": {**of_set, "goals": [goal]}},
            "targets": [{**PLACE, "set": "one"}],
        },
        "data",
    )


@pytest.mark.parametrize(
    ("key", "values"),
    [
        ("exposure_s", (60, 90, 120)),
        ("frames", (5, 6, 7)),
        ("hours", (1, 2, 3)),
        ("gain", (0, 100, 200)),
        ("offset", (0, 10, 20)),
        ("binning", (1, 2, 4)),
    ],
)
def test_goal_overrides_its_set_and_the_set_the_filter(key: str, values: tuple[int, int, int]) -> None:
    own, of_set, of_filter = ({key: value} for value in values)
    enough = {"exposure_s": 60} if key in ("frames", "hours") else {"exposure_s": 60, "frames": 9}
    for place in range(3):  # what is enough for a goal stands in each place in turn
        rest = [
            {name: value for name, value in enough.items() if name != key} if place == at else {}
            for at in range(3)
        ]

        def got(*given: dict[str, Any], rest: list[dict[str, Any]] = rest) -> Any:
            goal, in_set, with_filter = ({**one, **other} for one, other in zip(rest, given, strict=True))
            request = short_request({"filter": "L", **goal}, in_set, with_filter)
            return getattr(request.targets[0].goals[0], key)

        assert got(own, of_set, of_filter) == values[0]
        assert got({}, of_set, of_filter) == values[1]
        assert got({}, {}, of_filter) == values[2]
        assert got(own, {}, of_filter) == values[0]


@pytest.mark.parametrize(
    ("goal", "of_set", "of_filter", "hours", "frames"),
    [
        ({"frames": 5}, {"hours": 2}, {"frames": 9}, None, 5),
        ({"hours": 0.11}, {"frames": 5}, {"frames": 9}, 0.11, 7),
        ({}, {"hours": 2}, {"frames": 9}, 2, 120),
        ({}, {"frames": 5}, {"hours": 2}, None, 5),
        ({}, {}, {"hours": 2}, 2, 120),
    ],
)
def test_frames_and_hours_stand_for_one_another(
    goal: dict[str, Any], of_set: dict[str, Any], of_filter: dict[str, Any], hours: float | None, frames: int
) -> None:
    """The nearest place that gives either of them counts: 0.11 h are 6.6 subs of 60 s."""
    request = short_request({"filter": "L", **goal}, of_set, {"exposure_s": 60, **of_filter})
    (found,) = request.targets[0].goals
    assert (found.hours, found.frames) == (hours, frames)


def test_null_is_nothing_given() -> None:
    request = short_request(
        {"filter": "L", "exposure_s": None, "gain": None, "binning": None},
        {"exposure_s": None, "frames": 5},
        {"exposure_s": 60, "gain": 100, "binning": 2, "offset": None},
    )
    (goal,) = request.targets[0].goals
    assert (goal.exposure_s, goal.frames, goal.gain, goal.offset, goal.binning) == (60, 5, 100, None, 2)
    data = {**BASE, "filters": [{"name": "L"}], "sets": {}}
    data["targets"] = [{**PLACE, "set": None, "goals": [{"filter": "L", "exposure_s": 60, "frames": 5}]}]
    assert request_from_data(data, "data").targets[0].goals[0].frames == 5


def test_own_goals_come_before_those_of_the_set_and_a_name_is_enough() -> None:
    given = {"exposure_s": 60, "frames": 5}
    data = {
        **BASE,
        "filters": [{"name": name, **given} for name in "LRGB"],
        "sets": {"some": {"goals": ["B", {"filter": "G"}]}, "none of it": {"goals": ["L"]}},
        "targets": [{**PLACE, "set": "some", "goals": ["R", {"filter": "L", "done": 2}]}],
    }
    before = copy.deepcopy(data)
    goals = request_from_data(data, "data").targets[0].goals
    assert [(goal.filter, goal.frames, goal.done) for goal in goals] == [
        ("R", 5, 0),
        ("L", 5, 2),
        ("B", 5, 0),
        ("G", 5, 0),
    ]
    assert data == before  # a caller's data stays as it is


def test_sets_and_defaults_come_from_included_files_and_later_ones_win(tmp_path: Path) -> None:
    rig = """
[[filters]]
name = "L"
exposure_s = 120

[sets.both]
frames = 10
goals = ["L"]
"""
    (tmp_path / "rig.toml").write_text(rig, encoding="utf-8")
    text = changed(
        GOOD,
        ('schema = "darkfill-request/1"', 'schema = "darkfill-request/1"\ninclude = ["rig.toml"]'),
        ('[[filters]]\nname = "L"\n', "[sets.both]\nframes = 20\n"),
        ('\n[[targets.goals]]\nfilter = "L"\nexposure_s = 120\nframes = 90\n', 'set = "both"\n'),
    )
    (tmp_path / "request.toml").write_text(text, encoding="utf-8")
    (goal,) = load_request(tmp_path / "request.toml").request.targets[0].goals
    assert (goal.filter, goal.exposure_s, goal.frames) == ("L", 120, 20)


def test_rig_alone_may_have_sets_and_defaults(tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    text = changed(GOOD, add("filter", "frames = 9"))
    path.write_text(text[: text.index("[[targets]]")] + '[sets.x]\ngoals = ["L"]\n', encoding="utf-8")
    assert load_request(path, targets_needed=False).request.targets == ()


def test_advice_on_a_goal_of_a_set_names_the_set_and_the_target(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    tally = "target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source\n"
    (tmp_path / "in-hand.csv").write_text(f"{tally}Cradle Nebula,L,300,,,1,,5,0,\n", encoding="utf-8")
    text = changed(
        GOOD,
        ('schema = "darkfill-request/1"', 'schema = "darkfill-request/1"\ntally = "in-hand.csv"'),
        ("contact_min = 40", "contact_min = 20"),
        add("filter", "exposure_s = 300"),
        add(
            "target",
            'set = "more"\n[sets.more]\nframes = 5\ngoals = ["L", { filter = "L", exposure_s = 600 }]',
        ),
        ("\n[[targets.goals]]", "\n[[targets]]\nname = 'Andromeda'\nobject = 'M 31'\n[[targets.goals]]"),
    )
    (tmp_path / "request.toml").write_text(text, encoding="utf-8")
    lines = load_request(Path("request.toml")).warnings
    (long,) = [line for line in lines if "longest exposure" in line]
    assert long.startswith(
        "request.toml:26: sets.more.goals[1].exposure_s = 600 [seconds] "
        '(2nd goal of set "more", for target "Cradle Nebula"): begun just before the flip is due'
    )
    (done,) = [line for line in lines if "in hand" in line]
    assert done == (
        'request.toml:26: sets.more.goals[0].done (1st goal of set "more", for target "Cradle Nebula"): all 5 '
        "subs of this goal are in hand; it gets no time; raise frames to take more"
    )


# --- random requests, shortened ----------------------------------------------------------------------------


def shortened(data: dict[str, Any], draw: st.DataObject) -> dict[str, Any]:
    """The same request with values moved to filters and sets wherever that leaves the goals as they are."""
    data = copy.deepcopy(data)
    goals = [goal for target in data["targets"] for goal in target["goals"]]
    for row in data["filters"]:
        of_filter = [goal for goal in goals if goal["filter"] == row["name"]]
        for key in DEFAULTS:
            # a goal that leaves the key to its default could not say so any more
            if of_filter and all(key in goal for goal in of_filter) and draw.draw(st.booleans()):
                row[key] = draw.draw(st.sampled_from(of_filter))[key]
                for goal in of_filter:
                    if goal[key] == row[key]:
                        del goal[key]
    data["sets"] = {}
    for number, target in enumerate(data["targets"]):
        own = draw.draw(st.integers(0, len(target["goals"])))
        moved = target["goals"][own:]
        if moved and not any("done" in goal for goal in moved):
            data["sets"][f"set {number}"] = {
                "goals": [goal["filter"] if list(goal) == ["filter"] else goal for goal in moved]
            }
            target["set"] = f"set {number}"
            target["goals"] = target["goals"][:own]
            if not own:
                del target["goals"]
    return data


@settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=requests(), draw=st.data())
def test_whatever_is_shortened_reads_as_before(data: dict[str, Any], draw: st.DataObject) -> None:
    whole, typed = request_from_data(data, "long"), request_from_data(shortened(data, draw), "short")
    assert typed == whole
    assert sha256_of(typed) == sha256_of(whole)
