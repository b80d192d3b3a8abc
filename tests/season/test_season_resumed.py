"""A season killed at any moment and begun again is the season of an undisturbed run, whoever works at it."""

from __future__ import annotations

import json
import math
import os
import random
import subprocess
import sys
import time
from functools import cache
from pathlib import Path
from typing import Literal

import pytest

from benchmarks.season_lists import season_request
from optimizer.models.base import as_json_data
from optimizer.models.season import SeasonFile
from optimizer.season.engine import EngineKind
from optimizer.season.season import season_of
from tests.support.speeds import deep

Value = Literal["hours", "depth"]
ROOT = Path(__file__).resolve().parents[2]
TARGETS, NIGHTS, ROUNDS = 2, 4, 1
KILLS = 50
TO_FILE = """
import sys
from pathlib import Path
from tests.season.test_season_resumed import bytes_of, planned
kind, workers, cache, out = sys.argv[1:]
data = bytes_of(planned(kind, int(workers), Path(cache)))
Path(out + ".part").write_bytes(data)
Path(out + ".part").replace(out)
"""


def planned(kind: EngineKind, workers: int, folder: Path | None, value: Value = "hours") -> SeasonFile:
    request = season_request(TARGETS, NIGHTS, value=value, balance=0.3)
    return season_of(request, engine=kind, workers=workers, cache=folder, gap=0.0, rounds=ROUNDS)


def bytes_of(season: SeasonFile) -> bytes:
    """The file without what the clock has written into it."""
    data = as_json_data(season)
    del data["created_utc"], data["proof"]["seconds"]
    if data.get("policy"):
        del data["policy"]["seconds"]
    return json.dumps(data, sort_keys=True).encode()


@cache
def undisturbed(value: Value = "hours") -> bytes:
    return bytes_of(planned("threads", 1, None, value))


@deep
@pytest.mark.parametrize("kind", ["threads", "processes"])
@pytest.mark.parametrize("workers", [1, 2, 3])
@pytest.mark.parametrize("value", ["hours", "depth"])
def test_same_bytes_whoever_works(kind: EngineKind, workers: int, value: Value, tmp_path: Path) -> None:
    assert bytes_of(planned(kind, workers, tmp_path, value)) == undisturbed(value)
    assert bytes_of(planned(kind, workers, tmp_path, value)) == undisturbed(value)  # all of it from the cache


@deep
@pytest.mark.parametrize("kind", ["threads", "processes"])
def test_season_that_is_killed_goes_on(kind: EngineKind, tmp_path: Path) -> None:
    """Killed again and again at random moments on one cache until it ends, then on a fresh one."""
    rng, kills, seasons, whole_s = random.Random(kind), 0, 0, math.inf
    while kills < KILLS // 2:
        folder, out, fresh = tmp_path / str(seasons), tmp_path / f"{seasons}.json", True
        while not out.exists():
            limit_s = (
                rng.uniform(0.05, 0.95) * whole_s if seasons else None
            )  # the first tells how long it takes
            began = time.monotonic()
            child = subprocess.Popen(
                [sys.executable, "-c", TO_FILE, kind, "2", str(folder), str(out)],
                env={**os.environ, "PYTHONPATH": str(ROOT)},
                stderr=subprocess.PIPE,
                text=True,
            )
            try:
                _, err = child.communicate(timeout=limit_s)
                assert (err, child.returncode) == ("", 0)
                whole_s = min(whole_s, time.monotonic() - began) if fresh else whole_s
            except subprocess.TimeoutExpired:
                child.kill()
                child.communicate()
                kills += 1
            fresh = False
        assert out.read_bytes() == undisturbed()
        seasons += 1
    assert seasons >= 2
