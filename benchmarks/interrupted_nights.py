"""Nights that are interrupted at random: is the new list lawful with what was done, and never worse?

    python -m benchmarks.interrupted_nights [--interruptions N] [--first SEED] [--limit S]

Takes the stored lists of `plans/` in turn and interrupts each at a random instant: as planned, by cloud, with
subs lost, on the wrong pier side, late, parked. Each new list is audited by itself and together with what was
done, and its value is held against the older list's steps that could still be taken as they stand, added up
by the audit's own route.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from optimizer.audit import audit_steps
from optimizer.audit.scene import Scene
from optimizer.audit.values import factors_of
from optimizer.audit.worth import worth_of
from optimizer.errors import InputError
from optimizer.export.shot_files import read_shots
from optimizer.models.shots import ShotList, Step
from optimizer.replan import Rest, Told, rest_of
from optimizer.replan.standing import shutter_closes

HERE = Path(__file__).resolve().parent
PLANS = HERE.parent / "plans"
NIGHTS = ("first-night", "long-winter-night", "short-summer-night")
KINDS = ("as planned", "cloud", "lost subs", "wrong side", "late", "parked", "less wanted")
ARRIVES = ("slew", "flip")
MINUTE = dt.timedelta(minutes=1)
# what a list that was cut breaks as a list of its own, and what is only told of it as it was planned
OF_THE_CUT = ("contiguous", "latest_start", "columns", "least_visit", "begins")
HAIR_S = 2.0  # by which a slew of later on may be longer, as the sky has turned on


@dataclass(frozen=True)
class Interrupted:
    """One interruption: which list, what kind, what is told."""

    night: str
    kind: str
    told: Told


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--interruptions", type=int, default=500)
    arguments.add_argument("--first", type=int, default=0)
    arguments.add_argument("--limit", type=float, default=1.0, help="seconds of search for each")
    wanted = arguments.parse_args()
    counts: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    seeds = range(wanted.first, wanted.first + wanted.interruptions)
    for seed in seeds:
        each = interruption(seed)
        found, words = judged(each, wanted.limit)
        counts[each.kind].update(found)
        if words:
            print(f"seed {seed}, {each.night}, {each.kind}, {each.told}: {'; '.join(words)}", flush=True)
    print(table(counts))
    raw = {"date": dt.datetime.now(dt.UTC).isoformat(timespec="seconds"), "limit_s": wanted.limit, **counts}
    results = HERE / "results"
    (results / "interrupted-nights.json").write_text(json.dumps(raw, indent=1) + "\n", encoding="utf-8")
    (results / "interrupted-nights.md").write_text(table(counts) + "\n", encoding="utf-8")


@cache
def stored(night: str) -> ShotList:
    """The stored list of one of the nights."""
    (path,) = sorted((PLANS / night / "stored").glob("*.shots.json"))
    shots = read_shots(path).shots
    assert shots is not None
    return shots


def interruption(seed: int, nights: Sequence[str] = NIGHTS) -> Interrupted:
    """The interruption of that number; kinds and nights go round."""
    rng = random.Random(f"interruption {seed}")
    night, kind = nights[seed % len(nights)], KINDS[seed // len(nights) % len(KINDS)]
    return Interrupted(night, kind, told(stored(night), kind, rng))


def told(older: ShotList, kind: str, rng: random.Random) -> Told:
    """What is told of a list that is interrupted in this way."""
    first, last = older.steps[0].start_utc, older.steps[-1].start_utc
    now = first + dt.timedelta(seconds=rng.randrange(round((last - first).total_seconds())))
    over = [step for step in older.steps if step.end_utc <= now]
    if kind == "cloud":
        begins = now + rng.uniform(-40, 60) * MINUTE
        ends = begins + rng.uniform(10, 150) * MINUTE
        block = begins.replace(microsecond=0), ends.replace(microsecond=0)
        return Told(now, blocks=(block,), parked=rng.random() < 0.5)
    if kind == "lost subs":
        subs = [step.step for step in over if step.kind == "expose"]
        lost = set(rng.sample(subs, k=min(len(subs), rng.randrange(1, 12))))
        return Told(now, done=frozenset(step.step for step in over) - lost)
    if kind == "late":
        late = rng.uniform(0.2, 25) * MINUTE
        return Told(now, done=frozenset(step.step for step in older.steps if step.end_utc <= now - late))
    if kind == "wrong side":
        target = rng.choice(older.request.targets).name
        on = [step for step in over if step.tracking and step.target]
        if on and rng.random() < 0.7:
            target = on[-1].target or target
        return Told(now, at=target, pier_side=rng.choice(("west", "east")))
    if kind == "parked":
        return Told(now, parked=True, filter=rng.choice((None, older.request.filters[0].name)))
    if kind == "less wanted":
        names = [target.name for target in older.request.targets]
        without = frozenset(rng.sample(names, k=rng.randrange(0, min(3, len(names)))))
        until = now + rng.uniform(20, 300) * MINUTE if rng.random() < 0.5 else None
        until = None if until is None else until.replace(microsecond=0)
        return Told(now, left_out=without, until=until, drop_current=rng.random() < 0.5)
    return Told(now)


def judged(each: Interrupted, limit_s: float) -> tuple[Counter[str], list[str]]:
    """Plan the rest of an interrupted night: what is counted of it, and what is not as it must be."""
    found, words = Counter[str](interruptions=1), list[str]()
    try:
        rest = rest_of(stored(each.night), each.told, "0" * 64, limit_s=limit_s)
    except InputError as error:
        return found + Counter(refused=1), [str(error)]
    found["older rest kept"] = int(rest.kept)
    found["violations"] = int(bool(rest.violations))
    words += [f"{violation.rule}: {violation.message}" for violation in rest.violations]
    literal = literal_rest(rest)
    old_s, forgiven_s = value(rest, literal)
    gained_s = rest.shots.proof.objective - old_s
    found["better"] = int(gained_s > forgiven_s)
    if gained_s < -forgiven_s and is_lawful(rest, literal):
        found["worse"] = 1
        words.append(f"worse: {rest.shots.proof.objective:.3f} for {old_s:.3f}")
    if each.kind == "as planned" and gained_s < -forgiven_s:
        found["worse"] = 1
        words.append(f"as planned, but {rest.shots.proof.objective:.3f} for {old_s:.3f}")
    return found, words


def literal_rest(rest: Rest) -> list[Step]:
    """The steps of the older list that can still be made as they stand, by whoever just goes on with it.

    Late, they begin later, and waits make up for it; a sub is skipped where its latest start has passed, the
    sky is told to be closed or its target is left out, a visit where it cannot be reached in time.
    """
    begin, done, steps = rest.standing.begin, set(rest.standing.done), list[Step]()
    at, here = begin.utc, rest.standing.as_listed and begin.acquired
    on = (begin.target, begin.pier_side)
    last = max(done, default=0)
    stopped = rest.standing.running
    for step in rest.older.steps:
        if step.step <= last or step.kind == "park" or not step.tracking:
            continue
        if stopped is not None and step.step == stopped.step and step.kind == "expose":
            continue
        starts = max(step.start_utc, at)
        latest = step.latest_start_utc
        too_late = latest is not None and starts > latest
        if step.kind in ARRIVES:
            here = not too_late and (step.kind == "slew" or on == (step.target, "west"))
        if not here:
            continue
        on = (step.target, step.pier_side)
        ends = max(step.end_utc, starts) if step.kind == "wait" else starts + (step.end_utc - step.start_utc)
        moved = step.model_copy(update={"start_utc": starts, "end_utc": ends})
        closed = rest.told.closed(starts, shutter_closes(moved))
        if step.kind == "expose" and (too_late or closed or step.target in rest.told.left_out):
            continue
        steps.append(moved)
        at = ends
    return steps


def value(rest: Rest, steps: Sequence[Step]) -> tuple[float, float]:
    """Weighted seconds of these subs by the audit's route, and by how much they may be off."""
    scene = Scene.of(rest.shots.request, steps, own_list=False)
    worth = worth_of(scene, rest.shots.totals, factors_of(rest.shots))
    return worth.value_s, worth.value_forgiven_s


def is_lawful(rest: Rest, steps: Sequence[Step]) -> bool:
    """Whether these steps keep every rule that a list may be held to that was cut in this way."""
    report = audit_steps(rest.shots.request, list(_joined(rest, steps)), rest.shots.continues)
    return all(
        violation.rule in OF_THE_CUT or (violation.rule == "slew_time" and violation.amount <= HAIR_S)
        for violation in report.violations
    )


def _joined(rest: Rest, steps: Sequence[Step]) -> Iterator[Step]:
    """The steps with waits between them and a park at the end."""
    at, number = rest.standing.begin.utc, 0
    for step in steps:
        if step.start_utc > at:
            number += 1
            rests = step.kind in ARRIVES
            yield step.model_copy(
                update={
                    "step": number,
                    "kind": "wait",
                    "start_utc": at,
                    "end_utc": step.start_utc,
                    "tracking": not rests,
                    "target": None if rests else step.target,
                }
            )
        number += 1
        yield step.model_copy(update={"step": number, "latest_start_utc": None})
        at = step.end_utc
    park = rest.older.steps[-1]
    yield park.model_copy(update={"step": number + 1, "start_utc": at, "end_utc": at + 5 * MINUTE})


def table(counts: dict[str, Counter[str]]) -> str:
    """One row for each kind of interruption."""
    columns = ("interruptions", "violations", "worse", "better", "older rest kept", "refused")
    lines = ["| kind | " + " | ".join(columns) + " |", "|---" * (len(columns) + 1) + "|"]
    for kind, found in counts.items():
        lines.append(f"| {kind} | " + " | ".join(str(found[column]) for column in columns) + " |")
    return "\n".join(lines)


if __name__ == "__main__":
    main()
