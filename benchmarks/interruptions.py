"""Ctrl-C at random moments of `darkfill plan`, once and twice: is a plan ever lost, halved or kept unsaid?

    python -m benchmarks.interruptions [--here N] [--processes N] [--seed S]

Each run plans a small night with a second of search and a page, in this process or in one of its own, and is
interrupted at a moment drawn evenly from a whole run's time, in half of the runs a second time soon after. It
is right if JSON and CSV are whole, equal and both told of with code 0, or if there was no plan yet, nothing
was written and code 130 says so.
"""

from __future__ import annotations

import argparse
import contextlib
import datetime as dt
import io
import json
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from benchmarks.plain_aim import PLAIN_AIM_LINES

EVENING = dt.date(2026, 11, 14)
NIGHT = f"""\
schema = "darkfill-request/1"
[night]
evening = {EVENING}
ut1_utc_s = 0.0
[site]
latitude_deg = 38.92
longitude_deg = -3.11
floor_deg = 25
[mount]
contact_min = 40
clearance_min = 12
[focus]
every_min = 75
[aim]
gap = 0.0
time_limit_s = 1.0
"""
NIGHT += PLAIN_AIM_LINES
FILTER = '[[filters]]\nname = "{}"\n'
TARGET = '[[targets]]\nname = "T{}"\nra_deg = {}\ndec_deg = {}\n'
GOAL = '[[targets.goals]]\nfilter = "{}"\nexposure_s = {}\nframes = 60\n'
FILTERS = "LRG"
SECOND_S = 0.6  # at most, between the first Ctrl-C and the second
# As the console script does it; the mark says that there is a plan.
PROCESS = """
import sys
from pathlib import Path
from optimizer.cli import progress
right, mark = progress.Teller.tell, Path(sys.argv.pop(1))
def tell(*args):
    mark.touch()
    right(*args)
progress.Teller.tell = tell
from optimizer.cli.app import main
main()
"""


@dataclass
class Ended:
    """How a run ended, and whether there was a plan at some time."""

    code: object
    told: str
    planned: bool


def write_request(folder: Path) -> Path:
    parts = [NIGHT, *(FILTER.format(name) for name in FILTERS)]
    for number in range(6):
        parts.append(TARGET.format(number, 10 + 25 * number, 20 + 5 * number))
        parts += [GOAL.format(name, 120 + 60 * (number % 3)) for name in FILTERS]
    path = folder / "night.toml"
    path.write_text("".join(parts), encoding="utf-8")
    return path


def here(path: Path, moments: list[float]) -> Ended:
    """In this process; the signal goes to the main thread, as a terminal's does."""
    from optimizer.cli import progress
    from optimizer.cli.app import app

    planned, main = threading.Event(), threading.main_thread().ident
    right = progress.Teller.tell

    def tell(self: progress.Teller, seconds: float, value_s: float, bound_s: float) -> None:
        planned.set()
        right(self, seconds, value_s, bound_s)

    progress.Teller.tell = tell  # type: ignore[method-assign]
    code: object = None
    err = io.StringIO()
    assert main is not None
    timers = [threading.Timer(after, signal.pthread_kill, (main, signal.SIGINT)) for after in moments]
    try:
        for timer in timers:
            timer.start()
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(err):
            app(["plan", str(path), "--page"])
    except SystemExit as end:
        code = end.code
    except BaseException as error:
        code = repr(error)
    progress.Teller.tell = right  # type: ignore[method-assign]
    while any(timer.is_alive() for timer in timers):
        with contextlib.suppress(KeyboardInterrupt):
            time.sleep(0.02)
    return Ended(code, err.getvalue(), planned.is_set())


def apart(path: Path, moments: list[float]) -> Ended:
    """In a process of its own."""
    mark = path.with_suffix(".mark")
    process = subprocess.Popen(
        [sys.executable, "-c", PROCESS, str(mark), "plan", str(path), "--page"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    timers = [threading.Timer(after, process.send_signal, (signal.SIGINT,)) for after in moments]
    for timer in timers:
        timer.start()
    told = process.communicate()[1]
    for timer in timers:
        timer.cancel()
    return Ended(process.returncode, told, mark.exists())


def judged(path: Path, ended: Ended) -> str:
    """`kept`, `no plan yet`, or what is wrong."""
    from optimizer.export.shot_files import night_name, read_shots, shot_paths

    paths = shot_paths(path.parent, night_name(path, EVENING))
    there = [each for each in paths if each.exists()]
    if list(path.parent.glob(".darkfill-*")):
        return "LOST: files on their way were left"
    if not there:
        # a process that is still loading Python itself is ended by the signal
        stopped = (ended.code == 130 and "stopped; nothing was written" in ended.told) or ended.code == -2
        if ended.planned:
            return f"LOST: there was a plan (code {ended.code})"
        return "no plan yet" if stopped else f"LOST: no plan yet, code {ended.code}: {ended.told[-200:]}"
    if len(there) == 1:
        return "LOST: half of the list"
    lists = [read_shots(each) for each in paths]
    if lists[0].steps != lists[1].steps or lists[0].shots is None or lists[0].shots.audit_report.violations:
        return "LOST: JSON and CSV differ, or broken rules"
    if ended.code != 0 or not all(f"wrote {each}\n" in ended.told for each in paths):
        return f"LOST: written, but code {ended.code} and told: {ended.told[-200:]!r}"
    return "kept"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--here", type=int, default=200, help="runs in this process")
    parser.add_argument("--processes", type=int, default=40, help="runs in processes of their own")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    chance = random.Random(args.seed)
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background jobs are deaf to it
    found: dict[str, Counter[str]] = {}
    for name, way, runs in (("here", here, args.here), ("process", apart, args.processes)):
        whole_s = 0.0
        for run in range(-2, runs):  # two to warm up and to measure a whole run
            folder = Path(tempfile.mkdtemp())
            path = write_request(folder)
            first = chance.uniform(0.0, whole_s)
            moments = [first, first + chance.uniform(0.0, SECOND_S)][: 1 + run % 2] if run >= 0 else []
            began = time.monotonic()
            outcome = judged(path, way(path, moments))
            if run < 0:
                assert outcome == "kept", outcome
                whole_s = time.monotonic() - began
            else:
                found.setdefault(f"{name}, {'twice' if run % 2 else 'once'}", Counter())[outcome] += 1
            shutil.rmtree(folder)
        print(f"{name}: a whole run takes {whole_s:.1f} s", flush=True)
    print(json.dumps(found, indent=1))
    lost = sum(count for each in found.values() for outcome, count in each.items() if "LOST" in outcome)
    print(f"lost: {lost} of {sum(each.total() for each in found.values())}")


if __name__ == "__main__":
    main()
