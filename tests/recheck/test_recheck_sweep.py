"""Random nights that flip, planned by the public command and judged by the third judge: nothing is broken."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.support import recheck
from tests.support.recheck.nights import random_night
from tests.support.recheck.sweep import line, one, totals
from tests.support.speeds import deep

HERE = Path(recheck.__file__).parent
PACKAGE = "tests.support.recheck."
SEEDS = (3, 5, 7, 8, 9, 13)
# What the judge may lean on: the standard library, numbers, and another sky.
JUDGE = {"sky", "moonlight", "facts", "step", "order", "files", "motion", "latest", "judge"}
LIBRARIES = {"numpy", "scipy", "skyfield", "skyfield_data"}
STANDARD = {"__future__", "collections", "csv", "dataclasses", "datetime", "functools", "itertools", "json"}
STANDARD |= {"math", "pathlib", "typing", "warnings", "zoneinfo"}


def imports(path: Path) -> set[str]:
    """All modules that a file imports, wherever in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0
            found.add(str(node.module))
    return found


@pytest.mark.parametrize("name", sorted(JUDGE))
def test_judge_imports_nothing_of_what_it_judges(name: str) -> None:
    path = HERE / f"{name}.py"
    for module in imports(path):
        if module.startswith(PACKAGE):
            assert module.removeprefix(PACKAGE) in JUDGE, module
        else:
            assert module.split(".")[0] in LIBRARIES | STANDARD, module
    text = path.read_text(encoding="utf-8")
    assert not any(word in text for word in ("importlib", "__import__", "exec(", "eval("))


def test_runner_touches_the_package_by_its_command_alone() -> None:
    reached = {
        module
        for path in HERE.glob("*.py")
        for module in imports(path)
        if module.split(".")[0] == "optimizer"
    }
    assert reached == {"optimizer.cli.app"}


def test_nights_are_the_same_for_a_seed_and_of_every_kind() -> None:
    nights = [random_night(seed) for seed in range(1, 301)]
    assert nights[4] == random_night(5)
    mounts = [night["mount"] for night in nights]
    assert {mount["flip_by"] for mount in mounts} == {"plan", "mount", "never"}
    assert 5 <= sum(mount.get("kind") == "fork" for mount in mounts) <= 45
    assert min(mount["flip_from_min"] for mount in mounts) < -20
    assert {mount["turn_rotator_after_flip"] for mount in mounts} == {True, False}
    latitudes = [night["site"]["latitude_deg"] for night in nights]
    assert min(latitudes) < -40 < 50 < max(latitudes)
    assert len({night["night"]["evening"] for night in nights}) > 200
    for key in ("blocked", "clear", "ut1_utc_s"):
        assert 10 < sum(key in night["night"] for night in nights) < 200
    for key in ("skyline", "ceiling_deg"):
        assert 20 < sum(key in night["site"] for night in nights) < 200
    filters = [each for night in nights for each in night["filters"]]
    assert {0.0, 8.0} <= {each["change_s"] for each in filters}
    assert any("moonlight_mag" in each for each in filters)
    assert {0.0, 12.0} <= {night["camera"]["dither_s"] for night in nights}


def test_focus_run_of_a_flip_before_the_quiet_minutes_may_start_as_late_as_it_may() -> None:
    """Night 2261: the mount flips 23 min before the meridian, the quiet minutes begin 15 min before it."""
    told = one(2261)
    assert told["flips"] == 1
    assert told["violations"] == []


@deep
def test_nothing_is_broken_on_a_few_nights() -> None:
    nights = [one(seed, time_limit_s=0.3) for seed in SEEDS]
    for told in nights:
        assert told["violations"] == [], line(told)
        assert told["exit"] == 0
    sums = totals(nights)
    assert sums["flips"] >= 4
    assert sums["exposures"] > 500
    assert sums["latest_starts"] > 1000
    assert {told["mode"] for told in nights} >= {"plan", "mount"}
