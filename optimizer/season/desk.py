"""What every job of a season works on: the rigs, and their nights as they are prepared.

A job is a function of this module's neighbours, `job(desk, *task)`, that depends on nothing but the desk's
rigs and its task, so that it may run in any process and its answer may be kept. An engine runs a job for many
tasks and returns the answers in the order of the tasks.
"""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from typing import Any, NamedTuple, Protocol, TypeVar, overload

import numpy as np

from optimizer.models.request import Request
from optimizer.models.targets import Aim
from optimizer.problem import Limits
from optimizer.season.asked import request_on, without_counts
from optimizer.season.groups import Group, groups_of
from optimizer.season.kept.cache import Cache
from optimizer.season.kept.content_key import content_key
from optimizer.season.kept.program import program_key
from optimizer.season.kept.stored import night_loaded, night_stored
from optimizer.season.prepared import PreparedNight, prepare
from optimizer.season.projects import Ints, Projects

T = TypeVar("T")
BLOCK = 6  # nights of a task; of a fixed size, or answers would depend on the number of workers
NIGHTS_BYTES = 160_000_000  # of nights in the memory of one process, and as much of outlines
_of_thread = threading.local()


class HaltedError(Exception):
    """Raised in a thread whose job nobody waits for any more."""


def work_until(halted: threading.Event) -> None:
    """Have this thread's jobs end at the next night that they ask for, once the event is set."""
    _of_thread.halted = halted


@dataclass(frozen=True, eq=False)
class Rig:
    """A rig of the season: its request, and the number of the goal that each of its tasks is, [tasks]."""

    name: str
    request: Request
    numbers: Ints


def only_rig(request: Request, projects: Projects, name: str = "rig") -> Rig:
    """The rig of a season that has no other: its tasks are the goals of the projects in their order."""
    return Rig(name, request, np.arange(len(projects.goals), dtype=np.int64))


class NightRef(NamedTuple):
    """Which night is meant: the place of its rig among those of the desk, and its evening."""

    rig: int
    evening: dt.date


@dataclass(eq=False)
class Desk:
    """The rigs of a season and its projects; nights are prepared when they are first asked for.

    Nights come from memory, from the cache, or are prepared, and are the same from wherever they come. Those
    not asked for longest leave the memory once all together take more than `most_bytes`. Threads may share
    a desk; a copy in another process has the rigs and the projects alone. `units` has the weighted seconds in
    a unit of profit of those nights that are known without being prepared here.
    """

    rigs: tuple[Rig, ...]
    projects: Projects
    cache: Cache | None = None
    most_bytes: int = NIGHTS_BYTES
    nights: dict[NightRef, PreparedNight] = field(default_factory=dict)
    outlines: dict[NightRef, PreparedNight] = field(default_factory=dict)
    units: dict[NightRef, Fraction] = field(default_factory=dict)
    _locks: dict[NightRef, threading.RLock] = field(default_factory=dict, repr=False)
    _lock: threading.Lock = field(default_factory=threading.Lock, repr=False)

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """The rigs by groups that see each other."""
        return groups_of([rig.numbers for rig in self.rigs], self.projects)

    def group(self, refs: Sequence[NightRef]) -> Group:
        """The group of rigs that some nights are of, which must all be of one; the first if there is none."""
        return self._group_of_rig[refs[0].rig] if refs else self.groups[0]

    @cached_property
    def _group_of_rig(self) -> dict[int, Group]:
        return {rig: group for group in self.groups for rig in group.rigs}

    def numbers(self, ref: NightRef) -> Ints:
        """Of each task of a night, [tasks]: the number of its goal among those of its rig's group."""
        return self.group((ref,)).numbers[ref.rig]

    def unit(self, ref: NightRef) -> Fraction:
        """The weighted seconds in one unit of a night's profit."""
        known = self.units.get(ref)
        return self.outline(ref).problem.profit_unit if known is None else known

    def night(self, ref: NightRef) -> PreparedNight:
        """A night, prepared."""
        if (halted := getattr(_of_thread, "halted", None)) is not None and halted.is_set():
            raise HaltedError
        with self._lock:
            one_at_a_time = self._locks.setdefault(ref, threading.RLock())
        with one_at_a_time:
            with self._lock:
                night = self.nights.pop(ref, None)
            is_new = night is None
            if night is None:
                night = self._fetched(ref)
            with self._lock:
                self.nights[ref] = night  # the last is the one used last
                if is_new or night.problem.by_time:  # by depth they grow by a multiple as they are priced
                    self._make_room(self.nights)
        return night

    def outline(self, ref: NightRef) -> PreparedNight:
        """A night without what its subs count second by second, which is all that most questions need."""
        with self._lock:
            known = self.outlines.get(ref)
        return known or self._outlined(ref, self.night(ref).without_tables())

    def priced(self, ref: NightRef) -> PreparedNight:
        """An outline that `price` takes: by depth it holds what runs are worth by blocks of the sky."""
        with self._lock:
            known = self.outlines.get(ref)
        if known is not None and known.is_for_pricing:
            return known
        return self._outlined(ref, self.night(ref).for_pricing())

    def _outlined(self, ref: NightRef, night: PreparedNight) -> PreparedNight:
        with self._lock:
            self.outlines.pop(ref, None)
            self.outlines[ref] = night
            self._make_room(self.outlines)
        return night

    def _make_room(self, nights: dict[NightRef, PreparedNight]) -> None:
        """Let go of the nights not asked for longest, all but one, until the others are small enough."""
        held = {ref: night.held_bytes for ref, night in nights.items()}
        total = sum(held.values())
        for ref in list(nights)[:-1]:
            if total <= self.most_bytes:
                break
            total -= held[ref]
            del nights[ref]

    def _fetched(self, ref: NightRef) -> PreparedNight:
        """A night from the cache, or prepared and put there."""
        request = self._neutral[ref.rig]
        if self.cache is None:
            return _limited(prepare(request, ref.evening), self.rigs[ref.rig].request)
        key = content_key(
            "night", program_key(), self._rig_keys[ref.rig], request_on(request, ref.evening).night
        )
        kept = self.cache.get(key)
        night = None if kept is None else night_loaded(kept, request)
        if night is None:
            night = prepare(request, ref.evening)
            self.cache.put(key, night_stored(night, request))
        return _limited(night, self.rigs[ref.rig].request)

    @cached_property
    def _neutral(self) -> tuple[Request, ...]:
        """The request of each rig without what no night depends on."""
        return tuple(neutral(rig.request) for rig in self.rigs)

    @cached_property
    def _rig_keys(self) -> tuple[bytes, ...]:
        """The key of each of these requests, all but its night."""
        return tuple(
            content_key([getattr(each, name) for name in type(each).model_fields if name != "night"])
            for each in self._neutral
        )

    @cached_property
    def key(self) -> bytes:
        """What answers of jobs may depend on besides their tasks, as the key of its content."""
        return content_key(program_key(), self.rigs, self.projects)

    def __getstate__(self) -> dict[str, object]:
        """Only what cannot be made again: the rigs and the projects."""
        return {"rigs": self.rigs, "projects": self.projects}

    def __setstate__(self, state: dict[str, Any]) -> None:
        """A desk without nights and without a cache."""
        self.__init__(**state)  # type: ignore[misc]


def neutral(request: Request) -> Request:
    """A request without what no prepared night depends on, so that it serves whatever else is asked."""
    limits = {
        name: Aim.model_fields[name].get_default() for name in ("time_limit_s", "gap", "seed", "workers")
    }
    aim = request.aim.model_copy(update=limits)
    return without_counts(request.model_copy(update={"aim": aim, "season": None, "tally": None, "rig": ""}))


def _limited(night: PreparedNight, request: Request) -> PreparedNight:
    """The night with the limits of a search that its request names."""
    return replace(night, problem=replace(night.problem, limits=Limits.of(request)), grids={})


class Engine(Protocol):
    """Runs a job for many tasks."""

    @property
    def dashboard(self) -> str:
        """Address of a page that shows what the workers do; empty: there is none."""

    def run(self, job: Callable[..., T], tasks: Sequence[tuple[Any, ...]]) -> list[T]:
        """The answers in the order of the tasks."""

    def stream(self, job: Callable[..., T], tasks: Sequence[tuple[Any, ...]]) -> Iterator[T]:
        """The same, each as soon as it and all before it are there; whoever has enough may end it."""


@dataclass(frozen=True, eq=False)
class Inline:
    """An engine that does one task after the other where it is called."""

    desk: Desk
    dashboard: str = ""

    def run(self, job: Callable[..., T], tasks: Sequence[tuple[Any, ...]]) -> list[T]:
        """The answers in the order of the tasks."""
        return list(self.stream(job, tasks))

    def stream(self, job: Callable[..., T], tasks: Sequence[tuple[Any, ...]]) -> Iterator[T]:
        """The same, one by one."""
        for task in tasks:
            yield job(self.desk, *task)


@dataclass(frozen=True, eq=False)
class NightsOf(Sequence[PreparedNight]):
    """Nights of a desk in the order of `refs`, each fetched when it is asked for: not all are in memory."""

    desk: Desk
    refs: Sequence[NightRef]

    def __len__(self) -> int:
        """How many nights."""
        return len(self.refs)

    @overload
    def __getitem__(self, place: int) -> PreparedNight: ...
    @overload
    def __getitem__(self, place: slice) -> NightsOf: ...
    def __getitem__(self, place: int | slice) -> PreparedNight | NightsOf:
        """The night at a place, or those of a slice."""
        if isinstance(place, slice):
            return NightsOf(self.desk, self.refs[place])
        return self.desk.night(self.refs[place])


def blocks_of(refs: Sequence[NightRef], size: int = BLOCK) -> list[tuple[NightRef, ...]]:
    """The nights in their order by blocks of one size: what a task should have at least to do."""
    return [tuple(refs[first : first + size]) for first in range(0, len(refs), size)]
