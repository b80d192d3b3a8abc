"""The stored nights as pictures and pages, and a night whose every name is hostile."""

from __future__ import annotations

import datetime as dt
import json
from functools import lru_cache
from pathlib import Path
from typing import Any

from optimizer.export.json_file import shots_from_data
from optimizer.export.shot_files import read_shots
from optimizer.models.shots import ShotList
from optimizer.report.picture.facts import PictureFacts, picture_facts
from optimizer.report.picture.shown import shown_list
from tests.support.docs_files import ROOT, stored_list

PLANS = ROOT / "plans"
NIGHTS = ("first-night", "long-winter-night", "short-summer-night")


def shots_path(night: str) -> Path:
    return stored_list(PLANS / night)


@lru_cache
def stored(night: str) -> ShotList:
    shots = read_shots(shots_path(night)).shots
    assert shots is not None
    return shots


@lru_cache
def facts_of(night: str) -> PictureFacts:
    return picture_facts(shown_list(stored(night)))


def data_of(night: str) -> dict[str, Any]:
    return dict(json.loads(shots_path(night).read_text(encoding="utf-8")))


@lru_cache
def flipped(flips: int) -> ShotList:
    """The winter night with its flip told several times over, an hour apart, and every figure that there can be."""
    shots = stored("long-winter-night")
    (flip,) = (step for step in shots.steps if step.kind == "flip")
    hour = dt.timedelta(hours=1)
    more = tuple(
        flip.model_copy(update={"start_utc": flip.start_utc - n * hour, "end_utc": flip.end_utc - n * hour})
        for n in range(flips - 1, 0, -1)
    )
    return shots.model_copy(
        update={
            "steps": (*more, *shots.steps),
            "totals": shots.totals.model_copy(update={"depth_s": 31560.0}),
            "proof": shots.proof.model_copy(update={"status": "stopped", "gap": 0.1234}),
        }
    )


HOSTILE = {
    "Pelican at the shore": "</text></svg><script>document.title='owned'</script>",
    "Hyades dust": "\"'><img src=x onerror=alert(1)> &amp; \u202egnorw\u202c \u05e9\u05dc\u05d5\u05dd",
    "Whirl in Triangulum": "{{ 7 * 7 }}{% raw %} " + "W\u0301" * 130,
    "Heron Flat": "</title></style><style>*{display:none}</style>\u2066x",
    "Ha": "]]><b>" + "H" * 290,
    "L": "<!--\u200f-->",
}


def renamed(value: Any, names: dict[str, str]) -> Any:
    """The same data with every string that is one of the names exchanged."""
    if isinstance(value, dict):
        return {key: renamed(part, names) for key, part in value.items()}
    if isinstance(value, list):
        return [renamed(part, names) for part in value]
    return names.get(value, value) if isinstance(value, str) else value


@lru_cache
def hostile() -> ShotList:
    """The first night with names that try to break out of wherever they are put."""
    return shots_from_data(renamed(data_of("first-night"), HOSTILE), "hostile")


@lru_cache
def renamed_plainly() -> ShotList:
    """The same with names as long, so that only what is in them can tell the two apart."""
    plain = {old: "n" * len(new) for old, new in HOSTILE.items()}
    plain = {old: f"{index}{new[1:]}" for index, (old, new) in enumerate(plain.items())}
    return shots_from_data(renamed(data_of("first-night"), plain), "plain")
