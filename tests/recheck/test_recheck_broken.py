"""The judge judged: a clean list, and the same with one fact broken, which it must call by its name."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from benchmarks.plain_aim import PLAIN_AIM
from tests.support.recheck.broken import Broken
from tests.support.recheck.edits import CASES, between_the_sides, late_reaching
from tests.support.recheck.facts import Facts
from tests.support.recheck.files import csv_findings, read_shots
from tests.support.recheck.judge import judge
from tests.support.recheck.sky import NightSky
from tests.support.recheck.sweep import list_of, plan

# Two targets: one crosses the meridian in two filters, the other rises behind it. Moon up all night.
REQUEST: dict[str, Any] = {
    "schema": "darkfill-request/1",
    "night": {"evening": "2026-11-24"},
    "site": {"latitude_deg": 38.92, "longitude_deg": -3.11, "time_zone": "Europe/Madrid", "floor_deg": 20.0},
    "mount": {
        "contact_min": 60.0,
        "clearance_min": 10.0,
        "flip_from_min": 5.0,
        "clock_error_s": 10.0,
        "slew_deg_s": 2.0,
    },
    "camera": {"dither_every": 2, "dither_s": 0.0},
    "focus": {"run_s": 100.0, "every_min": 80.0},
    "filters": [
        {"name": "L", "change_s": 0.0, "darkness": "nautical"},
        {"name": "Ha", "change_s": 0.0, "darkness": "nautical"},
    ],
    "targets": [
        {
            "name": "Crossing",
            "ra_deg": 30.0,
            "dec_deg": 20.0,
            "floor_deg": 48.0,
            "goals": [
                {"filter": "L", "exposure_s": 300.0, "frames": 20},
                {"filter": "Ha", "exposure_s": 240.0, "frames": 44},
            ],
        },
        {
            "name": "Rising",
            "ra_deg": 130.0,
            "dec_deg": 25.0,
            "floor_deg": 24.0,
            "goals": [{"filter": "L", "exposure_s": 200.0, "frames": 30}],
        },
    ],
    "aim": {**PLAIN_AIM, "time_limit_s": 2.0, "workers": 1},
}


@cache
def written() -> tuple[dict[str, Any], str]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "out").mkdir()
        assert plan(REQUEST, folder) == (0, "")
        made = list_of(REQUEST, folder)
        return read_shots(made), made.with_suffix(".csv").read_text(encoding="utf-8")


@cache
def sky() -> NightSky:
    shots = written()[0]
    return NightSky(shots["request"], shots["night"]["ut1_utc_s"])


def broken() -> Broken:
    return Broken(written()[0], Facts(written()[0], sky()))


def rules(b: Broken) -> set[str]:
    return {finding.rule for finding in judge(b.shots, sky())}


def test_clean_list_is_clean_and_holds_what_is_broken_below() -> None:
    shots, _ = written()
    assert judge(shots, sky()) == []
    kinds = [row["kind"] for row in shots["steps"]]
    assert kinds.count("flip") == 1
    assert {"slew", "centre", "settle", "filter", "focus", "expose", "dither", "park"} <= set(kinds)
    assert len({row["target"] for row in shots["steps"] if row["kind"] == "slew"}) == 2


@pytest.mark.parametrize(("breaks", "rule"), CASES, ids=[each.__name__ for each, _ in CASES])
def test_broken_list_is_caught_by_name(breaks: Callable[[Broken], None], rule: str) -> None:
    b = broken()
    breaks(b)
    assert rule in rules(b)


def test_what_is_at_the_edge_is_not_broken() -> None:
    """Floor, contact and latest flip on the very second: nothing is found under their names."""
    b = broken()
    index = b.kind("expose")
    b.target(index)["floor_deg"] = b.altitude(index, b.clean.start[index])
    assert "floor" not in rules(b)
    b = broken()
    b.shift(b.west(), b.leave() - b.clean.closes(b.west()), b.west())
    assert "zone" not in rules(b)
    b = broken()
    b.rows[b.flip]["latest_start_utc"] = b.at(b.leave())
    assert "latest_flip" not in rules(b)


@pytest.mark.parametrize(
    "waits", [between_the_sides, lambda b: late_reaching(b, 45)], ids=["stands", "tracks"]
)
def test_lawful_wait_before_a_flip_is_not_broken(waits: Callable[[Broken], None]) -> None:
    b = broken()
    waits(b)
    found = judge(b.shots, sky())
    around = {finding.rule for finding in found if abs(finding.step - (b.flip + 1)) <= 1}
    # the rows were only moved, and the flip's own latest start left where the sides still met
    assert around <= {"places", "latest_early"}


def test_one_cell_of_the_csv_is_caught(tmp_path: Path) -> None:
    shots, text = written()
    made = tmp_path / "night.shots.csv"
    made.write_text(text, encoding="utf-8", newline="")
    assert csv_findings(shots, made) == []
    made.write_text(text.replace(",300,", ",301,", 1), encoding="utf-8", newline="")
    assert [finding.rule for finding in csv_findings(shots, made)] == ["csv"]
    made.write_text("\n".join(text.splitlines()[:-1]) + "\n", encoding="utf-8", newline="")
    assert [finding.rule for finding in csv_findings(shots, made)] == ["csv"]


def test_written_list_is_read_as_plain_json() -> None:
    shots, _ = written()
    assert json.loads(json.dumps(shots)) == shots
