"""Small changes of one demo night, asked of its plan, and the same requests planned from nothing.

    python -m benchmarks.what_if [NIGHT] [--time-limit S]

Each target off, an hour clouded over at the begin of the night, and half an hour blocked in its middle. Both
ways stop at a proven gap of 1 %, or at the limit; compiled loops are warm. Compare within one run only.
Prints a table and keeps the raw figures as JSON under benchmarks/results/.
"""

from __future__ import annotations

import argparse
import datetime as dt
import statistics
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from benchmarks.plain_aim import PLAIN_AIM
from benchmarks.surroundings import keep, surroundings
from optimizer.models.request import Request
from optimizer.night import GAP, Night
from optimizer.reading.load import load_request

PLANS = Path(__file__).resolve().parents[1] / "plans"
LATER, BLOCKED = dt.timedelta(hours=1), dt.timedelta(minutes=30)


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("night", nargs="?", default="long-winter-night")
    arguments.add_argument(
        "--time-limit", type=float, default=20.0, help="seconds for each plan from nothing"
    )
    wanted = arguments.parse_args()
    request = load_request(PLANS / wanted.night / "request.toml").request
    night = Night(_within(request, wanted.time_limit))
    night.search(began=time.monotonic())
    runs = []
    for change, changed in changes(night):
        began = time.perf_counter()
        answer = night.ask(changed)
        asked_s = time.perf_counter() - began
        began = time.perf_counter()
        anew = Night(_within(changed, wanted.time_limit))
        anew.search(began=time.monotonic())
        anew_s = time.perf_counter() - began
        runs.append({"change": change, "asked": told(answer, asked_s), "anew": told(anew, anew_s)})
    print("\n".join(table(runs)))
    figures = {"night": wanted.night, **surroundings(("ortools", "astropy", "numpy")), "runs": runs}
    keep("what-if.json", figures)


def changes(night: Night) -> Iterator[tuple[str, Request]]:
    """Each change in words, and the request with it."""
    request = night.request
    for target in request.targets:
        yield f"without {target.name}", night.without_target(target.name)
    slots = night.problem.slots
    begin, end = min(slot.work[0] for slot in slots), max(slot.work[1] for slot in slots)
    dusk, middle = (night.sky.clock.utc(at) for at in (begin, (begin + end) // 2))
    for change, span in (
        ("an hour later", (dusk - LATER, dusk + LATER)),
        ("half an hour blocked", (middle, middle + BLOCKED)),
    ):
        blocked = (*request.night.blocked, span)
        yield (
            change,
            request.model_copy(update={"night": request.night.model_copy(update={"blocked": blocked})}),
        )


def told(answer: Night, seconds: float) -> dict[str, Any]:
    """Seconds, and what was proven."""
    return {"seconds": round(seconds, 3), "gap": round(answer.solution.gap, 6), "value": round(answer.value)}


def table(runs: list[dict[str, Any]]) -> list[str]:
    """One row a change, then the medians."""
    lines = ["| change | asked s | gap % | anew s | gap % | times faster |", "|---|---|---|---|---|---|"]
    ratios = [run["anew"]["seconds"] / run["asked"]["seconds"] for run in runs]
    for run, ratio in zip(runs, ratios, strict=True):
        cells = [f"{run[way]['seconds']:.2f} | {100 * run[way]['gap']:.2f}" for way in ("asked", "anew")]
        lines.append(f"| {run['change']} | {' | '.join(cells)} | {ratio:.1f} |")
    asked = [run["asked"]["seconds"] for run in runs]
    proven = sum(run["asked"]["gap"] <= GAP for run in runs)
    lines.append(
        f"\n{proven} of {len(runs)} answers within {100 * GAP:g} %; "
        f"{statistics.median(asked):.2f} s in the median, {max(asked):.2f} s at most; "
        f"{statistics.median(ratios):.1f} times faster than anew in the median"
    )
    return lines


def _within(request: Request, limit_s: float) -> Request:
    """To be planned to a proven 1 %, within so many seconds."""
    return request.model_copy(
        update={"aim": request.aim.model_copy(update={**PLAIN_AIM, "time_limit_s": limit_s, "gap": GAP})}
    )


if __name__ == "__main__":
    main()
