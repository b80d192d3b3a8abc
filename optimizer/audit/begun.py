"""Where a list begins that goes on with a night, as the audit reads it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from optimizer.audit.clock import Clock
from optimizer.audit.rows import NO_SIDE, NO_TARGET, SIDES
from optimizer.models.continues import Begin
from optimizer.models.request import Request


@dataclass(frozen=True)
class Start:
    """How mount and camera stand before a row; instants are seconds after the night's origin.

    `target` is an index into the request, NO_TARGET where the mount is parked or the request does not know
    the name. `stands_since` is the second at which tracking ended (None: it tracks), `focused` the one at
    which the latest autofocus ended (None: not known).
    """

    begin: Begin
    second: int
    target: int
    side: int
    stands_since: int | None
    focused: int | None

    @classmethod
    def of(cls, request: Request, begin: Begin, clock: Clock) -> Start:
        """Read a beginning; whatever is unknown or impossible in it is kept, for the rules to name."""
        names = [target.name for target in request.targets]

        def seconds(instant: dt.datetime | None) -> int | None:
            return None if instant is None else clock.seconds(instant)

        return cls(
            begin=begin,
            second=clock.seconds(begin.utc),
            target=names.index(begin.target) if begin.target in names else NO_TARGET,
            side=SIDES.get(begin.pier_side, NO_SIDE),
            stands_since=seconds(begin.stands_since_utc),
            focused=seconds(begin.focused_utc),
        )

    @property
    def parked(self) -> bool:
        """Whether the mount is at its home."""
        return self.begin.target is None

    @property
    def tracks(self) -> bool:
        """Whether the mount follows its target."""
        return not self.parked and self.stands_since is None

    @property
    def tracked_until(self) -> int:
        """Second at which the mount was last seen to track."""
        return self.second if self.stands_since is None else self.stands_since
