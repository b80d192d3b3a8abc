"""Seasons of lists of 10 to 60 targets: how soon how near to the best their plans are proven.

    python -m benchmarks.season [--only 10x30,30x90] [--odds P] [--gap X] [--time-limit S] [--workers N]

Each season is planned from nothing, with a cache of its own that is thrown away. Of each: when the nights
were ready, when the bound stood and how far it was from the value of its mixture, when the first plans were
there, and where the season stood when it ended; the time includes the audit of all plans and what is told of
the weather. The table is kept as benchmarks/results/season.md, raw figures as season.json.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import resource
import time
from typing import Any

from benchmarks.season_lists import season_request
from benchmarks.surroundings import RESULTS, surroundings
from optimizer.season.progress import SeasonProgress
from optimizer.season.season import season_of

# targets, nights, value, balance; seconds
CASES: dict[str, tuple[int, int, Any, float, float]] = {
    "10x30": (10, 30, "hours", 0.0, 60.0),
    "30x90": (30, 90, "hours", 0.0, 180.0),
    "10x30 sets": (10, 30, "hours", 0.3, 120.0),
    "10x30 depth sets": (10, 30, "depth", 0.3, 180.0),
    "60x180": (60, 180, "hours", 0.0, 900.0),
}
HEAD = (
    "| targets x nights | by | balance | nights ready, s | bound, s | first plans, s | their gap, % |"
    " gap at the end, % | rounds | ended by | whole time, s | memory, MiB |"
)


def main() -> None:
    """Plan the seasons that are asked for and keep what came of it."""
    arguments = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    arguments.add_argument("--only", default="10x30,30x90,10x30 sets", help=", ".join(CASES))
    arguments.add_argument("--odds", type=float, default=0.3, help="of clear sky, each night")
    arguments.add_argument("--gap", type=float, default=0.001, help="at which a season ends")
    arguments.add_argument("--time-limit", type=float, help="seconds; by default as the case says")
    arguments.add_argument("--workers", type=int, default=2)
    wanted = arguments.parse_args()
    path = RESULTS / "season.json"
    runs = json.loads(path.read_text(encoding="utf-8"))["runs"] if path.exists() else {}
    for name in wanted.only.split(","):
        runs[name] = _run(name, wanted)
        print(_row(runs[name]), flush=True)
    raw = {
        "date": dt.datetime.now(dt.UTC).isoformat(timespec="seconds"),
        **surroundings(("ortools", "astropy", "numpy", "numba")),
        "runs": runs,
    }
    path.write_text(json.dumps(raw, indent=1) + "\n", encoding="utf-8")
    (RESULTS / "season.md").write_text(_table(runs), encoding="utf-8")


def _run(name: str, wanted: argparse.Namespace) -> dict[str, Any]:
    targets, nights, value, balance, limit_s = CASES[name]
    limit_s = wanted.time_limit or limit_s
    request = season_request(targets, nights, value, balance, wanted.odds)
    began, at = time.monotonic(), dict[str, float]()
    first_gap: list[float] = []

    def tell(progress: SeasonProgress) -> None:
        at[progress.phase] = time.monotonic() - began
        if progress.phase == "plans" and not first_gap and progress.gap is not None:
            first_gap.append(progress.gap)

    season = season_of(
        request, workers=wanted.workers, gap=wanted.gap, time_limit_s=limit_s, tell=tell, cache=None
    )
    own_kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    largest_kib = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    return {
        "case": name,
        "odds": wanted.odds,
        "workers": wanted.workers,
        "load": os.getloadavg()[0],
        "at_s": {phase: round(seconds, 2) for phase, seconds in at.items()},
        "first_gap": first_gap[0] if first_gap else None,
        "proof": season.proof.model_dump(),
        "whole_s": round(time.monotonic() - began, 2),
        "memory_mib": (own_kib + wanted.workers * largest_kib) // 1024,
    }


def _row(run: dict[str, Any]) -> str:
    targets, nights, value, balance, _ = CASES[run["case"]]
    at, proof = run["at_s"], run["proof"]
    first = "" if run["first_gap"] is None else f"{100 * run['first_gap']:.2f}"
    cells = [
        f"{targets} x {nights}",
        value,
        f"{balance:g}",
        *(f"{at.get(phase, 0):.1f}" for phase in ("nights", "bound", "plans")),
        first,
        f"{100 * proof['gap']:.2f}",
        str(proof["rounds"]),
        proof["ended"],
        f"{run['whole_s']:.0f}",
        str(run["memory_mib"]),
    ]
    return f"| {' | '.join(cells)} |"


def _table(runs: dict[str, dict[str, Any]]) -> str:
    lines = [
        "# Seasons: how soon how near to the best\n",
        "Made by `python -m benchmarks.season`; times from the start of the season on. The memory is that of"
        " the parent and of as many workers as the largest.",
        *("\n" + HEAD + "\n" + "|---" * 12 + "|",),
        *(_row(run) for run in runs.values()),
        "",
        "Odds and load of the machine as each ended: "
        + "; ".join(f"{name}: {run['odds']:g}, {run['load']:.1f}" for name, run in runs.items()),
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
