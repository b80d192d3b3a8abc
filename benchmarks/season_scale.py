"""Seasons of more and more simulated rigs on a cluster of two workers: seconds, memory, and what is sent.

    python -m benchmarks.season_scale [--rigs N ...] [--nights N] [--targets N] [--workers N] [--engine dask]

Rigs stand a degree or more apart, so that each has a sky and a weather of its own, and each wants some
targets of five filters out of one list, so that neighbours share half of theirs and all are coupled. For each
phase of the season it tells seconds and the processor's time of the main process and of the workers; then the
tasks of each job, the bytes that go there and come back, and the most memory of each process. Figures are
kept as JSON.
"""

from __future__ import annotations

import argparse
import pickle
import tempfile
import threading
import time
from collections import defaultdict
from pathlib import Path
from typing import Any

from benchmarks.season_lists import OBJECTS, season_data, wanted_of
from benchmarks.surroundings import keep, load, surroundings
from optimizer.models.request import Request
from optimizer.reading.load import request_from_data
from optimizer.season.engines.cluster_crew import Crew
from optimizer.season.engines.cluster_worker import delivered, do
from optimizer.season.progress import SeasonProgress

LEAST_LATITUDE_DEG, LATITUDES = 30.0, 20
LOOK_S = 0.5  # between two looks at memory and processor time


def main() -> None:
    """Plan a season of each number of rigs."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--rigs", type=int, nargs="+", default=[2, 4, 8])
    arguments.add_argument("--nights", type=int, default=30)
    arguments.add_argument("--targets", type=int, default=10)
    arguments.add_argument("--workers", type=int, default=2)
    arguments.add_argument("--engine", default="dask")
    arguments.add_argument("--rounds", type=int, default=1)
    wanted = arguments.parse_args()
    figures: dict[str, Any] = {**vars(wanted), **surroundings(("distributed", "numba", "numpy"))}
    figures["runs"] = []
    for count in wanted.rigs:
        run = one_run(count, wanted)
        figures["runs"].append(run)
        print(words(run), flush=True)
        keep("season-scale.json", {**figures, "load_after": load()})


def rigs_of(count: int, nights: int, targets: int) -> list[Request]:
    """The requests of so many rigs."""
    found = []
    for number in range(count):
        data = season_data(0, nights)
        first = number * (targets // 2)
        data["targets"] = [wanted_of((first + each) % len(OBJECTS)).target() for each in range(targets)]
        data["rig"] = f"rig {number + 1}"
        data["site"] = {
            **data["site"],
            "latitude_deg": LEAST_LATITUDE_DEG + number % LATITUDES,
            "longitude_deg": data["site"]["longitude_deg"] + number // LATITUDES,
        }
        found.append(request_from_data(data, data["rig"]))
    return found


class _Watch(threading.Thread):
    """Processor time and memory of this process and of all that it has started, by phase."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        import psutil

        self._main = psutil.Process()
        self._gone: type[Exception] = psutil.Error
        self._over = threading.Event()
        self._cpu: dict[int, float] = {}
        self.most_mb: dict[str, float] = {"main": 0.0, "worker": 0.0}
        self.phase, self.phases = "start", defaultdict[str, list[float]](lambda: [0.0, 0.0, 0.0])
        self._at = self.look()

    def run(self) -> None:
        while not self._over.wait(LOOK_S):
            self.look()

    def look(self) -> tuple[float, float, float]:
        """The time, and the processor's time of the main process and of all others so far."""
        for process in (self._main, *self._main.children(recursive=True)):
            try:
                cpu, memory_mb = process.cpu_times(), process.memory_info().rss / 1e6
            except self._gone:
                continue
            self._cpu[process.pid] = cpu.user + cpu.system
            who = "main" if process.pid == self._main.pid else "worker"
            self.most_mb[who] = max(self.most_mb[who], memory_mb)
        main = self._cpu[self._main.pid]
        return time.monotonic(), main, sum(self._cpu.values()) - main

    def tell(self, progress: SeasonProgress) -> None:
        """Hear how far the season is."""
        if progress.phase != self.phase:
            self.turn(progress.phase)

    def turn(self, phase: str) -> None:
        """Count what has gone by to the phase that ends."""
        now = self.look()
        for place, (later, sooner) in enumerate(zip(now, self._at, strict=True)):
            self.phases[self.phase][place] += later - sooner
        self._at, self.phase = now, phase

    def end(self) -> None:
        self.turn("end")
        self._over.set()
        self.join()


def one_run(count: int, wanted: argparse.Namespace) -> dict[str, Any]:
    """Plan the season of so many rigs with nothing kept."""
    from optimizer import season

    watch, tasks = _Watch(), defaultdict[str, list[int]](lambda: [0, 0, 0])
    asked = Crew._at

    async def counted(self: Crew, member: Any, function: Any, *arguments: Any) -> Any:
        answer = await asked(self, member, function, *arguments)
        if function is do:
            job = tasks[pickle.loads(delivered(arguments[-1]))[0].__name__]
            for place, amount in enumerate((1, len(arguments[-1]), len(answer[0]))):
                job[place] += amount
        return answer

    Crew._at = counted  # type: ignore[method-assign]
    try:
        with tempfile.TemporaryDirectory() as folder:
            rigs = rigs_of(count, wanted.nights, wanted.targets)
            watch.start()
            found = season(
                rigs,
                engine=wanted.engine,
                workers=wanted.workers,
                gap=0.0,
                rounds=wanted.rounds,
                cache=folder,
                tell=watch.tell,
                say=print,
            )
            watch.end()
            disk_mb = sum(each.stat().st_size for each in Path(folder).iterdir()) / 1e6
    finally:
        Crew._at = asked  # type: ignore[method-assign]
    return {
        "rigs": count,
        "nights": wanted.nights,
        "targets": wanted.targets,
        "gap": found.proof.gap,
        "value_h": round(found.proof.value / 3600, 1),
        "phases_s_main_cpu_s_workers_cpu_s": {
            phase: [round(each, 2) for each in seconds] for phase, seconds in watch.phases.items()
        },
        "most_mb": {who: round(most) for who, most in watch.most_mb.items()},
        "tasks_bytes_there_bytes_back": dict(tasks),
        "disk_mb": round(disk_mb, 1),
        "file_bytes": len(found.file.model_dump_json()),
    }


def words(run: dict[str, Any]) -> str:
    """A run in words."""
    phases = run["phases_s_main_cpu_s_workers_cpu_s"]
    total = [sum(seconds[place] for seconds in phases.values()) for place in range(3)]
    lines = [
        f"{run['rigs']} rigs x {run['nights']} nights x {run['targets']} targets: {total[0]:.0f} s, processor"
        f" {total[1]:.0f} s main and {total[2]:.0f} s workers; {run['most_mb']['main']} MB main,"
        f" {run['most_mb']['worker']} MB a worker at most; gap {100 * run['gap']:.1f} %;"
        f" {run['disk_mb']} MB on disk",
        *(f"  {phase}: {s:.1f} s, main {m:.1f}, workers {w:.1f}" for phase, (s, m, w) in phases.items()),
        *(
            f"  {job}: {number} tasks, {there / 1e6:.2f} MB there, {back / 1e6:.2f} MB back"
            for job, (number, there, back) in run["tasks_bytes_there_bytes_back"].items()
        ),
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    main()
