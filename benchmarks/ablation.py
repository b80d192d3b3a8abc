"""What each part of darkfill's search brings: the same nights with one part after the other switched off.

    python -m benchmarks.ablation [--nights 1-24] [--values hours depth] [--time-limit 10]
    python -m benchmarks.ablation --render        the tables again from the raw figures

One worker, so the seconds are counted work and every figure comes out the same on any machine. Raw figures go
to benchmarks/results/ablation.json, the tables to ablation.md; `--into NAME` chooses another name.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
from collections.abc import Iterator
from statistics import mean, median
from typing import Any

from benchmarks.compare import DARKFILL, NIGHTS, RESULTS, numbers, raw_text, run_apart
from benchmarks.parameters import SWITCHES
from benchmarks.surroundings import surroundings

Run = dict[str, Any]
NOTHING = "nothing"  # is switched off
VALUES = ("hours", "depth")
SIZE = {"targets": 8, "filters": 4, "exposures_s": None, "long_night": False}
MARGIN = 1e-9  # of rounding, where values are compared


def main() -> None:
    arguments = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    arguments.add_argument("--nights", type=numbers, default=list(range(1, NIGHTS + 1)), help="such as 1,5-9")
    arguments.add_argument("--values", nargs="*", choices=VALUES, default=VALUES, help="the aim.value")
    arguments.add_argument("--time-limit", type=float, default=10.0, help="seconds of counted work")
    arguments.add_argument("--into", default="ablation", help="name of the files under benchmarks/results/")
    arguments.add_argument("--render", action="store_true", help="only make the tables anew")
    wanted = arguments.parse_args()
    path = RESULTS / f"{wanted.into}.json"
    if not wanted.render:
        raw = {
            "date": dt.datetime.now(dt.UTC).isoformat(timespec="seconds"),
            **surroundings(("ortools", "numba", "numpy")),
            "time_limit_s": wanted.time_limit,
            "runs": [],
        }
        jobs = list(_jobs(wanted.nights, wanted.values, wanted.time_limit))
        for number, job in enumerate(jobs, 1):
            run = run_apart(job)
            raw["runs"].append({**run, "curve": [], "aim": job["value"]})
            print(
                f"{number}/{len(jobs)} by {job['value']}, night {job['night']}, without {off_in(job)}",
                flush=True,
            )
            path.write_text(raw_text(raw), encoding="utf-8")
    text = ablation_text(json.loads(path.read_text(encoding="utf-8")))
    path.with_suffix(".md").write_text(text, encoding="utf-8")
    print(f"\n{text}")


def _jobs(nights: list[int], values: list[str], time_limit_s: float) -> Iterator[dict[str, Any]]:
    """Night by night, so that a run that is broken off has something to compare."""
    for value in values:
        for night in nights:
            for off in (NOTHING, *SWITCHES):
                yield {
                    "night": night,
                    "size": SIZE,
                    "planner": DARKFILL,
                    "seed": 1,
                    "time_limit_s": time_limit_s,
                    "value": value,
                    "workers": 1,
                    "parameters": {} if off == NOTHING else {off: False},
                }


def off_in(run: Run) -> str:
    """Name the part that is switched off in a run."""
    return next(iter(run["parameters"]), NOTHING)


def ablation_text(raw: dict[str, Any]) -> str:
    """Make the page: one table for each value, one row for each part that was switched off."""
    lines = [
        "# What each part of the search brings",
        "",
        f"`python -m benchmarks.ablation` on {raw['date'][:10]} at commit {raw['commit']}: one part after",
        f"the other switched off, one worker, {raw['time_limit_s']:g} s of counted work a night. Value:",
        "change in % of what the whole search finds. Gap: change in points of (bound − value) / value,",
        "which a weaker bound widens as well as a weaker plan. Worst: the least value and the widest gap.",
        "",
    ]
    runs = [run for run in raw["runs"] if "failed" not in run and not run["violations"]]
    for aim in dict.fromkeys(run["aim"] for run in runs):
        lines += [*_table(aim, [run for run in runs if run["aim"] == aim]), ""]
    broken = len(raw["runs"]) - len(runs)
    lines.append(f"{broken} of {len(raw['runs'])} runs failed or broke a rule and are not counted.")
    return "\n".join(lines) + "\n"


def _table(aim: str, runs: list[Run]) -> list[str]:
    whole = {run["night"]: run for run in runs if off_in(run) == NOTHING}
    gaps = [100 * run["gap"] for run in whole.values()]
    lines = [
        f"By {aim}; the whole search on {len(whole)} nights: gap {median(gaps):.3f} % in the median, "
        f"{max(gaps):.3f} % at worst."
        if gaps
        else f"By {aim}: the whole search has no run.",
        "",
        "| without | nights | worse | better | value % median | mean | worst "
        "| gap points median | mean | worst |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for off in SWITCHES:
        pairs = [(whole[run["night"]], run) for run in runs if off_in(run) == off and run["night"] in whole]
        if not pairs:
            continue
        values = [100 * (run["value"] / own["value"] - 1) for own, run in pairs if own["value"]]
        points = [100 * (run["gap"] - own["gap"]) for own, run in pairs]
        worse = sum(change < -MARGIN for change in values)
        better = sum(change > MARGIN for change in values)
        cells = [off, str(len(pairs)), str(worse), str(better)]
        cells += [f"{how(values):+.3f}" for how in (median, mean, min)] if values else ["-"] * 3
        cells += [f"{how(points):+.3f}" for how in (median, mean, max)]
        lines.append(f"| {' | '.join(cells)} |")
    return lines


if __name__ == "__main__":
    main()
