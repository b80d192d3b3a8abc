"""Plan random nights through the public command and have every written list judged.

`python -m tests.support.recheck.sweep --seeds 1-300 --json found.json --processes 2` from a clone in which the package
is installed. Exit code 1 where anything is broken. This is the only file here that touches the package, and
only by its command line.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from tests.support.recheck.judge import judge_files
from tests.support.recheck.nights import random_night

NOTHING_TO_SCHEDULE = 3


def plan(request: dict[str, Any], folder: Path) -> tuple[int, str]:
    """Exit code and messages of the public command; the list lies in the folder `out`."""
    from typer.testing import CliRunner

    from optimizer.cli.app import app

    path = folder / "night.json"
    path.write_text(json.dumps(request), encoding="utf-8")
    result = CliRunner().invoke(app, ["plan", str(path), "--out", str(folder / "out")])
    return result.exit_code, result.output[-400:] if result.exit_code else ""


def list_of(request: dict[str, Any], folder: Path) -> Path:
    """The JSON that `plan` has written for a request."""
    return folder / "out" / f"night.{request['night']['evening']}.shots.json"


def one(seed: int, time_limit_s: float | None = None) -> dict[str, Any]:
    """One seed: planned (with its own limit of time, or that one), judged, told."""
    began = time.perf_counter()
    request = random_night(seed)
    if time_limit_s is not None:
        request["aim"]["time_limit_s"] = time_limit_s
    told: dict[str, Any] = {
        "seed": seed,
        "mode": "fork" if request["mount"].get("kind") == "fork" else request["mount"]["flip_by"],
    }
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "out").mkdir()
        code, words = plan(request, folder)
        told |= {"exit": code, "exposures": 0, "flips": 0, "steps": 0, "latest_starts": 0}
        told |= {"standing_before_flip": 0, "violations": []}
        if code == 0:
            found, looked = judge_files(list_of(request, folder))
            told |= looked
            told["violations"] = [each._asdict() for each in found]
        elif code != NOTHING_TO_SCHEDULE:
            told["violations"] = [{"rule": "exit", "step": 0, "detail": f"{code}: {words}"}]
    told["seconds"] = round(time.perf_counter() - began, 1)
    return told


def line(told: dict[str, Any]) -> str:
    """One seed in one line."""
    rules = sorted({each["rule"] for each in told["violations"]})
    broken = f"BROKEN {len(told['violations'])}: {', '.join(rules)}" if rules else "clean"
    return (
        f"seed {told['seed']:5} {told['mode']:5} exit {told['exit']}: {told['exposures']:4} exposures, "
        f"{told['flips']} flips, {told['latest_starts']:4} latest starts, {told['seconds']:5.1f} s, {broken}"
    )


def totals(nights: list[dict[str, Any]]) -> dict[str, int]:
    """What was looked at in all."""
    keys = ("exposures", "flips", "standing_before_flip", "steps", "latest_starts")
    sums = {key: sum(night[key] for night in nights) for key in keys}
    planned = sum(night["exit"] == 0 for night in nights)
    return {
        "nights": len(nights),
        "planned": planned,
        **sums,
        "violations": sum(len(night["violations"]) for night in nights),
    }


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", required=True, help="first-last")
    parser.add_argument("--json", type=Path, help="file for all that was found")
    parser.add_argument("--processes", type=int, choices=(1, 2), default=1)
    given = parser.parse_args(arguments)
    first, last = (int(part) for part in given.seeds.split("-"))
    seeds = range(first, last + 1)
    nights = []
    with multiprocessing.get_context("spawn").Pool(given.processes) as pool:
        for told in pool.imap(one, seeds):
            nights.append(told)
            print(line(told), flush=True)
            for each in told["violations"][:5]:
                print(f"    {each['rule']} step {each['step']}: {each['detail']}", flush=True)
    sums = totals(nights)
    print(", ".join(f"{key} {value}" for key, value in sums.items()))
    if given.json:
        given.json.write_text(json.dumps({"totals": sums, "nights": nights}, indent=1), encoding="utf-8")
    return 1 if sums["violations"] else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
