"""What one step breaks by itself, wherever in the night it is put: sky, zone, quiet time, chosen sides."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from tests.support.recheck.facts import MOTIONS, SUNSET_DEG, Allowed, Facts, Row

Ask = Callable[[str, Allowed, int, int], None]


class Visit(NamedTuple):
    """Rows from an arrival to the last one on the same target and side."""

    arrival: int
    rows: list[int]  # the arrival's own is the first


def visits_of(facts: Facts) -> list[Visit]:
    """Stays in order; standing waits and the park belong to none."""
    found: list[Visit] = []
    for index, row in enumerate(facts.rows):
        if row["kind"] in MOTIONS:
            found.append(Visit(index, [index]))
        elif found and row["kind"] != "park" and not (row["kind"] == "wait" and not row["tracking"]):
            found[-1].rows.append(index)
    return found


def in_flip_block(facts: Facts, index: int) -> bool:
    """Whether the row follows a flip before any exposure."""
    for row in reversed(facts.rows[: index + 1]):
        if row["kind"] in ("slew", "expose"):
            return False
        if row["kind"] == "flip":
            return True
    return False


def step_breaks(facts: Facts, index: int, at: int, sure: bool = False) -> list[str]:
    """Rules that the row would break if it began at that second and took the time that it takes.

    With `sure` the tolerance is turned round: empty only where it breaks nothing by any sky within it.
    """
    row = facts.rows[index]
    last = at + facts.end[index] - facts.start[index]
    if row["kind"] == "park" or (row["kind"] == "wait" and not row["tracking"]):
        return []
    target, side = row["target"], row["pier_side"]
    if target not in facts.targets or (facts.german and side not in ("west", "east")):
        return ["columns"]
    if row["kind"] == "expose" and row["filter"] not in facts.filters:
        return ["columns"]
    broken = []

    def ask(rule: str, allowed: Allowed, first: int, end: int) -> None:
        if not (allowed.surely(first, end) if sure else allowed.all(first, end)):
            broken.append(rule)

    def ask_at(rule: str, allowed: Allowed, second: int) -> None:
        if not (allowed.surely(second, second) if sure else allowed.near(second)):
            broken.append(rule)

    if not (facts.within_night(at) and facts.within_night(last)):
        return ["night"]
    shut = at + facts.closes(index) - facts.start[index] if row["kind"] == "expose" else last
    zone = facts.zone(target, side, facts.reaches_flip(index))
    work = facts.sun_below(SUNSET_DEG)
    spans = {"clear": facts.clear, "blocked": facts.unblocked}
    places = {
        "acquisition": facts.above(target, facts.acquisition_deg(target)),
        "skyline": facts.over_skyline(target),
        "ceiling": facts.under_ceiling(target),
    }
    if row["kind"] in MOTIONS:
        ask_at("zone", zone, at)
        ask_at("zone", zone, last)
        ask("sun_down", work, at, last)
        for rule, allowed in places.items():
            ask_at(rule, allowed, last)
    else:
        ask("zone", zone, at, shut)
        for rule, allowed in {"sun_down": work, **places}.items():
            ask(rule, allowed, at, shut)
        if row["kind"] == "expose":
            _shutter(facts, row, ask, at, shut, sure=sure)
    for rule, free in spans.items():
        if not free(at, shut):
            broken.append(rule)
    leaves = row["kind"] == "focus" and facts.focus["leaves_target"] and not in_flip_block(facts, index)
    if row["kind"] == "slew" or leaves:
        ask("quiet", facts.not_quiet(target), at, last)
    return broken


def _shutter(facts: Facts, row: Row, ask: Ask, at: int, shut: int, *, sure: bool) -> None:
    target, name = row["target"], row["filter"]
    ask("darkness", facts.dark(name), at, shut)
    ask("floor", facts.above(target, facts.floor_deg(target)), at, shut)
    ask("moon_gap", facts.far_from_moon(target, name, sure=sure), at, shut)
    ask("moonlight", facts.little_moonlight(target, name, sure=sure), at, shut)
    if not facts.german:
        wanted = facts.targets[target]["sides"]
        if wanted != "either":
            ask("sides", facts.half(target, wanted), at, shut)
