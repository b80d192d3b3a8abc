"""Where the mount pointed before and after a gap: hour angles, pier sides, the planned motion between."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np

from optimizer.learn.gaps import Gap, Sub
from optimizer.models.request import Request
from optimizer.models.rig import PierSide
from optimizer.models.targets import Target
from optimizer.mount.axes import Axes, axes_at, slew_s
from optimizer.mount.zones import HALF_TURN_S, first_side_until_s, flipped_side_from_s
from optimizer.sky.bodies import NightSky
from optimizer.sky.clock import night_clock
from optimizer.sky.orientation import earth_orientation
from optimizer.sky.tracks import Track

FLIP_UNCLEAR = "the pier side is not told, and more than one gap may hold the flip"
SIDE_UNKNOWN = "the pier side is not known"
WRONG_TIME = "by the times of its night the Sun was up, or a target below the horizon: they may be local"
WAITS_FOR_FLIP = "the mount could not flip yet when the sub before was over"
EDGE_S = 60.0  # of hour angle, by which clocks may differ around the meridian


class Pointing:
    """Where the mount of a request points, for the nights of its frames."""

    def __init__(self, request: Request) -> None:
        """Nothing is computed before it is asked for."""
        self.request = request
        self._skies: dict[dt.date, NightSky] = {}
        self._tracks: dict[tuple[dt.date, str], Track] = {}
        mount = request.mount
        self.due_s, self.until_s = flipped_side_from_s(mount), first_side_until_s(mount)

    def _sky(self, evening: dt.date) -> NightSky:
        if evening not in self._skies:
            night, site = self.request.night.model_copy(update={"evening": evening}), self.request.site
            clock = night_clock(night, site)
            self._skies[evening] = NightSky(site, clock, earth_orientation(clock.middle))
        return self._skies[evening]

    def _track(self, evening: dt.date, target: Target) -> Track:
        key = evening, target.name
        if key not in self._tracks:
            self._tracks[key] = self._sky(evening).star(target.ra_deg, target.dec_deg)
        return self._tracks[key]

    def hour_angle_s(self, sub: Sub, at: dt.datetime) -> float:
        """Seconds of hour angle of a sub's target at an instant of its night."""
        sky = self._sky(sub.evening)
        times = np.array([sky.clock.seconds(at)])
        return float(self._track(sub.evening, sub.target).hour_angle_s(times)[0])

    def could_be_seen(self, sub: Sub) -> bool:
        """Whether the target was up and the Sun down when a sub began, by its time."""
        sky = self._sky(sub.evening)
        times = np.array([sky.clock.seconds(sub.begins_utc)])
        sun_deg = float(sky.sun.geometric_altitude_deg(times)[0])
        target_deg = float(self._track(sub.evening, sub.target).geometric_altitude_deg(times)[0])
        return sun_deg < 0 and target_deg > 0

    def side_of(self, sub: Sub) -> PierSide | None:
        """The pier side of a sub: as its header tells, else where only one is permitted; None: not known."""
        if sub.side is not None or not self.request.mount.flips:
            return sub.side
        opens_s = self.hour_angle_s(sub, sub.begins_utc)
        closes_s = self.hour_angle_s(sub, sub.closes_utc)
        if closes_s <= min(self.due_s, self.until_s) + EDGE_S:
            return "west"
        return "east" if opens_s >= max(self.due_s, self.until_s) - EDGE_S else None

    def motion_s(self, gap: Gap, left: dt.datetime) -> int | None:
        """Whole seconds that the axes are planned to move in a gap; None where a side is not known.

        `left` is when the mount leaves the first of its targets.
        """
        sides = self.side_of(gap.before), self.side_of(gap.after)
        if self.request.mount.flips and None in sides:
            return None
        start = self._axes(gap.before, left, sides[0])
        end = self._axes(gap.after, left, sides[1])
        return slew_s(self.request.mount, start, end)

    def _axes(self, sub: Sub, at: dt.datetime, side: PierSide | None) -> Axes:
        hour_angle_s = self.hour_angle_s(sub, at)
        return axes_at(hour_angle_s, sub.target.dec_deg, side, self.request.site.latitude_deg)

    def sides_differ(self, gap: Gap) -> bool:
        """Whether the pier side changes in a gap, as far as it is known."""
        sides = self.side_of(gap.before), self.side_of(gap.after)
        return None not in sides and sides[0] != sides[1]

    def waits_for_flip(self, gap: Gap) -> bool:
        """Whether the flipped side was not yet permitted when the sub before a flip was over."""
        camera = self.request.camera
        ready = gap.before.closes_utc + dt.timedelta(seconds=camera.download_s + camera.overhead_s)
        return self.hour_angle_s(gap.before, ready) < self.due_s - 5.0

    def with_flips(self, gaps: list[Gap]) -> list[Gap]:
        """Find the flips among the gaps of one target where no header tells the pier side.

        A flip lies where the hour angle passes what both sides permit. Of the gaps there it is the only one
        long enough for a flip and whatever else may lie there, or the only one long enough for a flip. If
        there are several, none of them tells anything.
        """
        mount = self.request.mount
        if not mount.flips or mount.flip_by == "never":
            return gaps
        found = list(gaps)
        by_target: dict[tuple[dt.date, str], list[int]] = {}
        for place, gap in enumerate(gaps):
            if self._may_flip(gap):
                by_target.setdefault((gap.before.evening, gap.before.target.name), []).append(place)
        for places in by_target.values():
            longest = [place for place in places if gaps[place].seconds >= self._surely_flip_s(gaps[place])]
            if mount.refocus_after_flip and len(longest) == 1:
                places = longest
            for place in places:
                gap = gaps[place]
                if len(places) > 1:
                    found[place] = replace(gap, broken=gap.broken or FLIP_UNCLEAR)
                    continue
                before, after = replace(gap.before, side="west"), replace(gap.after, side="east")
                found[place] = replace(gap, before=before, after=after, kind="flip")
        return found

    def _may_flip(self, gap: Gap) -> bool:
        """Whether a gap on one target whose pier sides are not told may hold its flip."""
        if gap.kind in ("slew", "flip") or (gap.before.side and gap.after.side):
            return False
        if gap.seconds < self._half_flip_s():
            return False
        closes_s = self.hour_angle_s(gap.before, gap.before.closes_utc)
        opens_s = self.hour_angle_s(gap.after, gap.after.begins_utc)
        within = closes_s <= max(self.until_s, self.due_s) + EDGE_S and opens_s >= self.due_s - EDGE_S
        return within and opens_s - closes_s < HALF_TURN_S

    def _half_flip_s(self) -> float:
        """Half of what the least flip is planned to take: what is shorter is none."""
        mount = self.request.mount
        motion_s = mount.slew_extra_s + 180.0 / mount.slew_deg_s
        return (motion_s + math.ceil(mount.centre_s) + math.ceil(mount.settle_s)) / 2

    def _surely_flip_s(self, gap: Gap) -> float:
        """What a gap does not reach that holds an autofocus and a change of filter, but no flip."""
        change_s = self.request.filter_named(gap.after.goal.filter).change_s if gap.kind == "filter" else 0.0
        return change_s + self.request.focus.run_s + self._half_flip_s()
