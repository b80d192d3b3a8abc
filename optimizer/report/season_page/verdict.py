"""What a season says at its top: the first night, what is finished when, what is not, what is proven."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from optimizer.models.season import GoalFrames, SeasonFile, SeasonNight
from optimizer.report.season_facts import which_night
from optimizer.report.season_page.facts import Row, SeasonFacts, open_shutter_s
from optimizer.report.season_page.lanes import frames_words
from optimizer.report.season_rigs import bottleneck_words
from optimizer.report.season_words import (
    day,
    expected_words,
    law_words,
    proven_words,
    share_words,
    sky_words,
)
from optimizer.report.words import count, duration, name

MOST_ITEMS = 8


@dataclass(frozen=True)
class Item:
    """A target by its row of the map, with what is said of it."""

    number: int
    name: str
    words: str


@dataclass(frozen=True)
class Line:
    """A part of the verdict: its label, words before its targets, the targets, words after them, parts."""

    key: str
    label: str
    words: str
    items: tuple[Item, ...] = ()
    more: str = ""
    parts: tuple[Line, ...] = ()


def verdict(facts: SeasonFacts) -> list[Line]:
    """The parts of the verdict in the order in which they matter; those without a target are left out."""
    rows = facts.rows
    lost = [row for row in rows if row.cannot]
    open_rows = [row for row in rows if not row.done and not row.cannot]
    sampled = [row for row in open_rows if row.project.finish_share is not None]
    likely = [row for row in sampled if row.project.finish_90]
    even = [row for row in sampled if row.project.finish_50 and not row.project.finish_90]
    rest = [row for row in sampled if not row.project.finish_50]
    lines = [
        _first_night(facts),
        _line(
            "likely",
            "Finished, to be expected",
            "in at least 90 % of the simulated seasons, by the evening named:",
            [(row, f"by {day(row.project.finish_90)}") for row in _by(likely, "finish_90")],
        ),
        _line(
            "even",
            "More likely than not",
            "in at least half of the simulated seasons:",
            [(row, f"by {day(row.project.finish_50)}") for row in _by(even, "finish_50")],
        ),
        _line(
            "unlikely",
            "Rather not finished",
            "in fewer than half of the simulated seasons:",
            [(row, _share(row)) for row in sorted(rest, key=lambda row: -(row.project.finish_share or 0.0))],
        ),
        _line(
            "never",
            "Cannot be finished",
            "even if all these nights are clear, since their sky is not open long enough:",
            [(row, _filters(row)) for row in lost],
        ),
        _line("done", "In hand", "nothing is left to do:", [(row, "") for row in rows if row.done]),
        Line("rigs", "Rigs", f"{bottleneck_words(facts.file)}.") if facts.several else None,
        _proven(facts.file),
        _expected(facts.file),
    ]
    return [line for line in lines if line is not None]


def _first_night(facts: SeasonFacts) -> Line | None:
    if not facts.columns:
        return None
    label = which_night(facts.file)
    numbers = {row.project.target: row.number for row in facts.rows}
    nights = facts.columns[0].nights
    skies = {sky_words(night) for night in nights.values()}
    if not facts.several:
        return _rig_tonight(label, nights[0], numbers)
    # a sky that all rigs share is told once
    shared = f"{skies.pop()}." if len(skies) == 1 else ""
    lines = [
        _rig_tonight(name(facts.rigs[rig].name), night, numbers, with_sky=not shared)
        for rig, night in nights.items()
    ]
    more = f"{count(len(lines) - MOST_ITEMS, 'more rig')} below" if len(lines) > MOST_ITEMS else ""
    return Line("tonight", label, shared, more=more, parts=tuple(lines[:MOST_ITEMS]))


def _rig_tonight(
    label: str, night: SeasonNight, numbers: Mapping[str, int], *, with_sky: bool = True
) -> Line:
    """What a rig does on its first night."""
    in_order = dict.fromkeys(visit.target for visit in night.visits)
    items = tuple(
        Item(numbers[target], name(target), frames_words(_of(night.plan, target))) for target in in_order
    )
    sky = f"{sky_words(night)}. " if with_sky else ""
    if not items:
        return Line("tonight", label, f"{sky}Nothing is planned.")
    words = f"{sky}If it is clear, {duration(open_shutter_s(night.plan))} of open shutter:"
    return Line("tonight", label, words, items)


def _of(plan: Sequence[GoalFrames], target: str) -> list[GoalFrames]:
    return [each for each in plan if each.target == target]


def _line(key: str, label: str, words: str, found: Sequence[tuple[Row, str]]) -> Line | None:
    if not found:
        return None
    items = tuple(Item(row.number, name(row.project.target), more) for row, more in found[:MOST_ITEMS])
    more = f"and {len(found) - MOST_ITEMS} more in the map" if len(found) > MOST_ITEMS else ""
    return Line(key, f"{label}: {count(len(found), 'target')}", words, items, more)


def _filters(row: Row) -> str:
    """The filters that a target cannot finish; empty where each could be, and only all together cannot."""
    return f"({', '.join(name(each, 12) for each in row.never)})" if row.never else ""


def _by(rows: Iterable[Row], date: str) -> list[Row]:
    return sorted(rows, key=lambda row: str(getattr(row.project, date)))


def _share(row: Row) -> str:
    share = row.project.finish_share or 0.0
    return "(in none)" if share <= 0 else f"({share_words(share)})"


def _proven(file: SeasonFile) -> Line:
    """How near to the best the plans are, and what is counted."""
    return Line("proven", "Proven", f"{proven_words(file.proof)}. {law_words(file.proof)}")


def _expected(file: SeasonFile) -> Line:
    """What simulated weather says, and that it proves nothing."""
    policy = file.policy
    if policy is None:
        words = "no weather was simulated for this file, so it says nothing of when targets get finished."
        return Line("expected", "Not simulated", words)
    linked = f", persistence {policy.persistence:g}" if policy.persistence else ""
    how = f"Dates and shares come from these seasons (seed {policy.seed}{linked})"
    return Line("expected", "Only expected", f"{expected_words(policy, len(file.rigs))}. {how}.")
