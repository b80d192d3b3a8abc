"""Seasons killed at random moments and begun again on the same cache: are they those of an undisturbed run?

    python -m benchmarks.season_kills [--kills N] [--kinds processes threads] [--seed S]

A small season is planned by a process of its own that is killed at a random moment, and again, until one run
ends; then the next season begins with an empty cache. Each file is held, byte by byte less what the clock has
written, against that of one undisturbed run by a single thread without a cache. Prints a line for each kind
of worker and ends with exit code 1 as soon as a file differs.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Literal

from benchmarks.season_lists import season_request
from optimizer.models.base import as_json_data
from optimizer.models.season import SeasonFile
from optimizer.season.season import season_of

Value = Literal["hours", "depth"]
ROOT = Path(__file__).resolve().parents[1]
TARGETS, NIGHTS, ROUNDS = 2, 4, 1
EARLIEST, LATEST = 0.05, 0.95  # of the shortest run that was not killed


def planned(
    kind: str,
    workers: int,
    folder: Path | None,
    value: Value = "hours",
    say: Callable[[str], None] = lambda sentence: None,
    tell: Callable[[object], None] | None = None,
) -> SeasonFile:
    """The small season, planned by so many workers with a cache in that folder, or with none."""
    request = season_request(TARGETS, NIGHTS, value=value, balance=0.3)
    return season_of(
        request, engine=kind, workers=workers, cache=folder, gap=0.0, rounds=ROUNDS, say=say, tell=tell
    )


def bytes_of(season: SeasonFile) -> bytes:
    """The file without what the clock has written into it."""
    data = as_json_data(season)
    del data["created_utc"], data["proof"]["seconds"]
    if data.get("policy"):
        del data["policy"]["seconds"]
    return json.dumps(data, sort_keys=True).encode()


@cache
def undisturbed(value: Value = "hours") -> bytes:
    """The small season as one thread plans it without a cache."""
    return bytes_of(planned("threads", 1, None, value))


def killed(kind: str, kills: int, folder: Path, seed: int = 0) -> tuple[int, int]:
    """How many kills there were, at least `kills`, and seasons that ended; RuntimeError if one differs."""
    rng, seen, seasons, whole_s = random.Random(f"{kind} {seed}"), 0, 0, math.inf
    while seen < kills:
        kept, out, fresh = folder / str(seasons), folder / f"{seasons}.json", True
        while not out.exists():
            # the first tells how long it takes
            limit_s = rng.uniform(EARLIEST, LATEST) * whole_s if seasons else None
            began = time.monotonic()
            child = subprocess.Popen(
                [sys.executable, "-m", "benchmarks.season_kills", "--one", kind, str(kept), str(out)],
                env={**os.environ, "PYTHONPATH": str(ROOT)},
                stderr=subprocess.PIPE,
                text=True,
            )
            try:
                _, err = child.communicate(timeout=limit_s)
                if (err, child.returncode) != ("", 0):
                    raise RuntimeError(f"a run by {kind} failed with {child.returncode}: {err}")
                whole_s = min(whole_s, time.monotonic() - began) if fresh else whole_s
            except subprocess.TimeoutExpired:
                child.kill()
                child.communicate()
                seen += 1
            fresh = False
        if out.read_bytes() != undisturbed():
            raise RuntimeError(f"season {seasons} by {kind} is another one, after {seen} kills in all")
        seasons += 1
    return seen, seasons


def main() -> None:
    """Kill so many seasons of each kind of worker, or plan a single one, as the arguments say."""
    arguments = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    arguments.add_argument("--kills", type=int, default=25, help="at least so many for each kind of worker")
    arguments.add_argument(
        "--kinds", nargs="+", default=["processes", "threads"], choices=["processes", "threads"]
    )
    arguments.add_argument("--seed", type=int, default=0)
    arguments.add_argument("--one", nargs=3, help=argparse.SUPPRESS)  # kind, cache, file to write
    wanted = arguments.parse_args()
    if wanted.one:
        kind, kept, out = wanted.one
        part = Path(f"{out}.part")
        part.write_bytes(bytes_of(planned(kind, 2, Path(kept))))
        part.replace(out)
        return
    for kind in wanted.kinds:
        began = time.monotonic()
        with tempfile.TemporaryDirectory() as folder:
            try:
                kills, seasons = killed(kind, wanted.kills, Path(folder), wanted.seed)
            except RuntimeError as fault:
                raise SystemExit(str(fault)) from None
        taken_s = time.monotonic() - began
        print(f"{kind}: {kills} kills, {seasons} seasons, each the same; {taken_s:.0f} s", flush=True)


if __name__ == "__main__":
    main()
