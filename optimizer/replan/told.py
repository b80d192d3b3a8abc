"""What is told of a night that goes another way: how it stands, and what shall become of its rest."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from optimizer.models.request import Request
from optimizer.models.rig import PierSide

Span = tuple[dt.datetime, dt.datetime]


@dataclass(frozen=True)
class Told:
    """What people say beside the older list; all instants are UTC and whole seconds.

    `now` is when the new list may take over. `done` are the numbers of the steps that were done, None: those
    that ended by now but for the subs `missing`, of which there is no image, and for the steps `not_yet` that
    a list so late as the images show it has not come to; `not_counted` says what else the images tell.
    `parked`: the mount is at its home; otherwise `at` (and `pier_side`, None on a fork) says what it is on,
    None: as the older list has it. `filter` and `focused`: what is in the light path, when the latest
    autofocus ended. Nothing is shot from `until` on or within `blocks`, and nothing of those `left_out`.
    """

    now: dt.datetime
    done: frozenset[int] | None = None
    missing: frozenset[int] = frozenset()
    not_yet: frozenset[int] = frozenset()
    not_counted: str | None = None
    parked: bool = False
    pier_side: PierSide | None = None
    at: str | None = None
    filter: str | None = None
    focused: dt.datetime | None = None
    drop_current: bool = False
    until: dt.datetime | None = None
    blocks: tuple[Span, ...] = ()
    left_out: frozenset[str] = field(default_factory=frozenset)

    @property
    def says_where(self) -> bool:
        """Whether something of mount and camera is told that the older list may not say."""
        return self.parked or self.at is not None or self.filter is not None or self.focused is not None

    def closed(self, start: dt.datetime, end: dt.datetime) -> bool:
        """Whether any of the time between two instants is told to be lost: in a block, or after `until`."""
        late = self.until is not None and end > self.until
        return late or any(start < ends and begins < end for begins, ends in self.blocks)


def targets_left_out(request: Request, without: tuple[str, ...], only: tuple[str, ...]) -> frozenset[str]:
    """The targets of a request that `without` names, or `only` does not name where it names any."""
    names = {target.name for target in request.targets}
    return frozenset(names & set(without) | (names - set(only) if only else set()))
