"""What a caller says of a night, checked against the older list: all that is wrong with it at once."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import cast

from optimizer.errors import InputError, InputProblem
from optimizer.models.request import Request
from optimizer.models.rig import PierSide
from optimizer.models.shots import ShotList
from optimizer.models.site import iso_utc, night_span
from optimizer.reading.done_file import are_ranges, done_ranges, done_steps
from optimizer.reading.evening import utc_now
from optimizer.reading.instants import instant_of
from optimizer.replan.images import Pictured, pictured
from optimizer.replan.told import Span, Told, targets_left_out
from optimizer.words import listing, quoted, safe

LEAD_S = 10  # from now on, where nobody says when the new list takes over: it is started by hand
OPEN = ("-", "open")
Time = str | dt.datetime


@dataclass(frozen=True)
class Asked:
    """The arguments of a replan as they are given; times are text or instants with a time zone.

    `done` may be numbers, text with ranges of numbers, or a CSV file (as text: any that is no ranges).
    """

    now: Time | None = None
    done: Path | str | Sequence[int] | None = None
    images: Path | None = None
    parked: bool = False
    pier_side: str | None = None
    at: str | None = None
    filter: str | None = None
    focused: Time | None = None
    drop_current: bool = False
    until: Time | None = None
    blocks: Sequence[tuple[Time, Time | None]] = ()
    without: Sequence[str] = ()
    only: Sequence[str] = ()


def told_of(older: ShotList, asked: Asked, caller: str, option: Callable[[str], str] = str) -> Told:
    """Read what is asked against a list; times without an offset are local times of its night.

    Where nobody says when the new list takes over, it is `LEAD_S` seconds from now. `caller` is what messages
    name as the place, `option` turns an argument's name into what people wrote. Raises InputError with all
    that is wrong.
    """
    reader = _Reader(older, caller, option)
    reader.names_of_steps()
    now = reader.now(asked.now)
    pictures = reader.images(asked, now)
    told = Told(
        now=now,
        done=reader.done(asked.done, now),
        missing=frozenset() if pictures is None else pictures.missing,
        not_yet=frozenset() if pictures is None else pictures.not_yet,
        not_counted=None if pictures is None else _not_counted(pictures),
        parked=asked.parked,
        pier_side=reader.pier_side(asked),
        at=reader.named("at", asked.at, _targets(older.request)),
        filter=reader.named("filter", asked.filter, [each.name for each in older.request.filters]),
        focused=reader.focused(asked.focused, now),
        drop_current=asked.drop_current,
        until=reader.until(asked.until, now),
        blocks=tuple(reader.block(*each) for each in asked.blocks),
        left_out=reader.left_out(asked),
    )
    if reader.problems:
        raise InputError(reader.problems)
    return told


def _not_counted(pictures: Pictured) -> str | None:
    """A sentence on images that say nothing of the list; None where there are none."""
    parts = []
    if pictures.others:
        parts.append(f"{pictures.others} of this night are no sub of this list")
    if pictures.unusable:
        parts.append(f"{pictures.unusable} cannot be used (darkfill tally says why)")
    return f"Images not counted: {', '.join(parts)}." if parts else None


def _targets(request: Request) -> list[str]:
    return [target.name for target in request.targets]


class _Reader:
    """Reads one argument after the other and keeps what is wrong with them."""

    def __init__(self, older: ShotList, caller: str, option: Callable[[str], str]) -> None:
        self.older, self.request, self.caller, self.option = older, older.request, caller, option
        site = self.request.site
        self.zone = site.time_zone
        self.night: Span = night_span(self.request.night, site.longitude_deg, site.time_zone)
        self.problems: list[InputProblem] = []

    def refuse(self, name: str, value: object, message: str, remedy: str) -> None:
        """Keep what is wrong with an argument."""
        shown = iso_utc(value) if isinstance(value, dt.datetime) else safe(str(value))
        self.problems.append(InputProblem(self.caller, self.option(name), message, remedy, shown))

    def names_of_steps(self) -> None:
        """Refuse steps of targets or filters that the list's request lacks, as in one edited by hand."""
        known = {
            "target": {target.name for target in self.request.targets},
            "filter": {each.name for each in self.request.filters},
        }
        strange: dict[tuple[str, str], int] = {}
        for step in self.older.steps:
            for kind, name in (("target", step.target), ("filter", step.filter)):
                if name is not None and name not in known[kind]:
                    strange.setdefault((kind, name), step.step)
        for (kind, name), number in strange.items():
            what = f"the list's step {number} names a {kind} that the list's request does not have"
            remedy = "name the list as it was planned"
            self.problems.append(InputProblem(self.caller, kind, what, remedy, quoted(name)))

    def instant(self, name: str, given: Time) -> dt.datetime | None:
        """A time in whole seconds UTC, within the list's night; None where it is wrong."""
        if isinstance(given, dt.datetime):
            if given.tzinfo is None:
                self.refuse(name, given.isoformat(), "has no time zone", "give one, such as datetime.UTC")
                return None
            instant = given.astimezone(dt.UTC).replace(microsecond=0)
        else:
            try:
                instant = instant_of(given.strip(), self.night, self.zone)
            except ValueError as error:
                message, _, remedy = str(error).partition("; ")
                self.refuse(name, given, message, remedy)
                return None
        if not self.night[0] <= instant <= self.night[1]:
            remedy = "give a time of that night, or name the list of another one"
            self.refuse(name, given, f"is outside {self._night_words()}", remedy)
            return None
        return instant

    def _night_words(self) -> str:
        begin, end = (f"{each:%Y-%m-%dT%H:%M}Z" for each in self.night)
        return f"the night of {self.request.night.evening}, which lasts from {begin} to {end}"

    def now(self, given: Time | None) -> dt.datetime:
        """When the new list may take over; where that is wrong, the night's first second."""
        if given is not None:
            return self.instant("now", given) or self.night[0]
        clock = utc_now().replace(microsecond=0) + dt.timedelta(seconds=LEAD_S)
        if self.night[0] <= clock < self.night[1]:
            return clock
        what = f"by the clock, is outside {self._night_words()}"
        self.refuse("now", iso_utc(clock), what, "say which instant of that night you mean")
        return self.night[0]

    def focused(self, given: Time | None, now: dt.datetime) -> dt.datetime | None:
        """When the latest autofocus ended: no later than now."""
        instant = None if given is None else self.instant("focused", given)
        if instant is not None and instant > now:
            self.refuse("focused", given, f"is later than {iso_utc(now)}, when the new list takes over",
                        "say when the latest autofocus ended")  # fmt: skip
        return instant

    def until(self, given: Time | None, now: dt.datetime) -> dt.datetime | None:
        """When the night is to end: later than now."""
        instant = None if given is None else self.instant("until", given)
        if instant is not None and instant <= now:
            self.refuse("until", given, f"is no later than {iso_utc(now)}, when the new list takes over",
                        "give a later time, or park the mount")  # fmt: skip
        return instant

    def block(self, begins: Time, ends: Time | None) -> Span:
        """A span that is lost; without an end it goes on as long as the night."""
        start = self.instant("block", begins)
        is_open = ends is None or (isinstance(ends, str) and ends.strip().lower() in OPEN)
        end = self.night[1] if is_open or ends is None else self.instant("block", ends)
        if start is None or end is None:
            return self.night
        if end <= start:
            shown = f"{begins} {OPEN[0] if ends is None else ends}"
            self.refuse("block", shown, "ends no later than it begins", "give the earlier time first")
        return start, end

    def named(self, name: str, given: str | None, names: Iterable[str]) -> str | None:
        """The name of a target or filter of the list's request."""
        known = list(names)
        if given is None or given in known:
            return given
        near = difflib.get_close_matches(given, known, 1, 0.5)
        kind = "filter" if name == "filter" else "target"
        remedy = (
            f"did you mean {quoted(near[0])}?" if near else f"there are {listing(map(quoted, known), 'and')}"
        )
        self.refuse(name, given, f"is no {kind} of this list", remedy)
        return None

    def pier_side(self, asked: Asked) -> PierSide | None:
        """The pier side told, which goes with a target; neither goes with a mount that is parked."""
        side, flips = asked.pier_side, self.request.mount.flips
        if side not in (None, "west", "east"):
            self.refuse("pier_side", side, "is no pier side", "give west or east")
            return None
        if asked.parked and (side is not None or asked.at is not None):
            name, value = ("at", asked.at) if side is None else ("pier_side", side)
            self.refuse(name, value, f"does not go with {self.option('parked')}", "keep one of the two")
        elif side is not None and not flips:
            self.refuse("pier_side", side, "is told of a fork mount, which has none", "leave it out")
        elif side is not None and asked.at is None:
            remedy = f"add {self.option('at')} with the name of a target"
            self.refuse("pier_side", side, "does not say what the mount is on", remedy)
        elif asked.at is not None and side is None and flips:
            remedy = f"add {self.option('pier_side')} west or east"
            self.refuse("at", asked.at, "does not say on which pier side the tube is", remedy)
        return cast("PierSide | None", side)

    def left_out(self, asked: Asked) -> frozenset[str]:
        """The targets of which nothing more is wanted; some must be left."""
        names = _targets(self.request)
        before = len(self.problems)
        for name, given in (("without", asked.without), ("only", asked.only)):
            for each in given:
                self.named(name, each, names)
        left_out = targets_left_out(self.request, tuple(asked.without), tuple(asked.only))
        if len(left_out) == len(names) and len(self.problems) == before:
            name = "only" if asked.only else "without"
            shown = listing([*asked.without, *asked.only], "and")
            self.refuse(name, shown, "leaves no target", "keep one, or park the mount")
        return left_out

    def images(self, asked: Asked, now: dt.datetime) -> Pictured | None:
        """What the images in a folder tell of the list; None where none are asked."""
        if asked.images is None:
            return None
        if asked.done is not None:
            what = f"does not go with {self.option('done')}"
            self.refuse("images", asked.images, what, "keep one of the two")
            return None
        try:
            return pictured(self.older, asked.images, now, self.night)
        except InputError as error:
            self.problems += error.problems
            return None

    def done(self, given: Path | str | Sequence[int] | None, now: dt.datetime) -> frozenset[int] | None:
        """The numbers of the steps done: of this list, and begun by now."""
        if given is None:
            return None
        if isinstance(given, str) and not are_ranges(given):
            given = Path(given)
        lines: dict[int, int | None] = {}
        if isinstance(given, Path):
            try:
                lines = dict(done_steps(given))
            except InputError as error:
                self.problems += error.problems
                return None
        elif isinstance(given, str):
            try:
                for low, high in done_ranges(given):  # of one that goes on beyond the list, one number tells
                    lines |= dict.fromkeys(range(low, min(high, len(self.older.steps)) + 1))
                    lines[high] = None
            except ValueError as error:
                message, _, remedy = str(error).partition("; ")
                self.refuse("done", given, message, remedy)
                return None
        else:
            lines = dict.fromkeys(given)
        key, file = self.option("done"), self.caller
        if isinstance(given, Path):
            key, file = "step", safe(str(given))
        undone = list(self._undone(lines, now))
        for number, what, remedy in undone[:1] if isinstance(given, str) else undone:
            line = lines[number]
            self.problems.append(InputProblem(file, key, what, remedy, str(number), line=line))
        return frozenset(lines)

    def _undone(self, numbers: Iterable[int], now: dt.datetime) -> Iterator[tuple[int, str, str]]:
        """Numbers of steps that cannot have been done, what is wrong with each, and what to do."""
        steps = {step.step: step for step in self.older.steps}
        for number in numbers:
            if number not in steps:
                what = f"is no step of this list, which has {len(steps)}"
                yield number, what, "give the list's own numbers"
        for number in numbers:
            if number in steps and (starts := steps[number].start_utc) > now:
                what = f"begins at {iso_utc(starts)} in this list, later than {iso_utc(now)}"
                yield number, what, f"leave it out, or give a later {self.option('now')}"
