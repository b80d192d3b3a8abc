"""Where a list begins that goes on with a night: what was done before it, and how mount and camera stand."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from optimizer.models.base import FromList, Frozen, Name
from optimizer.models.rig import PierSide
from optimizer.models.site import Utc


class Begin(Frozen):
    """How mount and camera stand as the first step of a list begins.

    `target` is the one that the mount is on, on `pier_side` (None on a fork); None: the mount is parked at
    its home. `stands_since_utc` is when it ceased to track that target, None: it tracks. `acquired`: the
    target has been centred, the guiding has settled and the rotator was turned where it had to be, so subs
    may go on without a slew. `filter` is the one in the light path, None: not known. `focused_utc` is when
    the latest autofocus ended, None: not known, or none tonight. `focus_due`: an arrival or a change of
    filter asked for an autofocus that was not made, so one comes before the next sub. `undithered` counts
    subs since the latest dither in the run that was going on, whether or not an autofocus ended since; 0:
    none was. `open_s` are seconds of open shutter in the visit so far.
    """

    utc: Utc = Field(description="when the first step begins, UTC")
    target: Name | None = None
    pier_side: PierSide | None = None
    stands_since_utc: Utc | None = None
    acquired: bool = False
    filter: Name | None = None
    focused_utc: Utc | None = None
    focus_due: bool = False
    undithered: Annotated[int, Field(ge=0, le=1_000_000)] = 0
    open_s: Annotated[float, Field(ge=0, le=86400)] = 0.0


class Continues(Frozen):
    """Which list this one goes on with, and from where.

    `sha256` is that of the older list's JSON file. `steps_done` are the numbers of its steps that were done,
    the one that is still running as `now_utc` comes and is let end included. `told`: something of `begin` was
    told by a person, so it need not be what the older list says.
    """

    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    now_utc: Utc
    steps_done: Annotated[tuple[Annotated[int, Field(ge=1)], ...], FromList]
    begin: Begin
    told: bool = False
