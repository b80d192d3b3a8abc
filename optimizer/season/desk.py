"""What every job of a season works on: the rigs, and their nights as they are prepared.

A job is a function of this module's neighbours, `job(desk, *task)`, that depends on nothing but the desk's
rigs and its task, so that it may run in any process and its answer may be kept. An engine runs a job for many
tasks and returns the answers in the order of the tasks.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple, Protocol, TypeVar

import numpy as np

from optimizer.models.request import Request
from optimizer.season.prepared import PreparedNight, prepare
from optimizer.season.projects import Ints, Projects

T = TypeVar("T")
BLOCK = 6  # nights of one task


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
    """The rigs of a season and its projects; nights are prepared when they are first asked for."""

    rigs: tuple[Rig, ...]
    projects: Projects
    nights: dict[NightRef, PreparedNight] = field(default_factory=dict)

    def night(self, ref: NightRef) -> PreparedNight:
        """A night, prepared."""
        if ref not in self.nights:
            self.nights[ref] = prepare(self.rigs[ref.rig].request, ref.evening)
        return self.nights[ref]


class Engine(Protocol):
    """Runs a job for many tasks."""

    def run(self, job: Callable[..., T], tasks: Sequence[tuple[Any, ...]]) -> list[T]:
        """The answers in the order of the tasks."""


@dataclass(frozen=True, eq=False)
class Inline:
    """An engine that does one task after the other where it is called."""

    desk: Desk

    def run(self, job: Callable[..., T], tasks: Sequence[tuple[Any, ...]]) -> list[T]:
        """The answers in the order of the tasks."""
        return [job(self.desk, *task) for task in tasks]


def blocks_of(refs: Sequence[NightRef], size: int = BLOCK) -> list[tuple[NightRef, ...]]:
    """Nights one after the other in blocks of this many: what one task does must not depend on workers."""
    return [tuple(refs[first : first + size]) for first in range(0, len(refs), size)]
