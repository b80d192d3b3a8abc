"""A shot list driven on the simulated devices of the open device protocol, with a clock that runs fast.

The devices are Debian's `indi-bin`, the clock is its `faketime`. The executor and the devices live in namespaces of
their own: the server listens on all networks, and there it finds none but its own loopback; what they start ends with
them; and the clock's shared memory is theirs alone.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import os
import shutil
import subprocess
import sys
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from optimizer.diagnostics.object_places import separation_deg
from optimizer.models.shots import ShotList, Step
from optimizer.pace.aligned import Aligned
from optimizer.tally.places import icrs_of_frame
from tests.support.outside.simulated_rig import DRIVERS

ROOT = Path(__file__).parents[3]
DEMO = ROOT / "plans/first-night"
# Whoever starts it may end without ending it: then it is killed, and with it all that it started. Where it may, it goes
# before other processes: at such a pace a tenth of a second is half a minute of the night.
UNTIL_ENDED = ("setpriv", "--pdeathsig", "KILL")
AHEAD = ("nice", "-n", "-15")
APART = (*AHEAD, *UNTIL_ENDED, "unshare", "-r", "-n", "-m", "-p", "--fork", "--kill-child")
ALONE = "ip link set lo up && mount -t tmpfs tmpfs /dev/shm"
SETTING_UP_S = 4  # by the clock on the wall, before the list's first step
AXIS_DEG_S = 6.0  # by which each axis of the simulated mount turns; both turn at once
ROUNDING_S = 1.0  # the list has whole seconds


@dataclass(frozen=True)
class Act:
    """A step as it went, from when to when; `turned_deg` is how far the axis turned that turned farther.

    None where the step is no slew or flip.
    """

    step: Step
    begins_utc: dt.datetime
    ends_utc: dt.datetime
    turned_deg: float | None = None

    @property
    def seconds(self) -> float:
        """How long it took."""
        return (self.ends_utc - self.begins_utc).total_seconds()

    @property
    def late_s(self) -> float:
        """How much later than planned it began."""
        return (self.begins_utc - self.step.start_utc).total_seconds()


@dataclass(frozen=True)
class Driven:
    """A list as it was driven: what was done, and the pier sides that the mount told, each from an instant on."""

    shots: ShotList
    rate: int
    acts: tuple[Act, ...]
    sides: tuple[tuple[dt.datetime, str | None], ...]

    def of_kind(self, *kinds: str) -> tuple[Act, ...]:
        """The acts of some kinds."""
        return tuple(each for each in self.acts if each.step.kind in kinds)

    def sides_in(self, begins: dt.datetime, ends: dt.datetime) -> set[str | None]:
        """All pier sides that the mount was on in a span."""
        first = bisect_right(self.sides, begins, key=lambda each: each[0]) - 1
        told = self.sides[max(0, first) :]
        return {side for at, side in told if at <= ends} | ({None} if first < 0 else set())

    @property
    def skipped(self) -> tuple[Step, ...]:
        """The steps that were not done."""
        done = {each.step.step for each in self.acts}
        return tuple(step for step in self.shots.steps if step.step not in done)


@cache
def cannot_drive() -> str | None:
    """Why this machine cannot drive a list, in words; None where it can."""
    programs = ("nice", "setpriv", "unshare", "ip", "mount", "faketime", "indiserver", *DRIVERS)
    lacking = [name for name in programs if shutil.which(name) is None]
    if lacking:
        return f"not installed: {', '.join(lacking)} (Debian: indi-bin, faketime, iproute2)"
    tried = subprocess.run(
        (*APART, "sh", "-c", ALONE), capture_output=True, text=True, timeout=30, check=False
    )
    return f"no namespace of its own: {tried.stderr.strip()}" if tried.returncode else None


def drive(shots: ShotList, folder: Path, rate: int, most_s: float) -> Driven:
    """Run a list, `rate` times as fast as the clock on the wall, its images in a folder that is made.

    Whatever has not ended after `most_s` seconds on the wall is ended, and `subprocess.TimeoutExpired` raised.
    """
    folder.mkdir(parents=True)
    job, log = folder / "job.json", folder / "log.json"
    job.write_text(json.dumps(_job(shots, folder)), encoding="utf-8")
    begins = shots.steps[0].start_utc - dt.timedelta(seconds=SETTING_UP_S * rate)
    clock = f"@{begins:%Y-%m-%d %H:%M:%S} x{rate}"
    python = (sys.executable, "-m", "tests.support.outside.driven", str(job), str(log))
    subprocess.run(
        (*APART, "sh", "-c", f'{ALONE} && exec faketime -m -f "$@"', "sh", clock, *python),
        cwd=ROOT,
        env={**os.environ, "TZ": "UTC"},
        timeout=most_s,
        check=True,
    )
    return read_log(shots, rate, json.loads(log.read_text(encoding="utf-8")))


def read_log(shots: ShotList, rate: int, log: dict[str, Any]) -> Driven:
    """What the executor wrote down."""
    steps = {step.step: step for step in shots.steps}
    return Driven(
        shots,
        rate,
        tuple(
            Act(steps[each["step"]], _at(each["begins_s"]), _at(each["ends_s"]), _turned_deg(each))
            for each in log["acts"]
        ),
        tuple((_at(at_s), side) for at_s, side in log["sides"]),
    )


def on_a_wrong_side(driven: Driven) -> list[Act]:
    """The subs during which the mount was ever on another side than planned, or did not say on which."""
    return [
        each
        for each in driven.of_kind("expose")
        if driven.sides_in(each.begins_utc, each.ends_utc) != {each.step.pier_side}
    ]


def not_flipped(driven: Driven) -> list[Act]:
    """The flips that did not take the mount from one side to the other as planned."""
    return [
        each
        for each in driven.of_kind("flip")
        if driven.sides_in(each.begins_utc, each.begins_utc) == {each.step.pier_side}
        or driven.sides_in(each.ends_utc, each.ends_utc) != {each.step.pier_side}
    ]


def at_planned_speed_s(driven: Driven, act: Act) -> float:
    """How long a slew or flip would have taken at the request's speed, `slew_extra_s` included, in seconds.

    The simulated mount turns its axes at `AXIS_DEG_S` with nothing added: faster than the request says of its own
    mount, so that its time alone would show little. How far it turns does not depend on its speed.
    """
    mount = driven.shots.request.mount
    return mount.slew_extra_s + (act.turned_deg or 0.0) / mount.slew_deg_s


def too_long(driven: Driven) -> list[Act]:
    """The slews and flips that took longer than planned, or would have at the request's speed."""
    return [
        each
        for each in driven.of_kind("slew", "flip")
        if max(each.seconds, at_planned_speed_s(driven, each)) > each.step.seconds + ROUNDING_S
    ]


def farthest_off_deg(found: Aligned) -> float:
    """How far from where the list has the target the camera says that the mount pointed, at most, in degrees."""
    off_deg = 0.0
    for each in found.taken:
        place = icrs_of_frame(each.frame)
        assert place is not None
        assert each.step.ra_deg is not None
        assert each.step.dec_deg is not None
        off_deg = max(off_deg, separation_deg(*place, each.step.ra_deg, each.step.dec_deg))
    return off_deg


def table(driven: Driven) -> list[str]:
    """Slews, flips and the subs beside them: planned and measured times, lengths and sides, as Markdown."""
    rows = [
        "| step | what | planned UTC | began later by | planned length | measured | turned | at the request's speed "
        "| planned side | measured |",
        "|---:|---|---|---:|---:|---:|---:|---:|---|---|",
    ]
    for before, each, after in zip((None, *driven.acts), driven.acts, (*driven.acts[1:], None), strict=False):
        step = each.step
        beside = any(
            other is not None and other.step.kind in ("slew", "flip", "centre", "wait", "park", "focus")
            for other in (before, after)
        )
        if step.kind in ("slew", "flip", "park") or (step.kind == "expose" and beside):
            sides = driven.sides_in(
                each.ends_utc if step.kind != "expose" else each.begins_utc, each.ends_utc
            )
            what = " ".join(word for word in (step.kind, step.target, step.filter) if word)
            turned = "- | -"
            if each.turned_deg is not None:
                turned = f"{each.turned_deg:.1f}° | {at_planned_speed_s(driven, each):.1f} s"
            rows.append(
                f"| {step.step} | {what} | "
                f"{step.start_utc:%H:%M:%S} | {each.late_s:.1f} s | {step.seconds} s | {each.seconds:.1f} s | "
                f"{turned} | {step.pier_side or '-'} | {', '.join(sorted(map(str, sides)))} |"
            )
    return rows


def _turned_deg(act: dict[str, Any]) -> float | None:
    if "axes_before_deg" not in act:
        return None
    both = zip(act["axes_before_deg"], act["axes_after_deg"], strict=True)
    return max(abs(math.remainder(after - before, 360)) for before, after in both)


def _at(seconds: float) -> dt.datetime:
    return dt.datetime.fromtimestamp(seconds, dt.UTC)


def _job(shots: ShotList, folder: Path) -> dict[str, object]:
    site = shots.request.site
    return {
        "folder": str(folder),
        "site": {key: getattr(site, key) for key in ("latitude_deg", "longitude_deg", "elevation_m")},
        "filters": [each.name for each in shots.request.filters],
        "places": _places(shots.steps),
        "steps": [
            {
                **step.model_dump(
                    mode="json", include={"step", "kind", "target", "filter", "exposure_s", "tracking"}
                ),
                "start_s": step.start_utc.timestamp(),
                "end_s": step.end_utc.timestamp(),
                "latest_s": step.latest_start_utc.timestamp() if step.latest_start_utc else None,
            }
            for step in shots.steps
        ],
    }


def _places(steps: Sequence[Step]) -> dict[str, tuple[float, float]]:
    """Right ascension in hours and declination in degrees of date, by equinox and equator, as the protocol asks."""
    import erfa
    import numpy as np

    middle = steps[len(steps) // 2].start_utc
    day1, day2 = erfa.dtf2d("UTC", middle.year, middle.month, middle.day, middle.hour, middle.minute, 0.0)
    places = {}
    for step in steps:
        if step.target is not None and step.ra_deg is not None and step.dec_deg is not None:
            ra, dec, origins = erfa.atci13(
                np.radians(step.ra_deg), np.radians(step.dec_deg), 0, 0, 0, 0, day1, day2
            )
            hours = float(np.degrees(erfa.anp(ra - origins))) / 15
            places[step.target] = (hours, float(np.degrees(dec)))
    return places
