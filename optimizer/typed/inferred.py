"""What was made of a plan typed by hand: its steps, and what of them nobody typed."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from optimizer.audit.rule import kind_words
from optimizer.models.shots import Step, StepKind
from optimizer.words import clock_words, listing, safe

_ONE_AND_MANY = {
    "slew": ("slew", "slews"),
    "flip": ("flip", "flips"),
    "filter": ("filter change", "filter changes"),
    "focus": ("autofocus", "autofocus"),
    "dither": ("dither", "dithers"),
    "rotate": ("turn of the rotator", "turns of the rotator"),
    "wait": ("wait", "waits"),
}


@dataclass(frozen=True)
class Stand:
    """A time in which the mount must not track, or it passes the limit of pier side west at `by_utc`.

    `until_utc` is when the next row has it move on; None: it is to be parked, and stay so.
    """

    target: str
    by_utc: dt.datetime
    until_utc: dt.datetime | None


@dataclass(frozen=True)
class Inferred:
    """How many steps of each kind were put between the rows, when the flips are, and how sides were found.

    `sides` is False where the mount has no pier sides or each row of a visit says its own. `stands` are the
    times in which no row says that the mount does not track, though it must not.
    """

    counts: Mapping[str, int] = field(default_factory=dict)
    flips_utc: tuple[dt.datetime, ...] = ()
    sides: bool = False
    stands: tuple[Stand, ...] = ()

    def provided(self, zone_name: str) -> str:
        """What must be done though no row says so, or the tube is in danger; empty where there is nothing."""

        def clock(instant: dt.datetime) -> str:
            return clock_words(instant, zone_name)

        parts = [f"the mount flips at {clock(each)}" for each in self.flips_utc]
        for stand in self.stands:
            name = safe(stand.target)
            if stand.until_utc is None:
                parts.append(f"the mount is parked by {clock(stand.by_utc)} ({name})")
            else:
                span = f"from {clock(stand.by_utc)} at the latest until {clock(stand.until_utc)}"
                parts.append(f"tracking is off {span} ({name})")
        return listing(parts, "and", most=len(parts) + 1) if parts else ""

    def sentence(self, zone_name: str) -> str:
        """What was inferred, for people, the flips by the clock of that zone; empty where nothing was."""
        parts = []
        for kind, (one, many) in _ONE_AND_MANY.items():
            if count := self.counts.get(kind, 0):
                told = f"{count} {one if count == 1 else many}"
                if kind == "flip":
                    told += f" ({', '.join(clock_words(each, zone_name) for each in self.flips_utc)})"
                parts.append(told)
        if self.counts.get("park", 0):
            parts.append("park at the end")
        text = listing(parts, "and", most=len(parts) + 1) if parts else ""
        if self.sides:
            text += ("; " if text else "") + "the pier side by the transit"
        return f"Inferred: {text}." if text else ""


@dataclass(frozen=True)
class Short:
    """A row that starts before what must come before it is over, by `lacking_s` seconds.

    `line` is that of the row, `kinds` are the steps that were inferred between the sub before and this row.
    """

    line: int
    start_utc: dt.datetime
    lacking_s: int
    kinds: tuple[StepKind, ...]

    def sentence(self, zone_name: str) -> str:
        """How much time is lacking, and for what, by the clock of that zone."""
        at = f"{self.start_utc.astimezone(zoneinfo.ZoneInfo(zone_name)):%H:%M:%S}"
        what = listing((kind_words(kind) for kind in dict.fromkeys(self.kinds)), "and")
        lacking = f"{self.lacking_s} s {'is' if self.lacking_s == 1 else 'are'} lacking"
        return f"Line {self.line}: before {at} {lacking} for {what or 'the subs before it'}."


def _told_together(short: Sequence[Short], zone_name: str) -> Iterator[str]:
    """A sentence for each row, or one for all rows that lack time for the same steps."""
    alike: dict[frozenset[StepKind], list[Short]] = {}
    for each in short:
        alike.setdefault(frozenset(each.kinds), []).append(each)
    for rows in alike.values():
        if len(rows) < 3:
            yield from (each.sentence(zone_name) for each in rows)
            continue
        lines = listing((str(each.line) for each in rows), "and", most=6)
        least, most = min(each.lacking_s for each in rows), max(each.lacking_s for each in rows)
        seconds = f"{most} s" if least == most else f"{least} to {most} s"
        what = listing((kind_words(kind) for kind in dict.fromkeys(rows[0].kinds)), "and")
        yield f"Lines {lines}: before each {seconds} are lacking for {what or 'the subs before it'}."


@dataclass(frozen=True)
class NoFlip:
    """A stay on one target that would track past the limit of pier side west and has no gap for the flip.

    `lines` are those of its rows; the flip may begin from `opens_utc` until `closes_utc`, if that is later.
    """

    lines: tuple[int, ...]
    target: str
    opens_utc: dt.datetime
    closes_utc: dt.datetime

    def sentence(self, zone_name: str) -> str:
        """That no flip was inferred, and when it would have to begin, by the clock of that zone."""
        zone = zoneinfo.ZoneInfo(zone_name)
        opens, closes = (f"{each.astimezone(zone):%H:%M}" for each in (self.opens_utc, self.closes_utc))
        first, last = min(self.lines), max(self.lines)
        which = f"Line {first}" if first == last else f"Lines {first} to {last}"
        due = f"; leave one in which it can begin between {opens} and {closes}" if opens < closes else ""
        return f"{which}: no gap has room for the flip of {safe(self.target)}, so none was inferred{due}."


@dataclass(frozen=True)
class Typed:
    """The steps that a typed plan means.

    `said` are sentences on how the file was read and what was made of its cells, `short` the rows before
    which there is too little time, `unflipped` the stays that lack a gap for their flip; `lines` has the
    line of the file that each step of a row stems from, by the number of the step; steps that were inferred
    have none.
    """

    steps: tuple[Step, ...]
    inferred: Inferred
    said: tuple[str, ...] = ()
    short: tuple[Short, ...] = ()
    lines: Mapping[int, int] = field(default_factory=dict)
    unflipped: tuple[NoFlip, ...] = ()

    def provided(self, zone_name: str) -> str:
        """What must be so though no row says it, or the tube is in danger; empty where there is nothing."""
        told = self.inferred.provided(zone_name)
        if not self.short:
            return told
        rest = (
            f"nothing from line {self.short[0].line} on starts later than typed, though time is lacking there"
        )
        return f"{told}, and {rest}" if told else rest

    def sentences(self, zone_name: str) -> tuple[str, ...]:
        """How the file was read, what was inferred and where time is lacking, by the clock of that zone."""
        inferred = self.inferred.sentence(zone_name)
        lacking = _told_together(self.short, zone_name)
        unflipped = (each.sentence(zone_name) for each in self.unflipped)
        return (*self.said, *([inferred] if inferred else []), *unflipped, *lacking)
