"""Frames of a camera whose every second is laid by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any, Self

from optimizer.learn.acts import Learned
from optimizer.learn.rows import ActName, LearnedAct
from optimizer.models.request import Request
from optimizer.tally.frames import Frame
from tests.support.tally_cases import frame, request_of

FAR = {"name": "Cradle Nebula", "ra_deg": 52.297, "dec_deg": 31.31}
NEAR = {"name": "Andromeda", "ra_deg": 10.685, "dec_deg": 41.269}
GOALS = [
    {"filter": "L", "exposure_s": 120, "frames": 900},
    {"filter": "L", "exposure_s": 300, "frames": 900},
    {"filter": "Ha", "exposure_s": 300, "frames": 900},
]


def rig_request(*, goals: Iterable[dict[str, Any]] = GOALS, **tables: dict[str, Any]) -> Request:
    """Two targets, L and Ha; 3 s of download, a dither of 12 s after each 4 subs, autofocus of 150 s at will."""
    own = {
        "camera": {"download_s": 3, "dither_every": 4, "dither_s": 12},
        "focus": {"run_s": 150, "every_min": 0, "on_new_target": False, "on_filter_change": False},
        "mount": {"refocus_after_flip": False, "contact_min": 40, "clearance_min": 12},
    }
    for name, table in tables.items():
        own[name] = {**own.get(name, {}), **table}
    goals = list(goals)
    return request_of({**FAR, "goals": goals}, {**NEAR, "goals": goals}, **own)


class Camera:
    """Takes subs one after the other: `sub` opens and closes the shutter, `rest` lets seconds go by."""

    def __init__(self, begins: str = "2026-11-14T20:00:00.25", side: str | None = "east") -> None:
        self.now = dt.datetime.fromisoformat(begins).replace(tzinfo=dt.UTC)
        self.side = side
        self.target, self.filter, self.exposure_s = "Cradle Nebula", "L", 120.0
        self.frames: list[Frame] = []

    def sub(self, **keys: Any) -> Self:
        """One sub, and the instant is then that of its closing."""
        values = {
            "object": self.target,
            "filter": self.filter,
            "exposure_s": self.exposure_s,
            "pier_side": self.side,
            **keys,
        }
        name = f"{len(self.frames):05d}.fits"
        self.frames.append(frame(name, self.now.replace(tzinfo=None).isoformat(), **values))
        self.now += dt.timedelta(seconds=self.exposure_s)
        return self

    def rest(self, seconds: float) -> Self:
        """Let so many seconds go by."""
        self.now += dt.timedelta(seconds=seconds)
        return self

    def run(self, *gaps: float) -> Self:
        """A run: a sub, and another one after each of these gaps."""
        self.sub()
        for gap in gaps:
            self.rest(gap).sub()
        return self


def dithered(count: int, plain_s: float, dithered_s: float, every: int = 4) -> list[float]:
    """The gaps of a run of so many subs, those after each so many subs longer."""
    return [plain_s if place % every else dithered_s for place in range(1, count)]


def focused_run(camera: Camera, segments: int, subs: int, focus_s: float) -> None:
    """Segments of so many subs of 300 s, parted by an autofocus with a dither after it."""
    camera.exposure_s = 300.0
    for segment in range(segments):
        if segment:
            camera.rest(4.0 + focus_s + 14.0)
        camera.run(*dithered(subs, 4.0, 18.0))


def row(found: Learned, act: ActName, filter_name: str | None = None) -> LearnedAct:
    own = found.of(act, filter_name)
    assert own is not None
    return own


def aside(found: Learned) -> dict[str, int]:
    return {each.reason: each.count for each in found.set_aside}


def sums(found: Learned) -> dict[tuple[str, ...], LearnedAct]:
    return {each.acts: each for each in found.sums}
