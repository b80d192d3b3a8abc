"""A season killed at any moment and begun again is the season of an undisturbed run, whoever works at it."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchmarks.season_kills import Value, bytes_of, killed, planned, undisturbed
from tests.support.speeds import deep

KILLS = 2  # `python -m benchmarks.season_kills` has more of them


@deep
@pytest.mark.parametrize(
    ("kind", "workers", "value"),
    [
        ("threads", 1, "hours"),
        ("threads", 3, "hours"),
        ("processes", 2, "hours"),
        ("threads", 2, "depth"),
        ("processes", 3, "depth"),
        ("dask", 2, "hours"),
    ],
)
def test_same_bytes_whoever_works(kind: str, workers: int, value: Value, tmp_path: Path) -> None:
    assert bytes_of(planned(kind, workers, tmp_path, value)) == undisturbed(value)
    assert bytes_of(planned(kind, workers, tmp_path, value)) == undisturbed(value)  # all of it from the cache


@deep
@pytest.mark.parametrize("kind", ["threads", "processes"])
def test_season_that_is_killed_goes_on(kind: str, tmp_path: Path) -> None:
    """Killed again and again at random moments on one cache until it ends, then on a fresh one."""
    kills, seasons = killed(kind, KILLS, tmp_path)
    assert kills >= KILLS
    assert seasons >= 2
