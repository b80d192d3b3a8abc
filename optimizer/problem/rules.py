"""Every number of a request that the packing needs, in one frozen record."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from optimizer.models.request import Request
from optimizer.mount.zones import carries_across
from optimizer.problem.tasks import profit_varies


@dataclass(frozen=True)
class Rules:
    """What the rig, the site and the aim ask of a plan. Lengths of acts are whole seconds, rounded up.

    `focus_every_s` is the longest time from the end of a focus run to the closing of a shutter, None where no
    cadence is asked for. A dither follows every `dither_every` frames, none where that is 0.
    """

    centre_s: int
    settle_s: int
    rotate_s: int
    focus_s: int
    dither_s: int
    dither_every: int
    focus_every_s: int | None
    focus_on_new_target: bool
    focus_on_filter_change: bool
    focus_after_flip: bool
    focus_leaves_target: bool
    flips: bool  # a German mount; a fork does not
    flip_by: Literal["plan", "mount", "never"]
    carries_across: bool  # a flip can keep one target across the meridian
    rotates_after_flip: bool
    slew_deg_s: float
    slew_extra_s: float
    latitude_deg: float
    by_time: bool  # a frame's profit depends on when it is taken

    @classmethod
    def of(cls, request: Request) -> Rules:
        """Read them from a request."""
        mount, focus = request.mount, request.focus
        return cls(
            centre_s=math.ceil(mount.centre_s),
            settle_s=math.ceil(mount.settle_s),
            rotate_s=math.ceil(180 / mount.rotator_deg_s),
            focus_s=math.ceil(focus.run_s),
            dither_s=math.ceil(request.camera.dither_s),
            dither_every=request.camera.dither_every,
            focus_every_s=math.floor(focus.every_min * 60) if focus.every_min > 0 else None,
            focus_on_new_target=focus.on_new_target,
            focus_on_filter_change=focus.on_filter_change,
            focus_after_flip=mount.refocus_after_flip,
            focus_leaves_target=focus.leaves_target,
            flips=mount.flips,
            flip_by=mount.flip_by,
            carries_across=carries_across(mount),
            rotates_after_flip=mount.turn_rotator_after_flip,
            slew_deg_s=mount.slew_deg_s,
            slew_extra_s=mount.slew_extra_s,
            latitude_deg=request.site.latitude_deg,
            by_time=profit_varies(request),
        )


@dataclass(frozen=True)
class Limits:
    """How long a search may take, how near to the bound is near enough, and what makes it repeatable.

    `workers` is the number of searches that take turns, 0: as many as the machine has processors. With one
    the search counts its work instead of the seconds, so that every run gives the same plan.
    """

    time_limit_s: float
    gap: float
    seed: int
    workers: int

    @classmethod
    def of(cls, request: Request) -> Limits:
        """Read them from a request."""
        aim = request.aim
        return cls(aim.time_limit_s, aim.gap, aim.seed, aim.workers)
