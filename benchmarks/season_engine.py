"""A season's nights prepared and priced by processes and by threads: seconds, memory, and the cache.

    python -m benchmarks.season_engine [--sizes 90x30 180x60] [--workers N] [--kinds processes threads]

For each size (nights x targets of five filters) and each kind of worker: seconds until all nights are
prepared with nothing kept, once the workers are there, and in a new process with everything kept; seconds of
a first pricing of all nights, which makes their graphs, and of a later one at other prices; the most memory
of the main process and of each worker so far. Then what the cache's file of SQLite takes for reads and writes
of values as large as a night's and an answer's, beside as many plain files. Prints tables and keeps the raw
figures as JSON.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from benchmarks.surroundings import keep, load, surroundings
from optimizer.season.desk import Desk

SIZES = ("90x30", "180x60")
ENTRIES, SHARE_LEFT = 500, 0.4
NIGHT_BYTES, ANSWER_BYTES = 150_000, 12_000  # before they are compressed


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--sizes", nargs="+", default=SIZES)
    arguments.add_argument("--kinds", nargs="+", default=["processes", "threads"])
    arguments.add_argument("--workers", type=int, default=2)
    arguments.add_argument("--value", default="hours")
    arguments.add_argument("--one", nargs=5, help=argparse.SUPPRESS)
    wanted = arguments.parse_args()
    if wanted.one:
        print(json.dumps(one_run(*wanted.one)))
        return
    figures: dict[str, Any] = {"workers": wanted.workers, **surroundings(("numba", "numpy"))}
    figures["runs"] = []
    print(HEAD)
    for size in wanted.sizes:
        for kind in wanted.kinds:
            with tempfile.TemporaryDirectory() as folder:
                for state in ("cold", "kept"):
                    run = in_a_process(size, kind, str(wanted.workers), folder, wanted.value)
                    figures["runs"].append({"size": size, "kind": kind, "cache": state, **run})
                    print(row(figures["runs"][-1]))
    figures["files"] = [
        beside_files(name, size) for name, size in (("night", NIGHT_BYTES), ("answer", ANSWER_BYTES))
    ]
    print("\n".join(f"{each}" for each in figures["files"]))
    keep("season-engine.json", {**figures, "load_after": load()})


HEAD = (
    "| nights x targets | workers | cache | prepared s | first pricing s | a later one s"
    " | main MB | workers MB | on disk MB |\n|---|---|---|---|---|---|---|---|---|"
)


def row(run: dict[str, Any]) -> str:
    """One run in words."""
    workers = ", ".join(f"{each:.0f}" for each in run["workers_mb"]) or "–"
    return (
        f"| {run['size']} | {run['kind']} | {run['cache']} | {run['prepared_s']:.1f} | {run['first_s']:.2f}"
        f" | {run['later_s']:.2f} | {run['main_mb']:.0f} | {workers} | {run['disk_mb']:.1f} |"
    )


def in_a_process(*arguments: str) -> dict[str, Any]:
    """One run in a process of its own, so that its memory is its own."""
    command = [sys.executable, "-m", "benchmarks.season_engine", "--one", *arguments]
    found = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
    return json.loads(found.stdout)  # type: ignore[no-any-return]


def one_run(size: str, kind: Any, workers: str, folder: str, value: Any) -> dict[str, Any]:
    """Prepare all nights and price them twice, at prices that no other run has asked for."""
    import numpy as np

    from benchmarks import season_engine  # jobs of `__main__` are not found by other processes
    from benchmarks.season_lists import season_request
    from optimizer.season.asked import evenings_of
    from optimizer.season.bound import priced
    from optimizer.season.desk import NightRef, blocks_of, only_rig
    from optimizer.season.engines.engine import engine_of
    from optimizer.season.pricing import Prices
    from optimizer.season.projects import projects_of

    nights, targets = map(int, size.split("x"))
    request = season_request(targets, nights, value=value)
    projects = projects_of(request)
    desk = Desk((only_rig(request, projects),), projects)
    blocks = blocks_of([NightRef(0, evening) for evening in evenings_of(request.season, request)])  # type: ignore[arg-type]
    count = len(projects.goals)
    seconds = []
    with engine_of(
        kind, int(workers), desk, Path(folder), tell=lambda told: print(told, file=sys.stderr)
    ) as engine:
        seed = time.time_ns()
        engine.run(season_engine.peak_mb, [((), seed + each) for each in range(int(workers))])  # they start
        for run in range(3):
            prices = Prices(np.ones(count), np.full(count, 10.0 * run + seed % 1000 / 1000))
            began = time.perf_counter()
            if run == 0:
                engine.run(season_engine.fetched, [(block, seed) for block in blocks])
            else:
                engine.run(priced, [(block, prices, 1) for block in blocks])
            seconds.append(time.perf_counter() - began)
        peaks = dict(engine.run(season_engine.peak_mb, [(block, seed) for block in blocks]))
    peaks.pop(os.getpid(), None)
    disk = sum(each.stat().st_size for each in Path(folder).iterdir()) / 1e6
    return {
        "prepared_s": round(seconds[0], 2),
        "first_s": round(seconds[1], 2),
        "later_s": round(seconds[2], 2),
        "main_mb": round(peak_mb(desk, (), 0)[1]),
        "workers_mb": [round(each) for each in peaks.values()],
        "disk_mb": round(disk, 2),
    }


def fetched(desk: Desk, refs: Any, seed: int) -> int:
    """Have nights ready. A job; the seed makes it another one in each run."""
    del seed
    return sum(len(desk.night(ref).problem.slots) for ref in refs)


def peak_mb(desk: Desk, refs: Any, seed: int) -> tuple[int, float]:
    """Which process it is and the most memory that it has had, in MB. A job."""
    import resource

    del desk, refs, seed
    unit = 1 if sys.platform == "darwin" else 1024
    return os.getpid(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6


def beside_files(name: str, size: int) -> dict[str, Any]:
    """Milliseconds of a write and a read by the cache, and by a plain file each, put in place whole."""
    from optimizer.season.kept.cache import Cache, packed, unpacked

    rng = random.Random(1)
    values = {}
    for number in range(ENTRIES):
        fresh = rng.randbytes(round(size * SHARE_LEFT / 5))
        values[hashlib.sha256(b"%d" % number).digest()] = (fresh * 12)[:size]
    with tempfile.TemporaryDirectory() as folder:
        cache, files = Cache(Path(folder) / "base", print), Path(folder) / "files"
        files.mkdir()

        def put_file(key: bytes, value: bytes) -> None:
            part = files / f"{key.hex()}.part"
            part.write_bytes(packed(key, value))
            part.replace(files / key.hex())

        def get_file(key: bytes) -> bytes | None:
            return unpacked(key, (files / key.hex()).read_bytes())

        found = {
            "value": name,
            "entries": ENTRIES,
            "base_put_ms": _each_ms(cache.put, values.items()),
            "files_put_ms": _each_ms(put_file, values.items()),
            "base_get_ms": _each_ms(cache.get, ((key,) for key in values)),
            "files_get_ms": _each_ms(get_file, ((key,) for key in values)),
        }
        assert all(cache.get(key) == get_file(key) == value for key, value in values.items())
        cache.close()
        found["base_mb"] = sum(each.stat().st_size for each in (Path(folder) / "base").iterdir()) / 1e6
        found["files_mb"] = sum(each.stat().st_size for each in files.iterdir()) / 1e6
    return found


def _each_ms(work: Callable[..., object], calls: Iterable[tuple[bytes, ...]]) -> float:
    began = time.perf_counter()
    for call in calls:
        work(*call)
    return round((time.perf_counter() - began) * 1000 / ENTRIES, 3)


if __name__ == "__main__":
    main()
