"""Quality and time of planning the demo nights, stage by stage, in one run.

    python -m benchmarks.run [--repeat N] [--time-limit S] [PLAN ...]

Prints one table and keeps the raw figures as JSON under benchmarks/results/ (date, commit, versions,
machine). Times are wall clock and hold for the machine of that run only; compare columns and rows of one run.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import statistics
import time
from pathlib import Path
from typing import Any

from benchmarks.plain_aim import PLAIN_AIM
from benchmarks.surroundings import keep, surroundings
from optimizer.ahead import scarcity_of
from optimizer.audit import audit_steps
from optimizer.packing.schedule import profit_of
from optimizer.packing.search.construct import constructed
from optimizer.packing.solve import solve
from optimizer.problem import build_problem
from optimizer.reading.load import LoadedRequest, load_request
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows
from optimizer.timeline.steps import build_steps

PLANS = Path(__file__).resolve().parents[1] / "plans"
CHECKPOINTS_S = (1.0, 3.0, 10.0)


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("plans", nargs="*", default=sorted(path.name for path in PLANS.iterdir()))
    arguments.add_argument("--repeat", type=int, default=1)
    arguments.add_argument("--time-limit", type=float, default=20.0)
    wanted = arguments.parse_args()
    runs = []
    for name in wanted.plans:
        for repeat in range(wanted.repeat):
            runs.append(measure(name, wanted.time_limit, seed=1 + repeat))
            print(json.dumps(runs[-1]), flush=True)
    print()
    print(table(runs))
    figures = {**surroundings(("ortools", "astropy", "numpy", "pyerfa")), "runs": runs}
    keep(f"{dt.datetime.now(dt.UTC):%Y-%m-%d-%H%M}-demo-nights.json", figures)


def measure(name: str, time_limit_s: float, seed: int) -> dict[str, Any]:
    """Plan one night once; seconds by stage, value over time, proof."""
    loaded = load_request(PLANS / name / "request.toml")
    aim = loaded.request.aim.model_copy(update={**PLAIN_AIM, "time_limit_s": time_limit_s, "seed": seed})
    request = loaded.request.model_copy(update={"aim": aim})
    loaded = LoadedRequest(request, loaded.warnings, loaded.sha256)
    began = time.perf_counter()
    sky = night_sky(request)
    windows = sky_windows(request, sky)
    windows_s = time.perf_counter() - began
    problem = build_problem(request, windows, scarcity_of(request, sky).factors(request))
    first = problem.weighted_seconds(profit_of(problem, constructed(problem)))
    first_s = time.perf_counter() - began
    curve: list[tuple[float, float, float]] = []
    solution = solve(problem, lambda seconds, value, bound: curve.append((seconds, value, bound)))
    steps = build_steps(request, sky, windows, problem, solution.schedule.visits)
    audit_began = time.perf_counter()
    report = audit_steps(request, steps)
    audit_s = time.perf_counter() - audit_began
    return {
        "night": name,
        "seed": seed,
        "slots": len(problem.slots),
        "windows_s": round(windows_s, 4),
        "first_plan_s": round(first_s, 4),
        "first_plan_value": first,
        "value_at": {f"{at:g}": max([first, *(v for s, v, _ in curve if s <= at)]) for at in CHECKPOINTS_S},
        "solve_s": round(solution.seconds, 3),
        "value": problem.weighted_seconds(solution.profit),
        "bound": problem.weighted_seconds(solution.bound),
        "gap": round(solution.gap, 6),
        "status": solution.status,
        "steps": len(steps),
        "audit_s": round(audit_s, 3),
        "violations": len(report.violations),
    }


def table(runs: list[dict[str, Any]]) -> str:
    """One row a night, medians over the repeats; values as shares of the final bound."""
    lines = [
        "| night | runs | windows s | first plan s | share of the bound: first plan | 1 s | 3 s | 10 s "
        "| end | gap % median | gap % worst | solve s | audit s |",
        "|---|---|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    for name in dict.fromkeys(run["night"] for run in runs):
        mine = [run for run in runs if run["night"] == name]

        def median(key: str, mine: list[dict[str, Any]] = mine) -> float:
            return float(statistics.median(run[key] for run in mine))

        def share(values: list[float], mine: list[dict[str, Any]] = mine) -> str:
            parts = [v / run["bound"] for v, run in zip(values, mine, strict=True) if run["bound"]]
            return f"{statistics.median(parts):.3f}" if parts else "-"

        shares = [share([run["first_plan_value"] for run in mine])]
        shares += [share([run["value_at"][f"{at:g}"] for run in mine]) for at in CHECKPOINTS_S]
        shares.append(share([run["value"] for run in mine]))
        lines.append(
            f"| {name} | {len(mine)} | {median('windows_s'):.3f} | {median('first_plan_s'):.3f} | "
            + " | ".join(shares)
            + f" | {100 * median('gap'):.2f} | {100 * max(run['gap'] for run in mine):.2f} | "
            f"{median('solve_s'):.1f} | {median('audit_s'):.2f} |"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    main()
