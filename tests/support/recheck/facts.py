"""The written list as plain data, and what the sky and the mount allow at each second of its night.

Tolerances, one for all rules. Time: a span is held to what lies more than 1 s inside its ends (the planner's
sky and this one are 0.4 s apart for stars and the Sun, 0.9 s for the Moon: other ephemeris, no polar motion
here, spans that open rounded up and close rounded down). Angle, at turning points where a second covers
nothing: 1" for stars and the Sun (the pole that is left out, 0.5"), 15" for the Moon (10" between the two
theories). What is counted in whole seconds by both (lengths, focus, clear and blocked spans) has none.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests.support.recheck.moonlight import brightening_mag
from tests.support.recheck.sky import NIGHT_S, Body, NightSky

Flags = NDArray[np.bool_]
Row = dict[str, Any]

SLACK_S = 1
STAR_DEG = 1 / 3600
MOON_DEG = 15 / 3600
SIDEREAL = 1.00273790935
SUNSET_DEG = -50 / 60
LIMB_DEG = -34 / 60
SUN_LIMITS = {"civil": -6.0, "nautical": -12.0, "astronomical": -18.0, "sunset": SUNSET_DEG}
MOTIONS = ("slew", "flip")


class Finding(NamedTuple):
    """One broken rule: its name, the row's number (0: the list), what was found."""

    rule: str
    step: int
    detail: str


def whole(value: float) -> int:
    """A duration rounded up; what floating point adds to a whole number is no second."""
    return math.ceil(value - 1e-9)


@dataclass
class Allowed:
    """Seconds at which something is allowed, asked for spans in constant time."""

    flags: Flags
    _bad: NDArray[np.int64] = field(init=False)

    def __post_init__(self) -> None:
        self._bad = np.concatenate([[0], np.cumsum(~self.flags)])

    def all(self, first: int, last: int) -> bool:
        """At every second more than the slack inside the span, and at the middle of a short one."""
        first, last = first + SLACK_S, last - SLACK_S
        if first > last:
            return self.near((first + last) // 2)
        return bool(self._bad[last + 1] == self._bad[first])

    def near(self, second: int) -> bool:
        """At that second or within the slack of it."""
        return bool(self.flags[max(0, second - SLACK_S) : second + SLACK_S + 1].any())

    def surely(self, first: int, last: int) -> bool:
        """At every second of the span and the slack around it: allowed for any sky within the tolerance."""
        first, last = max(0, first - SLACK_S), min(last + SLACK_S, len(self.flags) - 1)
        return bool(self._bad[last + 1] == self._bad[first])


class Facts:
    """One list with its sky: rows as plain dictionaries, times as whole seconds after the night's origin."""

    def __init__(self, shots: dict[str, Any], sky: NightSky | None = None) -> None:
        self.request: dict[str, Any] = shots["request"]
        self.mount, self.site = self.request["mount"], self.request["site"]
        self.camera, self.focus = self.request["camera"], self.request["focus"]
        self.tail_s = self.camera["download_s"] + self.camera.get("overhead_s", 0.0)  # older lists have none
        self.targets = {target["name"]: target for target in self.request["targets"]}
        self.filters = {each["name"]: each for each in self.request["filters"]}
        self.rows: list[Row] = shots["steps"]
        if self.site["pressure_hpa"] > 0:
            raise ValueError("refracted altitudes are not judged here: give no pressure")
        self.sky = sky or NightSky(self.request, shots["night"]["ut1_utc_s"])
        self.start = [self.sky.second(row["start_utc"]) for row in self.rows]
        self.end = [self.sky.second(row["end_utc"]) for row in self.rows]
        self._allowed: dict[tuple[Any, ...], Allowed] = {}

    @property
    def german(self) -> bool:
        return bool(self.mount["kind"] == "german")

    def star(self, target: str) -> Body:
        return self.sky.star(self.targets[target]["ra_deg"], self.targets[target]["dec_deg"])

    # -- spans that are whole seconds for both -------------------------------------------------------

    @cached_property
    def clear_spans(self) -> list[list[int]]:
        spans = sorted([self.sky.second(a), self.sky.second(b)] for a, b in self.request["night"]["clear"])
        merged: list[list[int]] = []
        for first, last in spans:
            if merged and first <= merged[-1][1]:
                merged[-1][1] = max(merged[-1][1], last)
            else:
                merged.append([first, last])
        return merged

    @cached_property
    def blocked_spans(self) -> list[tuple[int, int]]:
        return [(self.sky.second(a), self.sky.second(b)) for a, b in self.request["night"]["blocked"]]

    def clear(self, first: int, last: int) -> bool:
        return not self.clear_spans or any(a <= first and last <= b for a, b in self.clear_spans)

    def unblocked(self, first: int, last: int) -> bool:
        return not any(a < last and first < b for a, b in self.blocked_spans)

    # -- the sky -----------------------------------------------------------------------------------

    def _known(self, key: tuple[Any, ...], flags: Any) -> Allowed:
        if key not in self._allowed:
            self._allowed[key] = Allowed(flags())
        return self._allowed[key]

    def sun_below(self, limit_deg: float) -> Allowed:
        return self._known(("sun", limit_deg), lambda: self.sky.sun.altitude_deg <= limit_deg + STAR_DEG)

    def dark(self, name: str) -> Allowed:
        darkness = self.filters[name]["darkness"]
        return self.sun_below(SUN_LIMITS[darkness] if isinstance(darkness, str) else float(darkness))

    def above(self, target: str, floor_deg: float) -> Allowed:
        return self._known(
            ("above", target, floor_deg), lambda: self.star(target).altitude_deg >= floor_deg - STAR_DEG
        )

    def floor_deg(self, target: str) -> float:
        own = self.targets[target]["floor_deg"]
        return float(self.site["floor_deg"] if own is None else own)

    def acquisition_deg(self, target: str) -> float:
        return 0.0 if self.site["skyline"] else min(self.site["floor_deg"], self.floor_deg(target))

    def over_skyline(self, target: str) -> Allowed:
        def flags() -> Flags:
            star, line = self.star(target), self.site["skyline"]
            if not line:
                return np.ones(len(star.altitude_deg), dtype=bool)
            azimuths = np.array([line[-1][0] - 360, *(pair[0] for pair in line), line[0][0] + 360])
            altitudes = np.array([line[-1][1], *(pair[1] for pair in line), line[0][1]])
            hidden = np.interp(star.azimuth_deg, azimuths, altitudes)
            return np.asarray(star.altitude_deg >= hidden - STAR_DEG)

        return self._known(("skyline", target), flags)

    def under_ceiling(self, target: str) -> Allowed:
        ceiling = self.site["ceiling_deg"] + STAR_DEG
        return self._known(("ceiling", target), lambda: self.star(target).altitude_deg <= ceiling)

    def far_from_moon(self, target: str, name: str, *, sure: bool = False) -> Allowed:
        """With `sure` by any Moon within its allowance, else by one of them: it may near a target slowly."""
        gap, allowance = self.filters[name]["moon_gap_deg"], -MOON_DEG if sure else MOON_DEG

        def flags() -> Flags:
            down = self.sky.moon_limb_deg <= LIMB_DEG + allowance
            if gap is None:
                return np.ones_like(down)
            return np.asarray(down | (self.moon_gap_deg(target) >= gap - allowance))

        return self._known(("gap", target, gap, sure), flags)

    def moon_gap_deg(self, target: str) -> NDArray[np.float64]:
        return self.sky.moon_gap_deg(self.targets[target]["ra_deg"], self.targets[target]["dec_deg"])

    def little_moonlight(self, target: str, name: str, *, sure: bool = False) -> Allowed:
        """As above."""
        most, factor = self.filters[name]["moonlight_mag"], self.filters[name]["moonlight_factor"]

        def flags() -> Flags:
            star, sky = self.star(target), self.sky
            if most is None:
                return np.ones(len(star.altitude_deg), dtype=bool)
            gap, alt = self.moon_gap_deg(target), sky.moon.altitude_deg
            # the least light that a Moon within its allowance gives; to be sure, the most
            light = [
                brightening_mag(
                    star.altitude_deg,
                    alt + up,
                    np.maximum(0.0, gap + aside),
                    sky.moon_phase_deg + (-MOON_DEG if sure else MOON_DEG),
                    self.site["zenith_sky_mag"],
                    self.site["extinction_mag"],
                    factor,
                )
                for up in (-MOON_DEG, MOON_DEG)
                for aside in (-MOON_DEG, MOON_DEG)
            ]
            return np.asarray((np.max(light, axis=0) if sure else np.min(light, axis=0)) <= most)

        return self._known(("light", target, most, factor, sure), flags)

    # -- the mount ---------------------------------------------------------------------------------

    @cached_property
    def contact_s(self) -> float:
        """L of the law before a flip by the mount is thought of, seconds of hour angle."""
        m = self.mount
        x = -m["clock_error_s"]
        if m["contact_min"] is not None:
            x = (m["contact_min"] - m["clearance_min"]) * 60 - m["clock_error_s"]
        return float(min(x, x * SIDEREAL))

    @cached_property
    def first_side_end_s(self) -> float:
        """L of the law, seconds of hour angle."""
        if self.mount["flip_by"] != "mount":
            return self.contact_s
        y = self.mount["flip_from_min"] * 60 - self.mount["clock_error_s"]
        return float(min(self.contact_s, y, y * SIDEREAL))

    @cached_property
    def flipped_side_start_s(self) -> float:
        """F of the law, seconds of hour angle."""
        m = self.mount
        y = m["flip_from_min"] * 60 + m["clock_error_s"]
        if y < 0:
            y = max(y, -m["contact_before_min"] * 60 + m["clearance_min"] * 60 + m["clock_error_s"])
        return float(max(y, y * SIDEREAL))

    def zone(self, target: str, side: str | None, reaching: bool = False) -> Allowed:
        """Where that pier side may track the target; a fork anywhere.

        `reaching`: the wait in which the mount tracks on until it flips by itself. It ends with the flip, which
        begins no sooner than the flipped side may track, after the first side's exposures must have ended;
        contact holds for it all the same.
        """
        if not self.german:
            return self._known(("everywhere",), lambda: np.ones(len(self.sky.sun.altitude_deg), dtype=bool))
        half_day, error = 43200.0, float(self.mount["clock_error_s"])
        last = self.contact_s if reaching else self.first_side_end_s

        def flags() -> Flags:
            at = self.star(target).hour_angle_s
            if side == "west":
                return np.asarray((at >= -half_day + error) & (at <= last))
            return np.asarray((at >= self.flipped_side_start_s) & (at <= half_day - error))

        return self._known(("zone", target, side, last), flags)

    def reaches_flip(self, index: int) -> bool:
        """Whether the row is the tracking wait before a flip that the mount does by itself."""
        row = self.rows[index]
        following = self.rows[index + 1]["kind"] if index + 1 < len(self.rows) else None
        waits = row["kind"] == "wait" and row["tracking"] and following == "flip"
        return bool(waits and self.mount["flip_by"] == "mount")

    def not_quiet(self, target: str) -> Allowed:
        quiet_s = self.mount["quiet_min"] * 60 if self.german else 0.0

        def flags() -> Flags:
            at = self.star(target).hour_angle_s
            return np.asarray((at <= -quiet_s) | (at >= 0))

        return self._known(("quiet", target), flags)

    def half(self, target: str, wanted: str) -> Allowed:
        """A fork's hour angles before (or after) the transit."""
        sign = -1 if wanted == "before" else 1
        return self._known(("half", target, wanted), lambda: self.star(target).hour_angle_s * sign > 0)

    # -- what stands in rows -----------------------------------------------------------------------

    def goal(self, row: Row) -> dict[str, Any] | None:
        """The goal that an exposure belongs to."""
        keys = ("filter", "exposure_s", "gain", "offset", "binning")
        target = self.targets.get(row["target"], {"goals": []})
        same = [goal for goal in target["goals"] if all(goal[key] == row[key] for key in keys)]
        return same[0] if same else None

    def closes(self, index: int) -> int:
        """When an exposure's shutter closes."""
        return self.start[index] + whole(self.rows[index]["exposure_s"])

    def least_s(self, row: Row) -> int:
        """The law's length of a step that does not move the axes; 0 for a wait."""
        kind, m = row["kind"], self.mount
        if kind == "expose":
            return whole(row["exposure_s"] + self.tail_s)
        lengths = {"centre": m["centre_s"], "settle": m["settle_s"], "rotate": 180 / m["rotator_deg_s"]}
        lengths |= {"focus": self.focus["run_s"], "dither": self.camera["dither_s"]}
        if kind == "filter" and row["filter"] in self.filters:
            lengths["filter"] = self.filters[row["filter"]]["change_s"]
        return whole(lengths.get(kind, 0.0))

    def within_night(self, second: int) -> bool:
        return 0 <= second <= NIGHT_S
