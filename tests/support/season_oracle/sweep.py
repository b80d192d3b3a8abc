"""Many tiny seasons, one line of JSON each: `python -m tests.support.season_oracle.sweep --seeds 0-199`.

With `--rigs 2` they are seasons of two rigs, which share goals, parts of filter sets, or nothing. Each is held against all that its nights can bring: bounds, what can be expected, the plans, their steps. It
ends with exit code 1 if anything was wrong, or if so many seasons left a part of the law out of play.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from typing import Any

from tests.support.season_oracle import pair as of_pair
from tests.support.season_oracle.faults import broken_by, faults_of, steps_laid
from tests.support.season_oracle.judge import TinySeason, features
from tests.support.season_oracle.pair import TinyPair

PLAYED = (
    "something to do", "four nights", "odds below 1", "odds of 1 alone", "a night without odds",
    "frames are scarce", "by depth", "set", "set by depth", "goal beside a set", "nearly whole", "whole",
    "weights", "flips", "quiet time", "focus cadence", "a night without dark",
)  # fmt: skip
MANY = 40  # seasons, of which each of these is to be seen in one at least


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
    with steps_laid() as laid:
        planned = season.planned(rounds=rounds)
    told |= {
        "value": planned.proof.value,
        "bound": planned.proof.bound,
        "gap": planned.proof.gap,
        "ended": planned.proof.ended,
    }
    told["features"] = sorted(features(season))
    told["wrong"] = wrong_of(told) + faults_of(season, planned) + [str(each) for each in broken_by(laid)]
    told["seconds"] = round(time.perf_counter() - began, 2)
    return told


def judged_pair(seed: int, rounds: int | None = None) -> dict[str, Any]:
    """All that is said of a season of two rigs, and the truth."""
    began, pair = time.perf_counter(), TinyPair.of(seed)
    told: dict[str, Any] = {"seed": seed, "best": float(pair.best.value_s), "most": pair.most_s}
    told["oracle_s"] = round(time.perf_counter() - began, 2)
    with steps_laid() as laid:
        planned = pair.planned(rounds=rounds)
    broken = [str(each) for each in broken_by(laid)]
    told |= planned.proof.model_dump(include={"value", "bound", "gap", "ended"})
    told["features"] = sorted(of_pair.features(pair))
    told["wrong"] = of_pair.faults_of(pair, planned) + broken
    told["wrong"] += of_pair.faults_beside_one(pair, planned, rounds)
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
    parser.add_argument("--rigs", type=int, choices=(1, 2), default=1)
    parser.add_argument("--rounds", type=int, help="of planning anew; without, until they bring nothing more")
    asked = parser.parse_args()
    first, _, last = asked.seeds.partition("-")
    seeds, seen, wrong = range(int(first), int(last or first) + 1), Counter[str](), 0
    for seed in seeds:
        try:
            told = (judged, judged_pair)[asked.rigs - 1](seed, asked.rounds)
        except Exception as fault:  # every fault is told, with its seed
            told = {"seed": seed, "wrong": [f"{type(fault).__name__}: {fault}"]}
        json.dump(told, sys.stdout)
        print(flush=True)
        seen.update(told.get("features", ()))
        wrong += bool(told["wrong"])
    played = (PLAYED, of_pair.PLAYED)[asked.rigs - 1]
    missing = [each for each in played if not seen[each]] if len(seeds) >= MANY else []
    if wrong or missing:
        raise SystemExit(f"{wrong} seasons with something wrong; no season has: {', '.join(missing) or '-'}")


if __name__ == "__main__":
    main()
