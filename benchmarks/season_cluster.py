"""A season on a cluster of Dask: two workers beside one, workers killed, and as many rigs as fit into a time.

    python -m benchmarks.season_cluster speed [--size 90x30] [--repeats N] [--kinds processes dask]
    python -m benchmarks.season_cluster kills [--kills N] [--seed S]
    python -m benchmarks.season_cluster scale [--rigs N ...] [--nights N] [--targets N] [--weathers N]

`speed` prepares and prices the nights of one rig with one worker and with two, turn by turn, each with
nothing kept, and prints the ratios of their seconds, by processes and by a local cluster. `kills` plans small
seasons on a local cluster and kills a worker at random moments: each file is held, byte by byte less what the
clock has written, against that of one undisturbed run by a single thread; it ends with exit code 1 if one
differs. `scale` plans seasons of more and more rigs with two workers, and tells seconds, memory and bytes.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import statistics
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from benchmarks.season_engine import in_a_process
from benchmarks.season_kills import bytes_of, planned, undisturbed
from benchmarks.surroundings import keep, load, surroundings

KILL_S = 0.3, 2.5  # between two kills: tasks of the small season take less, so that most hit one
PARTS = {"prepared_s": "prepared", "first_s": "first pricing", "later_s": "a later one"}


def main() -> None:
    """Do one of the three."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parts = arguments.add_subparsers(dest="part", required=True)
    of_speed, of_kills, of_scale = (parts.add_parser(name) for name in ("speed", "kills", "scale"))
    of_speed.add_argument("--size", default="90x30")
    of_speed.add_argument("--repeats", type=int, default=3)
    of_speed.add_argument("--kinds", nargs="+", default=["processes", "dask"])
    of_kills.add_argument("--kills", type=int, default=20)
    of_kills.add_argument("--seed", type=int, default=0)
    of_scale.add_argument("--rigs", type=int, nargs="+", default=[1, 2, 4, 8])
    of_scale.add_argument("--nights", type=int, default=30)
    of_scale.add_argument("--targets", type=int, default=10)
    of_scale.add_argument("--limit", type=float, default=600.0, help="seconds of all together")
    of_scale.add_argument("--engine", default="dask")
    wanted = arguments.parse_args()
    if wanted.part == "speed":
        speed(wanted.size, wanted.repeats, wanted.kinds)
    elif wanted.part == "kills":
        began = time.monotonic()
        with tempfile.TemporaryDirectory() as folder:
            try:
                kills, seasons, told = killed(wanted.kills, Path(folder), wanted.seed)
            except RuntimeError as fault:
                raise SystemExit(str(fault)) from None
        taken_s = time.monotonic() - began
        print(f"{kills} workers killed in {seasons} seasons, each the same; {told} of the deaths interrupted")
        print(f"a task and were told; {taken_s:.0f} s")
    else:
        scale(wanted)


def speed(size: str, repeats: int, kinds: list[str]) -> None:
    """One worker and two, turn by turn, so that whatever else the machine does meets both."""
    figures: dict[str, Any] = {"size": size, **surroundings(("numba", "numpy", "distributed")), "runs": []}
    print("| workers | | prepared s | first pricing s | a later one s |\n|---|---|---|---|---|")
    for _ in range(repeats):
        for kind in kinds:
            for workers in (1, 2):
                with tempfile.TemporaryDirectory() as folder:
                    run = in_a_process(size, kind, str(workers), folder, "hours")
                figures["runs"].append({"kind": kind, "workers": workers, **run})
                seconds = " | ".join(f"{run[part]:.2f}" for part in PARTS)
                print(f"| {workers} | {kind} | {seconds} |", flush=True)
    for kind in kinds:
        ratios = []
        for part, words in PARTS.items():
            both = [
                statistics.median(
                    run[part] for run in figures["runs"] if (run["kind"], run["workers"]) == (kind, count)
                )
                for count in (1, 2)
            ]
            ratios.append(f"{words} {both[0] / both[1]:.2f}")
        figures[f"ratios {kind}"] = ratios
        print(f"{kind}, two workers beside one, medians of {repeats}: {', '.join(ratios)}")
    keep("season-cluster.json", {**figures, "load_after": load()})


def killed(kills: int, folder: Path, seed: int = 0) -> tuple[int, int, int]:
    """Kills of workers, seasons that ended, deaths that were told; RuntimeError where a season differs."""
    rng, seen, seasons, told = random.Random(seed), 0, 0, list[str]()
    while seen < kills:
        killer = _Killer(rng, kills - seen)
        try:
            season = planned("dask", 2, folder / str(seasons), say=told.append, tell=killer.begin)
        finally:
            killer.end()
        if bytes_of(season) != undisturbed():
            raise RuntimeError(f"season {seasons} is another one, after {seen + killer.kills} kills in all")
        seen, seasons = seen + killer.kills, seasons + 1
    return seen, seasons, sum("is tried again" in sentence for sentence in told)


class _Killer(threading.Thread):
    """Kills one of this process's workers after another, at random moments."""

    def __init__(self, rng: random.Random, most: int) -> None:
        super().__init__(daemon=True)
        self._rng, self._over, self._most = rng, threading.Event(), most
        self.kills = 0

    def begin(self, progress: object) -> None:
        """Hear that the workers are there."""
        del progress
        if self.ident is None:
            self.start()

    def end(self) -> None:
        self._over.set()
        if self.ident is not None:
            self.join()

    def run(self) -> None:
        while self.kills < self._most and not self._over.wait(self._rng.uniform(*KILL_S)):
            if pids := list(_workers()):
                os.kill(self._rng.choice(pids), signal.SIGKILL)
                self.kills += 1


def _workers() -> Iterator[int]:
    """The processes of a local cluster that this process has started."""
    import multiprocessing

    for child in multiprocessing.active_children():
        if child.name.startswith("Dask Worker") and child.pid is not None:
            yield child.pid


def scale(wanted: argparse.Namespace) -> None:
    """Seasons of more and more rigs."""
    raise SystemExit("not yet")


if __name__ == "__main__":
    main()
