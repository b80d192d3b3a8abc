"""darkfill beside hand rules and other exact methods, on the same invented nights, all audited by darkfill.

    python -m benchmarks.compare [--nights 1,5-9] [--seeds 1-5] [--time-limit 10] [--planners darkfill ...]
    python -m benchmarks.compare --scale          3 to 60 targets: memory, first plan, gap at 60 s
    python -m benchmarks.compare --render         the tables again from the raw figures

`--parameters constraint_model=false,few_runs=100` changes darkfill's search (fields of `SearchParameters`);
`--workers 1` makes it deterministic: its seconds are then counted work, the same on every machine.

Each run has a process of its own. Raw figures go to benchmarks/results/NAME.json (date, commit, versions,
machine, load), one readable table to NAME.md; `--into NAME` chooses another name. Times hold for the machine
of that run only: compare within one run.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from benchmarks.compare_table import compare_text, scale_text
from benchmarks.parameters import changed_parameters
from benchmarks.surroundings import surroundings

HERE = Path(__file__).resolve().parent
RESULTS = HERE / "results"
HAND = ("heaviest weight first", "first to set first", "highest now")
EXACT = ("equal time slots", "circuit of runs")
DARKFILL = "darkfill"
PLANNERS = (DARKFILL, *HAND, *EXACT)
SEEDED = (DARKFILL, "circuit of runs")  # the others do the same whatever the seed
SCALE = ((3, 4), (8, 4), (20, 5), (40, 5), (60, 5))
SCALE_NIGHTS, SCALE_LIMIT_S = "1-3", 60.0
NIGHTS = 24


def main() -> None:
    wanted = _arguments()
    name = wanted.into or ("scale" if wanted.scale else "compare")
    path = RESULTS / f"{name}.json"
    if not wanted.render:
        raw = {
            "date": dt.datetime.now(dt.UTC).isoformat(timespec="seconds"),
            **surroundings(("ortools", "scipy", "numpy", "astropy")),
            "scale": wanted.scale,
            "command": _command(),
            "runs": [],
        }
        jobs = list(_jobs(wanted))
        for number, job in enumerate(jobs, 1):
            run = run_apart(job)
            raw["runs"].append(run)
            print(f"{number}/{len(jobs)} {_line(run)}", flush=True)
            path.write_text(raw_text(raw), encoding="utf-8")
    raw = json.loads(path.read_text(encoding="utf-8"))
    text = scale_text(raw) if raw["scale"] else compare_text(raw, HAND, EXACT)
    (RESULTS / f"{name}.md").write_text(text, encoding="utf-8")
    print(f"\n{text}")


def _arguments() -> argparse.Namespace:
    arguments = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    arguments.add_argument("--nights", type=numbers, help="such as 1,5-9; all 24 if not given")
    arguments.add_argument("--seeds", type=numbers, default=[1], help="such as 1-5")
    arguments.add_argument("--time-limit", type=float, help="seconds for darkfill: 10, with --scale 60")
    arguments.add_argument("--rival-time-limit", type=float, help="seconds for exact rivals; else the same")
    arguments.add_argument("--planners", nargs="*", choices=PLANNERS)
    arguments.add_argument("--value", default="hours", help="the request's aim.value")
    arguments.add_argument("--balance", type=float, default=0.0, help="the request's aim.balance")
    arguments.add_argument("--done", choices=("none", "uneven"), default="none", help="frames in hand before")
    arguments.add_argument("--size", default="8x4", help="targets x filters, such as 40x5")
    arguments.add_argument("--exposures", help="lengths between these, in seconds, such as 30-1200")
    arguments.add_argument("--long", action="store_true", help="winter nights of about 14 h")
    arguments.add_argument("--scale", action="store_true", help="grow the night instead of comparing")
    arguments.add_argument(
        "--parameters", type=changed_parameters, default={}, help="darkfill's, such as ties=false"
    )
    arguments.add_argument("--workers", type=int, default=0, help="darkfill's; 1 is deterministic")
    arguments.add_argument("--into", help="name of the files under benchmarks/results/")
    arguments.add_argument("--render", action="store_true", help="only make the table anew")
    return arguments.parse_args()


def numbers(text: str) -> list[int]:
    """Read numbers and spans of them: `1,5-7` is 1, 5, 6 and 7."""
    found: list[int] = []
    for part in text.split(","):
        first, _, last = part.partition("-")
        found.extend(range(int(first), int(last or first) + 1))
    return found


def _jobs(wanted: argparse.Namespace) -> Iterator[dict[str, Any]]:
    """Night by night, so that a change of load meets all planners alike."""
    targets, filters = (int(part) for part in wanted.size.split("x"))
    sizes = SCALE if wanted.scale else ((targets, filters),)
    nights = wanted.nights or (numbers(SCALE_NIGHTS) if wanted.scale else list(range(1, NIGHTS + 1)))
    limit_s = wanted.time_limit or (SCALE_LIMIT_S if wanted.scale else 10.0)
    planners = wanted.planners or (PLANNERS[:1] if wanted.scale else PLANNERS)
    if wanted.value != "hours" or wanted.balance > 0:  # the exact rivals' models count hours alone
        planners = [planner for planner in planners if planner not in EXACT]
    exposures_s = [float(part) for part in wanted.exposures.split("-")] if wanted.exposures else None
    own = {"workers": wanted.workers, "parameters": wanted.parameters}
    for targets, filters in sizes:
        size = {"targets": targets, "filters": filters, "exposures_s": exposures_s, "long_night": wanted.long}
        for night in nights:
            for planner in planners:
                for seed in wanted.seeds if planner in SEEDED else wanted.seeds[:1]:
                    own_s = (
                        wanted.rival_time_limit if planner in EXACT and wanted.rival_time_limit else limit_s
                    )
                    yield {
                        "night": night,
                        "size": size,
                        "planner": planner,
                        "seed": seed,
                        "time_limit_s": own_s,
                        "value": wanted.value,
                        "balance": wanted.balance,
                        "done": wanted.done,
                        **(own if planner == DARKFILL else {}),
                    }


def run_apart(job: dict[str, Any]) -> dict[str, Any]:
    """Do one run in a process of its own; what goes wrong is told, not hidden."""
    size = job["size"]
    failed = {**job, "size": f"{size['targets']}x{size['filters']}" + (" long" if size["long_night"] else "")}
    try:
        done = subprocess.run(
            [sys.executable, "-m", "benchmarks.one_run", json.dumps(job)],
            cwd=HERE.parent,
            capture_output=True,
            text=True,
            timeout=3 * job["time_limit_s"] + 120,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return {**failed, "failed": "did not end in three times its limit"}
    if done.returncode:
        lines = done.stderr.strip().splitlines()
        return {**failed, "failed": lines[-1] if lines else f"exit code {done.returncode}"}
    return {**failed, **json.loads(done.stdout.splitlines()[-1])}


def _line(run: dict[str, Any]) -> str:
    start = f"night {run['night']} {run['size']} {run['planner']} seed {run['seed']}:"
    if "failed" in run:
        return f"{start} FAILED: {run['failed']}"
    gap = f", gap {100 * run['gap']:.2f} %" if run.get("gap") is not None else ""
    proven = f", 1 % after {run['proven_s']:.1f} s" if run.get("proven_s") is not None else ""
    bad = f", BROKEN: {', '.join(run['violations'])}" if run["violations"] else ""
    return f"{start} {run['value']:.0f}{gap}, {run['seconds']:.1f} s{proven}, {run['peak_mib']:.0f} MiB{bad}"


def _command() -> str:
    return " ".join(["python -m benchmarks.compare", *sys.argv[1:]])


def raw_text(raw: dict[str, Any]) -> str:
    """Raw figures as JSON, one run a line: readable, and changes show as lines."""
    head = {key: value for key, value in raw.items() if key != "runs"}
    runs = ",\n".join(json.dumps(run) for run in raw["runs"])
    return json.dumps(head, indent=1)[:-2] + f',\n "runs": [\n{runs}\n]}}\n'


if __name__ == "__main__":
    main()
