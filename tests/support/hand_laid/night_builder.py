"""Lays nights by hand, step after step, for the audit to judge; knows neither the planner nor the audit.

Positions come from astropy one by one, slews from the law's own formula. Nothing is optimised: the builder
does what its caller says.
"""

from __future__ import annotations

import datetime as dt
import math
import warnings
from functools import cached_property
from typing import Any

import numpy as np
from astropy import units as u
from astropy.coordinates import AltAz, EarthLocation, HADec, SkyCoord, get_body
from astropy.table import QTable
from astropy.time import Time
from astropy.utils import iers

from optimizer.models.request import Request
from optimizer.models.shots import Step
from optimizer.sky.orientation import earth_orientation

R = 1.00273790935


class Almanac:
    """Where things stand over one request's site; instants are aware datetimes or lists of them."""

    def __init__(self, request: Request) -> None:
        self.request = request
        site = request.site
        self.place = EarthLocation.from_geodetic(
            site.longitude_deg * u.deg, site.latitude_deg * u.deg, site.elevation_m * u.m
        )

    @cached_property
    def _table(self) -> iers.IERS:
        evening = dt.datetime.combine(self.request.night.evening, dt.time(23), tzinfo=dt.UTC)
        ut1, x, y = earth_orientation(evening, self.request.night.ut1_utc_s)
        return iers.IERS(
            QTable(
                {
                    "MJD": [30_000.0, 100_000.0] * u.d,
                    "UT1_UTC": [ut1, ut1] * u.s,
                    "PM_x": [x, x] * u.arcsec,
                    "PM_y": [y, y] * u.arcsec,
                    "dX_2000A": [0.0, 0.0] * u.arcsec,
                    "dY_2000A": [0.0, 0.0] * u.arcsec,
                }
            )
        )

    def _look(self, thing: SkyCoord | str, instants: list[dt.datetime], kind: type, **air: Any) -> SkyCoord:
        with iers.earth_orientation_table.set(self._table), warnings.catch_warnings():
            warnings.filterwarnings("ignore", message=".*dubious year")
            times = Time([each.replace(tzinfo=None) for each in instants], scale="utc")
            if isinstance(thing, str):
                thing = get_body(thing, times, self.place)
            return thing.transform_to(kind(obstime=times, location=self.place, **air))

    def star(self, name: str) -> SkyCoord:
        target = self.request.target_named(name)
        return SkyCoord(target.ra_deg * u.deg, target.dec_deg * u.deg)

    def hour_angle_s(self, name: str, *instants: dt.datetime) -> np.ndarray:
        turn = self._look(self.star(name), list(instants), HADec).ha.to_value(u.deg)
        return np.asarray(240 * ((turn + 180) % 360 - 180))

    def declination_deg(self, name: str, *instants: dt.datetime) -> np.ndarray:
        return np.asarray(self._look(self.star(name), list(instants), HADec).dec.to_value(u.deg))

    def altitude_deg(self, name: str, *instants: dt.datetime) -> np.ndarray:
        site = self.request.site
        air = (
            {
                "pressure": site.pressure_hpa * u.hPa,
                "temperature": site.temperature_c * u.deg_C,
                "relative_humidity": site.humidity,
                "obswl": 0.55 * u.um,
            }
            if site.pressure_hpa
            else {}
        )
        return np.asarray(self._look(self.star(name), list(instants), AltAz, **air).alt.to_value(u.deg))

    def azimuth_deg(self, name: str, *instants: dt.datetime) -> np.ndarray:
        return np.asarray(self._look(self.star(name), list(instants), AltAz).az.to_value(u.deg))

    def body_altitude_deg(self, body: str, *instants: dt.datetime) -> np.ndarray:
        return np.asarray(self._look(body, list(instants), AltAz).alt.to_value(u.deg))

    def moon_separation_deg(self, name: str, *instants: dt.datetime) -> np.ndarray:
        star = self._look(self.star(name), list(instants), AltAz)
        moon = self._look("moon", list(instants), AltAz)
        return np.asarray(
            star.separation(SkyCoord(moon.az, moon.alt, frame=star.frame.replicate_without_data())).deg
        )

    def when_hour_angle(self, name: str, hour_angle_s: float, near: dt.datetime) -> dt.datetime:
        """The whole second nearest to that hour angle, nearest to an instant."""
        found = near
        for _ in range(3):
            ahead = (hour_angle_s - self.hour_angle_s(name, found)[0] + 43200) % 86400 - 43200
            found += dt.timedelta(seconds=round(ahead / R))
        return found


class NightBuilder:
    """Appends steps at `now`; `target` and `side` are where the mount is."""

    def __init__(self, request: Request, start: dt.datetime) -> None:
        self.request, self.now = request, start
        self.almanac = Almanac(request)
        self.rows: list[dict[str, Any]] = []
        self.target: str | None = None
        self.side: str | None = None
        self.filter: str | None = None
        self.tracked_until: dt.datetime | None = None

    def _add(self, kind: str, seconds: float, *, named: bool = True, **columns: Any) -> None:
        end = self.now + dt.timedelta(seconds=math.ceil(seconds))
        row: dict[str, Any] = {
            "step": len(self.rows) + 1,
            "kind": kind,
            "start_utc": self.now,
            "end_utc": end,
        }
        row["tracking"] = True
        if named and self.target is not None:
            target = self.request.target_named(self.target)
            turned = self.side == "east" and not self.request.mount.turn_rotator_after_flip
            row |= {
                "target": self.target,
                "ra_deg": target.ra_deg,
                "dec_deg": target.dec_deg,
                "position_angle_deg": (target.position_angle_deg + (180 if turned else 0)) % 360,
                "pier_side": self.side,
            }
        self.rows.append(row | columns)
        self.now = self.tracked_until = end

    def _axes(self, name: str | None, side: str | None, instant: dt.datetime | None) -> tuple[float, float]:
        if name is None or instant is None:
            return 0.0, 0.0
        turn = float(self.almanac.hour_angle_s(name, instant)[0]) / 240
        polar = 90 - math.copysign(1, self.request.site.latitude_deg) * float(
            self.almanac.declination_deg(name, instant)[0]
        )
        if side is None:
            return turn, polar
        return (turn + 90, polar) if side == "west" else (turn - 90, -polar)

    def _way_s(self, to: tuple[float, float]) -> int:
        """Length of a move by the law, a second longer where rounding could decide."""
        mount = self.request.mount
        hour, declination = self._axes(self.target, self.side, self.tracked_until)
        turn = abs(to[0] - hour)
        if self.side is None and mount.kind == "fork":
            turn = min(turn % 360, 360 - turn % 360)
        return math.ceil(mount.slew_extra_s + max(turn, abs(to[1] - declination)) / mount.slew_deg_s + 0.01)

    def move(self, kind: str, target: str, side: str | None) -> NightBuilder:
        seconds = self._way_s(self._axes(target, side, self.now))
        before, self.target, self.side = self.side, target, side
        self._add(kind, seconds)
        mount = self.request.mount
        for act, lasts in (("centre", mount.centre_s), ("settle", mount.settle_s)):
            if lasts:
                self._add(act, lasts)
        if mount.turn_rotator_after_flip and before is not None and before != side:
            self._add("rotate", 180 / mount.rotator_deg_s)
        if kind == "slew":
            self.filter = None
        return self

    def slew(self, target: str, side: str | None = None) -> NightBuilder:
        return self.move("slew", target, side)

    def flip(self) -> NightBuilder:
        assert self.target is not None
        return self.move("flip", self.target, "east")

    def set_filter(self, name: str) -> NightBuilder:
        self.filter = name
        self._add("filter", self.request.filter_named(name).change_s, filter=name)
        return self

    def focus(self) -> NightBuilder:
        self._add("focus", self.request.focus.run_s, filter=self.filter)
        return self

    def dither(self) -> NightBuilder:
        self._add("dither", self.request.camera.dither_s, filter=self.filter)
        return self

    def expose(self, count: int = 1, goal: int = 0) -> NightBuilder:
        """`count` exposures of a goal of the target, dithered as the camera wants; sets no filter."""
        target = self.request.target_named(self.target or "")
        wanted, camera = target.goals[goal], self.request.camera
        for number in range(count):
            if number and camera.dither_every and number % camera.dither_every == 0:
                self.dither()
            self._add(
                "expose",
                wanted.exposure_s + camera.download_s + camera.overhead_s,
                filter=wanted.filter,
                exposure_s=wanted.exposure_s,
                gain=wanted.gain,
                offset=wanted.offset,
                binning=wanted.binning,
            )
        return self

    def wait_until(self, instant: dt.datetime, *, tracking: bool = False) -> NightBuilder:
        tracked = self.tracked_until
        self._add("wait", (instant - self.now).total_seconds(), named=tracking, tracking=tracking)
        if not tracking:
            self.tracked_until = tracked
        return self

    def until_hour_angle(self, hour_angle_s: float, *, tracking: bool = False) -> NightBuilder:
        """Wait for the first whole second at or after an hour angle of the target."""
        assert self.target is not None
        instant = self.almanac.when_hour_angle(self.target, hour_angle_s, self.now)
        if self.almanac.hour_angle_s(self.target, instant)[0] < hour_angle_s:
            instant += dt.timedelta(seconds=1)
        return self.wait_until(instant, tracking=tracking)

    def park(self) -> NightBuilder:
        seconds = self._way_s((0.0, 0.0))
        self._add("park", seconds, named=False, tracking=False)
        return self

    def steps(self) -> tuple[Step, ...]:
        """The steps with every column of the sky filled in, and their own start as the latest one."""
        named = [row for row in self.rows if row.get("target")]
        for name in {row["target"] for row in named}:
            rows = [row for row in named if row["target"] == name]
            instants = [row["start_utc"] for row in rows]
            altitude = self.almanac.altitude_deg(name, *instants)
            columns = {
                "hour_angle_h": (self.almanac.hour_angle_s(name, *instants) / 3600, 6),
                "altitude_deg": (altitude, 4),
                "azimuth_deg": (self.almanac.azimuth_deg(name, *instants), 4),
                "airmass": (
                    1 / (np.sin(np.radians(altitude)) + 0.50572 * (altitude + 6.07995) ** -1.6364),
                    4,
                ),
                "moon_separation_deg": (self.almanac.moon_separation_deg(name, *instants), 4),
            }
            for column, (values, digits) in columns.items():
                for row, value in zip(rows, values, strict=True):
                    row[column] = round(float(value), digits)
        for row in self.rows:
            if row["kind"] in ("expose", "flip"):
                row["latest_start_utc"] = row["start_utc"]
        return tuple(Step(**row) for row in self.rows)
