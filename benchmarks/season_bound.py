"""How soon the bound of a season is good, and how good its first pricing is: by hours and by depth.

    python -m benchmarks.season_bound [--season NIGHTSxTARGETS ...] [--value hours|depth] [--balance B ...]
                                      [--odds P ...] [--workers N] [--within 0.003] [--most-s SECONDS]

For each season: what is wanted, the bound of the first pricing at the prices of the programme of hours, and
when the bound first was within a share of where it ended (if that is where it settled: the converged linear
programme); seconds are counted from when all nights are prepared, with one worker in the program itself or
several in processes. Also the most memory of the main process so far.
"""

from __future__ import annotations

import argparse
import contextlib
import resource
import tempfile
import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Literal

from benchmarks.season_lists import season_request
from optimizer.season.asked import evenings_of
from optimizer.season.bound import season_bounds
from optimizer.season.desk import Desk, Engine, Inline, NightRef, blocks_of, only_rig
from optimizer.season.engines.engine import engine_of
from optimizer.season.projects import projects_of
from optimizer.season.summary import summarised

HOUR_S = 3600.0


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--season", nargs="+", default=["30x10", "90x30"])
    arguments.add_argument("--value", choices=["hours", "depth"], default="hours")
    arguments.add_argument("--balance", type=float, nargs="+", default=[0.0, 0.3])
    arguments.add_argument("--odds", type=Fraction, nargs="+", default=[Fraction(1, 4)])
    arguments.add_argument("--workers", type=int, default=2)
    arguments.add_argument("--within", type=float, default=0.003)
    arguments.add_argument("--most-s", type=float, default=300.0, help="seconds for the rounds of one season")
    asked = arguments.parse_args()
    print("season  balance odds wanted_h first_h first_s within_s rounds last_h mixture_h all_s peak_mb")
    for name in asked.season:
        for balance in asked.balance:
            for odds in asked.odds:
                nights, targets = map(int, name.split("x"))
                line = _line(targets, nights, asked.value, balance, odds, asked)
                print(f"{name:7} {balance:7.1f} {float(odds):4.2f} {line}", flush=True)


def _line(
    targets: int,
    nights: int,
    value: Literal["hours", "depth"],
    balance: float,
    odds: Fraction,
    asked: argparse.Namespace,
) -> str:
    request = season_request(targets, nights, value, balance)
    assert request.season is not None
    projects = projects_of(request)
    desk = Desk((only_rig(request, projects),), projects)
    refs = [NightRef(0, evening) for evening in evenings_of(request.season, request)]
    with _engine(desk, asked.workers) as engine:
        engine.run(summarised, [(block,) for block in blocks_of(refs)])
        began, found = time.monotonic(), list[tuple[float, float, float]]()
        for bound in season_bounds(desk, refs, [odds] * nights, engine):
            seconds = time.monotonic() - began
            found.append((seconds, bound.bound_s / HOUR_S, bound.lp_value_s / HOUR_S))
            if seconds > asked.most_s:
                break
    last_s, last_h, mixture_h = found[-1]
    within_s = next(seconds for seconds, bound_h, _ in found if bound_h <= last_h * (1 + asked.within))
    wanted_h = float(projects.frames_s @ projects.left) / HOUR_S
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return (
        f"{wanted_h:8.2f} {found[0][1]:7.2f} {found[0][0]:7.1f} {within_s:8.1f} {len(found):6}"
        f" {last_h:6.2f} {mixture_h:9.2f} {last_s:5.1f} {peak_mb:7.0f}"
    )


@contextlib.contextmanager
def _engine(desk: Desk, workers: int) -> Iterator[Engine]:
    """Nothing is kept from one season to the next."""
    if workers == 1:
        yield Inline(desk)
        return
    with (
        tempfile.TemporaryDirectory() as folder,
        engine_of("processes", workers, desk, Path(folder)) as engine,
    ):
        yield engine


if __name__ == "__main__":
    main()
