"""Where a plan begins: at home at dusk, or anywhere in a night, with mount and camera as they stand."""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimizer.models.continues import Begin
from optimizer.models.request import Request
from optimizer.models.rig import SIDES
from optimizer.models.targets import Target
from optimizer.mount.sides import side_windows
from optimizer.mount.zones import FULL_TURN_S, HALF_TURN_S, SIDEREAL_RATE
from optimizer.problem.rules import Rules
from optimizer.problem.slots import Slot, around, evenly, stretches_of, whole
from optimizer.sky.clock import night_clock
from optimizer.sky.windows import SkyWindows

STANDING = -1  # the index of the slot in which the mount stands as a plan begins
QUARTER_TURN_S = HALF_TURN_S / 2


@dataclass(frozen=True)
class Start:
    """How mount and camera stand at `at_s` seconds after the night's origin, before which nothing begins.

    `slot` is where the mount tracks until it leaves, None: it is at home. It is no slot of the problem: its
    index is `STANDING`, and it has no shutter. `still_s` is the second at which the mount stopped tracking
    there, if it did. What has been `acquired` goes on without a slew. `filter` is the one in the light path,
    None: not known; `focused_s` is when the latest autofocus ended, None: not known; with `focus_due` one
    must come before the first frame all the same. Of the visit so far, `undithered` counts the frames since
    the latest dither, and `open_s` the seconds of open shutter. `is_begun` tells a start in the middle of a
    night from its dusk.
    """

    at_s: int = 0
    slot: Slot | None = None
    still_s: int | None = None
    acquired: bool = False
    filter: str | None = None
    focused_s: int | None = None
    focus_due: bool = False
    undithered: int = 0
    open_s: float = 0.0
    is_begun: bool = False

    @property
    def left_s(self) -> int:
        """When the mount stopped tracking where it stands, or stops if nothing goes on there."""
        return self.at_s if self.still_s is None else self.still_s

    def stays_in(self, slot: Slot) -> bool:
        """Whether a visit of a slot, as the first of a plan, goes on with what is tracked: no slew before it.

        Only the first of its copies: the visit that goes on is one of those allowed on its target and side.
        """
        stands = self.slot
        return (
            stands is not None
            and self.acquired
            and self.still_s is None
            and not slot.copy
            and (slot.target.name, slot.side) == (stands.target.name, stands.side)
            and slot.work[0] <= self.at_s <= slot.work[1]
        )

    def is_flipped_on(self, target: Target) -> bool:
        """Whether the mount is on the flipped side of a target."""
        return self.slot is not None and (self.slot.target.name, self.slot.side) == (target.name, SIDES[1])

    def lead_s(self, rules: Rules) -> int:
        """Seconds of the dither with which a visit that goes on begins; 0 where none is due."""
        return rules.dither_s if self.dithers_first(rules) else 0

    def dithers_first(self, rules: Rules) -> bool:
        """Whether a visit that goes on begins with a dither: so the run before it keeps its dithers."""
        return self.undithered > 0 and rules.dither_every > 0


DUSK = Start()


def start_of(request: Request, sky: SkyWindows, begin: Begin | None) -> Start:
    """Read a start from where a list begins; None: the night's own, at home.

    Raises ValueError where the mount tracks a target that the request does not have: one that shall be shot
    no more must stay in the request, complete, as long as the mount stands on it.
    """
    if begin is None:
        return DUSK
    clock = night_clock(request.night, request.site)
    at_s = math.ceil(clock.seconds(begin.utc))
    slot, still_s = None, None
    if begin.stands_since_utc is not None:
        still_s = math.floor(clock.seconds(begin.stands_since_utc))
    if begin.target is not None:
        target = next((each for each in request.targets if each.name == begin.target), None)
        if target is None:
            raise ValueError(f"the mount tracks {begin.target!r}, which the request does not have")
        slot = _standing(request, sky, target, begin, at_s)
    return Start(
        at_s=at_s,
        slot=slot,
        still_s=still_s,
        acquired=begin.acquired,
        filter=begin.filter,
        focused_s=None if begin.focused_utc is None else math.floor(clock.seconds(begin.focused_utc)),
        focus_due=begin.focus_due,
        undithered=begin.undithered,
        open_s=begin.open_s,
        is_begun=True,
    )


def _standing(request: Request, sky: SkyWindows, target: Target, begin: Begin, at_s: int) -> Slot:
    """The slot in which the mount stands.

    Its spans are no more than this second where it should not be there, tracks no more, or has not acquired
    the target: then it does not track on until a flip.
    """
    windows, here = side_windows(request, sky, target, begin.pier_side), (at_s, at_s)
    works, stretches = whole(windows.work), stretches_of(sky, target)
    if begin.stands_since_utc is not None or not begin.acquired:
        works, stretches = [], []
    work = at_s, max(at_s, (around(here, works) or here)[1] - request.aim.slack_s)
    hour_angle_s, declination_deg, uneven_deg = evenly(sky[target.name].track, work, work)
    if begin.pier_side is not None:  # the axes count from the middle of the side's half of the sky
        middle_s = -QUARTER_TURN_S if begin.pier_side == SIDES[0] else QUARTER_TURN_S
        turned_s = hour_angle_s + SIDEREAL_RATE * at_s - middle_s
        hour_angle_s -= FULL_TURN_S * math.floor(turned_s / FULL_TURN_S + 0.5)
    return Slot(
        index=STANDING,
        target=target,
        side=begin.pier_side,
        stretch=around(here, stretches) or here,
        motion=work,
        work=work,
        shutter={},
        quiet=None,
        twin=STANDING,
        copy=0,
        hour_angle_s=hour_angle_s,
        declination_deg=declination_deg,
        uneven_deg=uneven_deg,
    )
