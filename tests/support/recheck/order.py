"""Order of rows: numbering, visits, runs, filter, focus and dither rows, counts. No sky is asked here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from tests.support.recheck.facts import MOTIONS, Facts, Finding, whole
from tests.support.recheck.step import Visit, visits_of

KINDS = {"slew", "centre", "settle", "filter", "focus", "expose", "dither", "flip", "rotate", "wait", "park"}


def order_findings(facts: Facts) -> list[Finding]:
    visits = visits_of(facts)
    found = [*_rows(facts), *_columns(facts), *_waits(facts), *_counts(facts, visits)]
    for before, visit in zip([None, *visits], visits, strict=False):
        found += [*_arrival(facts, before, visit), *_runs(facts, visit)]
    return [*found, *_focus(facts)]


def _number(facts: Facts, index: int) -> int:
    return int(facts.rows[index]["step"])


def _rows(facts: Facts) -> Iterator[Finding]:
    rows = facts.rows
    for place, row in enumerate(rows, start=1):
        if row["step"] != place:
            yield Finding("numbering", row["step"], f"the row is the list's number {place}")
        if row["kind"] not in KINDS:
            yield Finding("columns", row["step"], f"kind {row['kind']}")
    for one, other in pairwise(range(len(rows))):
        if facts.end[one] != facts.start[other]:
            yield Finding(
                "contiguity", _number(facts, other), f"{facts.start[other] - facts.end[one]} s apart"
            )
    parks = [row["step"] for row in rows if row["kind"] == "park"]
    if not rows or rows[-1]["kind"] != "park" or len(parks) != 1:
        yield Finding("park", 0, f"park rows {parks} of {len(rows)}")
    for index, row in enumerate(rows):
        length = facts.end[index] - facts.start[index]
        if length < facts.least_s(row):
            yield Finding(
                "step_length", row["step"], f"{row['kind']} {length} s, least {facts.least_s(row)} s"
            )
        if length < 0 or (length == 0 and row["kind"] not in ("filter", "dither")):
            yield Finding("step_length", row["step"], f"{row['kind']} of {length} s")
        if not (facts.within_night(facts.start[index]) and facts.within_night(facts.end[index])):
            yield Finding("night", row["step"], f"{facts.start[index]} s after the origin")
        if row["tracking"] != (row["kind"] != "park" and not _stands(facts, index)):
            yield Finding("tracking", row["step"], f"{row['kind']}: {row['tracking']}")


def _stands(facts: Facts, index: int) -> bool:
    """A wait that carries no target; whether it may stand is asked elsewhere."""
    row = facts.rows[index]
    return bool(row["kind"] == "wait" and row["target"] is None)


def _columns(facts: Facts) -> Iterator[Finding]:
    """Each row carries what its target is; all rows of a visit the same target and side."""
    for visit in visits_of(facts):
        first = facts.rows[visit.arrival]
        for index in visit.rows:
            row = facts.rows[index]
            if row["target"] not in facts.targets:
                yield Finding("columns", row["step"], f"target {row['target']}")
                continue
            target = facts.targets[row["target"]]
            if (row["ra_deg"], row["dec_deg"]) != (target["ra_deg"], target["dec_deg"]):
                yield Finding("columns", row["step"], "coordinates are not the target's")
            if (row["target"], row["pier_side"]) != (first["target"], first["pier_side"]):
                yield Finding(
                    "columns", row["step"], f"{row['target']} {row['pier_side']} within another visit"
                )
            if row["kind"] == "expose" and facts.goal(row) is None:
                yield Finding("goal", row["step"], f"{row['filter']} {row['exposure_s']} s is no goal")
            if facts.german:
                only = {"before": "west", "after": "east"}.get(target["sides"])
                if only and row["pier_side"] != only:
                    yield Finding("sides", row["step"], f"{row['pier_side']}, wanted {target['sides']}")
            elif row["pier_side"] is not None:
                yield Finding("columns", row["step"], "a fork has no pier side")
    ours = {index for visit in visits_of(facts) for index in visit.rows}
    for index, row in enumerate(facts.rows):
        if index not in ours and not _stands(facts, index) and row["kind"] != "park":
            yield Finding("order", row["step"], f"{row['kind']} before any arrival")


def _waits(facts: Facts) -> Iterator[Finding]:
    for index, row in enumerate(facts.rows):
        following = facts.rows[index + 1]["kind"] if index + 1 < len(facts.rows) else None
        if row["kind"] == "wait" and not row["tracking"] and following not in (*MOTIONS, "wait"):
            yield Finding("wait", row["step"], f"stands still before {following}")
        if row["kind"] == "wait" and row["tracking"] and following in ("slew", "park", None):
            yield Finding("wait", row["step"], f"tracks before {following}")


def _counts(facts: Facts, visits: list[Visit]) -> Iterator[Finding]:
    taken: Counter[tuple[object, ...]] = Counter()
    stays: Counter[tuple[object, ...]] = Counter()
    for visit in visits:
        first = facts.rows[visit.arrival]
        stays[first["target"], first["pier_side"]] += 1
        if stays[first["target"], first["pier_side"]] > 2:
            yield Finding("visits", first["step"], f"third visit to {first['target']} {first['pier_side']}")
        shots = [facts.rows[index] for index in visit.rows if facts.rows[index]["kind"] == "expose"]
        open_s = sum(whole(row["exposure_s"]) for row in shots)
        least_s = facts.targets.get(first["target"], {"least_min": 0})["least_min"] * 60
        if open_s < least_s - 1e-6:
            yield Finding("least_visit", first["step"], f"{open_s} s open of at least {least_s} s")
        for row in shots:
            goal = facts.goal(row)
            if goal is None:
                continue
            key = (
                row["target"],
                *(goal[name] for name in ("filter", "exposure_s", "gain", "offset", "binning")),
            )
            taken[key] += 1
            if taken[key] == goal["frames"] - goal["done"] + 1 or (
                goal["frames"] <= goal["done"] and taken[key] == 1
            ):
                yield Finding("frames", row["step"], f"more than {goal['frames']} - {goal['done']}")


def _filter_before(facts: Facts, index: int) -> str | None:
    """The filter that is in when the row begins; None before the first filter row."""
    for row in reversed(facts.rows[:index]):
        if row["kind"] == "filter":
            return str(row["filter"])
    return None


def _arrival(facts: Facts, before: Visit | None, visit: Visit) -> Iterator[Finding]:
    rows, m = facts.rows, facts.mount
    first = rows[visit.arrival]
    if first["kind"] == "flip":
        came = rows[before.arrival] if before else None
        right = came is not None and came["target"] == first["target"] and came["pier_side"] == "west"
        if not right or first["pier_side"] != "east" or not facts.german:
            yield Finding("flip", first["step"], "a flip leads from west to east on one target")
        if m["flip_by"] == "never":
            yield Finding("flip", first["step"], "this mount never flips")
    shots = [index for index in visit.rows if rows[index]["kind"] == "expose"]
    if not shots:
        yield Finding("order", first["step"], "a visit without an exposure")
        return
    name = rows[shots[0]]["filter"]
    wanted = [kind for kind, key in (("centre", "centre_s"), ("settle", "settle_s")) if whole(m[key]) > 0]
    if m["turn_rotator_after_flip"] and before and rows[before.arrival]["pier_side"] != first["pier_side"]:
        wanted.append("rotate")
    if first["kind"] == "slew" or _filter_before(facts, visit.arrival) != name:
        wanted.append("filter")
    rest = [index for index in visit.rows[1:] if index < shots[0]]
    kinds = [rows[index]["kind"] for index in rest if rows[index]["kind"] != "wait"]
    if kinds not in (wanted, [*wanted, "focus"]):
        yield Finding("arrival", first["step"], f"{kinds} after {first['kind']}, wanted {wanted} [focus]")
    waits = [place for place, index in enumerate(rest) if rows[index]["kind"] == "wait"]
    moved = [
        place for place, index in enumerate(rest) if rows[index]["kind"] in ("centre", "settle", "rotate")
    ]
    if waits and moved and waits[0] < moved[-1]:
        yield Finding("arrival", first["step"], "a wait within the arrival")


def _runs(facts: Facts, visit: Visit) -> Iterator[Finding]:
    rows, every = facts.rows, facts.camera["dither_every"]
    shots = [index for index in visit.rows if rows[index]["kind"] == "expose"]
    for index in visit.rows:
        row = rows[index]
        if row["kind"] in ("expose", "focus", "dither") and row["filter"] != _filter_before(facts, index):
            yield Finding(
                "light_path", row["step"], f"{row['filter']} through {_filter_before(facts, index)}"
            )
    count, goals = 1, [facts.goal(rows[shots[0]])] if shots else []
    for one, other in pairwise(shots):
        between = [rows[index]["kind"] for index in range(one + 1, other)]
        step = rows[other]["step"]
        goal = facts.goal(rows[other])
        if goal is facts.goal(rows[one]):
            dither = ["dither"] if every else []
            if between == ["focus", *dither]:
                count = 0
            elif every and count >= every:
                if between != ["dither"]:
                    yield Finding("dither", step, f"{between} after {count} exposures, every {every}")
                count = 0
            elif between:
                yield Finding("dither" if "dither" in between else "order", step, f"{between} within a run")
            count += 1
            continue
        change = [] if rows[one]["filter"] == rows[other]["filter"] else ["filter"]
        kinds = [kind for kind in between if kind != "wait"]
        if kinds not in (change, [*change, "focus"]):
            yield Finding("run_change", step, f"{kinds} between runs, wanted {change} [focus]")
        if any(goal is seen for seen in goals):
            yield Finding("one_run", step, "a goal's second run in one visit")
        goals.append(goal)
        count = 1
    for index in visit.rows:
        if shots and index > shots[-1] and rows[index]["kind"] != "wait":
            yield Finding("order", rows[index]["step"], f"{rows[index]['kind']} after the last exposure")


def _focus(facts: Facts) -> Iterator[Finding]:
    focus, rows = facts.focus, facts.rows
    every_s = focus["every_min"] * 60
    latest: int | None = None  # end of the latest focus run
    due: list[str] = []
    for index, row in enumerate(rows):
        kind = row["kind"]
        if kind == "slew" and focus["on_new_target"]:
            due.append("focus_new_target")
        elif kind == "flip" and facts.mount["refocus_after_flip"]:
            due.append("focus_after_flip")
        elif kind == "filter" and focus["on_filter_change"]:
            due.append("focus_filter")
        elif kind == "focus":
            latest, due = facts.end[index], []
        elif kind == "expose":
            for rule in due:
                yield Finding(rule, row["step"], "no focus run before this exposure")
            due = []
            if every_s > 0 and (latest is None or facts.closes(index) > latest + every_s + 1e-6):
                age = "never" if latest is None else f"{facts.closes(index) - latest} s"
                yield Finding("focus_every", row["step"], f"age at closing {age}, at most {every_s} s")
