"""Many tiny seasons, one line of JSON each: `python -m tests.support.season_oracle.sweep --seeds 0-199`."""

from __future__ import annotations

import argparse
import json
import sys
import time
from typing import Any

from tests.support.season_oracle.judge import TinySeason, features


def judged(seed: int, rounds: int | None = None) -> dict[str, Any]:
    """All that is said of a season, and the truth."""
    began, season = time.perf_counter(), TinySeason.of(seed)
    told: dict[str, Any] = {
        "seed": seed,
        "best": float(season.best.value_s),
        "most": season.most_s,
        "oracle_s": round(time.perf_counter() - began, 2),
    }
    told["bounds"] = season.bounds()
    told["at_random"] = min(season.bounds_at_random(seed))
    told["expected"] = {name: float(value) for name, value in season.foreseen().items()}
    planned = season.planned(rounds=rounds)
    told |= {
        "value": planned.proof.value,
        "bound": planned.proof.bound,
        "gap": planned.proof.gap,
        "ended": planned.proof.ended,
    }
    told["features"] = sorted(features(season))
    told["wrong"] = wrong_of(told)
    told["seconds"] = round(time.perf_counter() - began, 2)
    return told


def wrong_of(told: dict[str, Any]) -> list[str]:
    """What of it cannot be."""
    best, wrong = told["best"] * (1 - 1e-12), []
    wrong += [f"bound {each}" for each in told["bounds"] if each < best]
    wrong += ["bound at random prices"] if told["at_random"] < best else []
    wrong += ["bound told"] if told["bound"] < best else []
    wrong += [name for name, value in told["expected"].items() if min(told["bounds"]) < value * (1 - 1e-12)]
    wrong += ["value"] if told["value"] > told["most"] * (1 + 1e-9) + 1e-6 else []
    wrong += ["no gap"] if told["gap"] <= 0 and told["value"] < told["best"] - 1.1e-3 else []
    return wrong


def main() -> None:
    """Print a line for each season."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="0-199")
    parser.add_argument("--rounds", type=int, help="of planning anew; without, until they bring nothing more")
    asked = parser.parse_args()
    first, _, last = asked.seeds.partition("-")
    for seed in range(int(first), int(last or first) + 1):
        try:
            told = judged(seed, asked.rounds)
        except Exception as fault:  # every fault is told, with its seed
            told = {"seed": seed, "wrong": [f"{type(fault).__name__}: {fault}"]}
        json.dump(told, sys.stdout)
        print(flush=True)


if __name__ == "__main__":
    main()
