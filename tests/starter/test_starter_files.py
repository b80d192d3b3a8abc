"""The starter: every key is in it, each may be set, and it plans as it stands on any night of the year."""

from __future__ import annotations

import datetime as dt
import json
import re
from pathlib import Path

import pytest

from optimizer import audit
from optimizer.night import Night
from optimizer.reading.load import LoadedRequest, load_request
from optimizer.schemas.generator import Node, unit_words
from optimizer.schemas.request import request_schema
from optimizer.starter.files import REQUEST, starter_files
from optimizer.words import number
from tests.support.keys_table import TABLES
from tests.support.schema_cases import EVENING, Unset, keys_not_set, starter_texts, with_set
from tests.support.speeds import deep

NAMED = {
    "mine.csv": "name,aliases,ra,dec\nMine,,10h,+20d\n",
    "targets.csv": "name,object,filter,exposure_s,frames\nBubble,NGC 7635,Ha,300,40\n",
    "tonight.csv": "21:00, 90\n01:00, 60\n",
    "odds.csv": "evening,odds\n2026-11-14,0.9\n",
}
OPENED = re.compile(r"\[+([a-z.]+)\]+")


def files_in(folder: Path, texts: dict[str, str]) -> Path:
    folder.mkdir(exist_ok=True)
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder / REQUEST


def keys_by_table() -> dict[str, set[str]]:
    """The keys that stand in the starter, set or not, by the table they would belong to."""
    found: dict[str, set[str]] = {}
    for text in starter_texts().values():
        table = ""
        for line in text.splitlines():
            if match := OPENED.fullmatch(line):
                table = match[1]
            elif match := re.match(r"#?([a-z0-9_]+) = ", line):
                found.setdefault(table, set()).add(match[1])
    return found


def test_every_key_of_a_request_stands_in_its_table() -> None:
    found = keys_by_table()
    for place, model in TABLES:
        missing = set(model.model_fields) - found[place.replace("NAME", "galaxy")]
        assert missing - ({"goals"} if place == "targets" else set()) == set(), place
    own = {key for key, node in request_schema()["properties"].items() if "$ref" not in node}
    assert own - found[""] == {"filters", "targets", "sets", "season"}  # which have tables


def test_angles_as_text_and_files_are_told() -> None:
    whole = "".join(starter_texts().values())
    for key in ("latitude", "longitude", "ra", "dec"):
        assert re.search(rf"in its place: {key} = \"", re.sub(r"\n# ", " ", whole))
    assert "#clear_odds_file = " in whole


def remark_of(unset: Unset) -> str:
    """What is said of the key on a line: behind it, or in the remarks right above."""
    lines, at = starter_texts()[unset.file].splitlines(), unset.line
    if " # " in lines[at]:
        return lines[at].partition(" # ")[2]
    above: list[str] = []
    while lines[at - 1].startswith("# "):
        at -= 1
        above.insert(0, lines[at].removeprefix("# "))
    return " ".join(above)


def node_of(unset: Unset) -> Node:
    """What the schema says of the key."""
    schema = request_schema()
    parts = {
        "filters": "TypedFilter",
        "targets": "TypedTarget",
        "targets.goals": "TypedGoal",
        "sets.galaxy": "GoalSet",
        "season": "SeasonAsked",
    }
    table = schema["$defs"].get(parts.get(unset.table, unset.table.capitalize()), schema)
    return dict(table["properties"][unset.key])


def test_every_key_that_is_not_set_says_its_meaning_unit_and_default() -> None:
    for unset in keys_not_set():
        node, remark = node_of(unset), remark_of(unset)
        value = starter_texts()[unset.file].splitlines()[unset.line]
        assert node["description"] in remark
        assert unit_words(unset.key) in remark
        default = node.get("default")
        if default is None:
            assert "; no default; " in f"; {remark}"
        elif default == []:
            assert "; default []; " in f"; {remark}"
        else:
            shown = number(default) if isinstance(default, float) else json.dumps(default)
            assert f"= {shown}" in value, unset
            assert "default" not in remark


def test_file_is_narrow_and_plain() -> None:
    for text in starter_texts().values():
        assert max(map(len, text.splitlines())) <= 110
        assert text.isascii()
        assert text.splitlines()[0] == "#:schema ./darkfill-request.schema.json"
        assert text.endswith("\n")


def test_cautions_are_those_of_the_readme() -> None:
    from tests.support.docs_files import README, text

    told = text(README).partition("## Cautions\n")[2].partition("\n## ")[0]
    request = re.sub(r"\s*\n#\s*", " ", starter_texts()[REQUEST])
    for caution in re.split(r"^- ", told, flags=re.MULTILINE)[1:]:
        assert " ".join(caution.split()) in request


def loaded(folder: Path, texts: dict[str, str], evening: dt.date | None = None) -> LoadedRequest:
    return load_request(files_in(folder, texts), evening=evening)


def test_it_loads_with_the_word_on_contact_alone(tmp_path: Path) -> None:
    (warning,) = loaded(tmp_path, starter_texts()).warnings
    assert "mount.contact_min: not given" in warning


def test_each_key_may_be_set_by_taking_its_sign_away(tmp_path: Path) -> None:
    """One at a time: some keys stand for one another. Files that they name are there. A default changes nothing."""
    files_in(tmp_path, NAMED)
    as_it_is = loaded(tmp_path, starter_texts()).request
    changed = {
        "contact_min",
        "skyline",
        "moon_gap_deg",
        "moonlight_mag",
        "clear",
        "blocked",
        "clear_odds_file",
        "targets_csv",
    }
    assert len(keys_not_set()) > 70
    for unset in keys_not_set():
        request = loaded(tmp_path, with_set(unset)).request
        if "default" not in remark_of(unset):
            assert request == as_it_is, unset
        if unset.key in changed:
            assert request != as_it_is, unset
            changed.remove(unset.key)
    assert changed == set()


@pytest.mark.parametrize("month", [1, 7, pytest.param(4, marks=deep), pytest.param(10, marks=deep)])
def test_it_plans_on_any_night_of_the_year(month: int, tmp_path: Path) -> None:
    found = loaded(tmp_path, starter_texts(), dt.date(2027, month, 15))
    shots = Night(found.request.with_aim(time_limit_s=0.5)).plan()
    assert audit(shots).violations == ()
    assert shots.totals.open_shutter_s > 3600


def test_the_evening_is_the_one_asked_for(tmp_path: Path) -> None:
    assert loaded(tmp_path, starter_texts()).request.night.evening == EVENING
    other = {name: text.decode() for name, text in starter_files(dt.date(2028, 2, 29)).items()}
    assert loaded(tmp_path, other).request.night.evening == dt.date(2028, 2, 29)
