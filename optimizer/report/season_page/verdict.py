"""What a season says at its top: the first night, what is finished when, what is not, what is proven."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from optimizer.models.season import SeasonFile
from optimizer.report.proof_words import FAR
from optimizer.report.season_page.dates import long_date, short_date
from optimizer.report.season_page.facts import Row, SeasonFacts, open_shutter_s
from optimizer.report.season_page.lanes import frames_words
from optimizer.report.words import at_most_percent, count, duration, name, percent

MOST_ITEMS = 8
ENDED = {
    "gap": "as near as was asked",
    "rounds": "after the rounds that were asked",
    "time": "at its time limit",
    "settled": "when nothing better was found any more",
    "interrupted": "early, by Ctrl-C",
}


@dataclass(frozen=True)
class Item:
    """A target by its row of the map, with what is said of it."""

    number: int
    name: str
    words: str


@dataclass(frozen=True)
class Line:
    """A part of the verdict: its label, words before its targets, the targets, words after them."""

    key: str
    label: str
    words: str
    items: tuple[Item, ...] = ()
    more: str = ""


def verdict(facts: SeasonFacts) -> list[Line]:
    """The parts of the verdict in the order in which they matter; those without a target are left out."""
    rows = facts.rows
    lost = [row for row in rows if row.never]
    open_rows = [row for row in rows if not row.done and not row.never]
    sampled = [row for row in open_rows if row.project.finish_share is not None]
    likely = [row for row in sampled if row.project.finish_90]
    even = [row for row in sampled if row.project.finish_50 and not row.project.finish_90]
    rest = [row for row in sampled if not row.project.finish_50]
    lines = [
        _first_night(facts),
        _line(
            "likely",
            "Finished, to be expected",
            "in at least 90 % of the sampled seasons, by the evening named:",
            [(row, f"by {_day(row.project.finish_90)}") for row in _by(likely, "finish_90")],
        ),
        _line(
            "even",
            "More likely than not",
            "in at least half of the sampled seasons:",
            [(row, f"by {_day(row.project.finish_50)}") for row in _by(even, "finish_50")],
        ),
        _line(
            "unlikely",
            "Rather not finished",
            "in fewer than half of the sampled seasons:",
            [(row, _share(row)) for row in sorted(rest, key=lambda row: -(row.project.finish_share or 0.0))],
        ),
        _line(
            "never",
            "Cannot be finished",
            "even if all these nights are clear, since their sky is not open long enough:",
            [(row, f"({', '.join(name(each, 12) for each in row.never)})") for row in lost],
        ),
        _line("done", "In hand", "nothing is left to do:", [(row, "") for row in rows if row.done]),
        _proven(facts.file),
        _expected(facts.file),
    ]
    return [line for line in lines if line is not None]


def _first_night(facts: SeasonFacts) -> Line | None:
    if not facts.columns:
        return None
    column = facts.columns[0]
    night = column.night
    numbers = {row.project.target: row.number for row in facts.rows}
    in_order = dict.fromkeys(visit.target for visit in night.visits)
    items = tuple(
        Item(numbers[target], name(target), frames_words(each for each in night.plan if each.target == target))
        for target in in_order
    )
    dark = f"{duration(night.dark_s)} dark, Moon {percent(night.moon_illuminated)} lit"
    if not items:
        words = f"{dark}; nothing is planned."
        return Line("tonight", f"The first night, {long_date(column.evening)}", words)
    return Line(
        "tonight",
        f"The first night, {long_date(column.evening)}",
        f"{dark}, odds of clear sky {percent(night.odds)}. If it is clear, {duration(open_shutter_s(night.plan))} of open shutter:",
        items,
    )


def _line(key: str, label: str, words: str, found: Sequence[tuple[Row, str]]) -> Line | None:
    if not found:
        return None
    items = tuple(Item(row.number, name(row.project.target), more) for row, more in found[:MOST_ITEMS])
    more = f"and {len(found) - MOST_ITEMS} more" if len(found) > MOST_ITEMS else ""
    return Line(key, f"{label}: {count(len(found), 'target')}", words, items, more)


def _by(rows: Iterable[Row], date: str) -> list[Row]:
    return sorted(rows, key=lambda row: str(getattr(row.project, date)))


def _day(evening: str | None) -> str:
    return "" if evening is None else short_date(dt.date.fromisoformat(evening))


def _share(row: Row) -> str:
    share = row.project.finish_share or 0.0
    return "(in none)" if share <= 0 else f"({percent(share)})"


def _proven(file: SeasonFile) -> Line:
    """How near to the best the plans are, what counts in it, and for what that holds."""
    proof = file.proof
    counted = "depth" if proof.by == "depth" else "open shutter"
    sets = " and the progress of filter sets" if proof.balance > 0 else ""
    kind = f"weighted {counted}{sets}, each night by its odds"
    has, most = duration(_minutes_s(proof.value, up=False)), duration(_minutes_s(proof.bound, up=True))
    if not 0 <= proof.gap <= FAR:
        near = f"the plans have {has} of value, and no plans of these nights can have more than {most}"
    elif proof.gap <= 0:
        near = f"the plans have {has} of value, and no plans of these nights can have more"
    else:
        near = (
            f"the plans have {has} of value; no plans of these nights can have more than {most}, which is"
            f" {at_most_percent(proof.gap)} more at most"
        )
    return Line(
        "proven",
        "Proven",
        f"{near} (value: {kind}). The search ended {ENDED[proof.ended]}. Each night's plan passed the audit.",
    )


def _minutes_s(seconds: float, *, up: bool) -> float:
    """Whole minutes in seconds: a value is told no larger, a bound no smaller than it is."""
    minutes = seconds / 60
    return 60.0 * (math.ceil(minutes - 1e-9) if up else math.floor(minutes + 1e-9))


def _expected(file: SeasonFile) -> Line:
    policy = file.policy
    if policy is None:
        return Line(
            "expected",
            "Not sampled",
            "no weather was simulated for this file, so it says nothing of when targets will be finished.",
        )
    spread = f"{percent(policy.share_low)} to {percent(policy.share_high)} in 80 % of them"
    linked = f", persistence {policy.persistence:g}" if policy.persistence else ""
    more = ""
    if math.isfinite(policy.share_of_bound):
        more = (
            f" Their mean value is {percent(policy.share_of_bound)} of what could at most be reached if the"
            f" weather were known beforehand ({spread})."
        )
    return Line(
        "expected",
        "Only expected",
        f"finish dates and shares come from {count(policy.seasons, 'season')} of simulated weather (seed"
        f" {policy.seed}{linked}), each clear night planned by {policy.name}.{more} None of this is proven.",
    )
