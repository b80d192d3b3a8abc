"""The files that a simulated camera writes: when each is there, its bytes, and the frames that a reader finds."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from optimizer.models.shots import ShotList, Step
from optimizer.tally.frames import Frame
from tests.support.executing import Done
from tests.support.fits_files import BLOCK, raw_frame

Damage = Literal["cut_short", "broken_header", "not_fits"]
HEADER_BLOCKS_WITHOUT_END = 401  # more than a reader looks through
COPIED_AFTER_S = 20.0
PIECES = 8  # in which a file grows that is written slowly


@dataclass(frozen=True)
class File:
    """A file of the camera: there from `appears_utc` on, whole from `whole_utc` on, or as `damage` says.

    `step` is the sub, or the step at whose end a dark frame was taken. `date_obs` is the text in its header, by
    the camera's clock; `taken_utc` when the shutter really opened.
    """

    name: str
    step: Step
    kind: Literal["light", "dark"]
    exposure_s: float
    taken_utc: dt.datetime
    date_obs: str
    appears_utc: dt.datetime
    whole_utc: dt.datetime
    damage: Damage | None = None
    leaves_out: frozenset[str] = frozenset()

    @cached_property
    def content(self) -> bytes:
        """All that is ever in the file."""
        if self.damage == "not_fits":
            return b"no image, but some text that a program left here\n" * 40
        whole = raw_frame(*(_card(key, value) for key, value in self._cards().items()))
        if self.damage == "broken_header":
            return whole[: 5 * 80] + b"COMMENT".ljust(80) * (HEADER_BLOCKS_WITHOUT_END * BLOCK // 80)
        return whole[: len(whole) - 1000] if self.damage == "cut_short" else whole

    def content_at(self, now: dt.datetime) -> bytes:
        """What is in it at an instant from its appearance on."""
        if now >= self.whole_utc:
            return self.content
        share = (now - self.appears_utc) / (self.whole_utc - self.appears_utc)
        return self.content[: len(self.content) * int(share * PIECES) // PIECES]

    def _cards(self) -> dict[str, str | float | int]:
        step = self.step
        told: dict[str, str | float | int | None] = {
            "IMAGETYP": "Light Frame" if self.kind == "light" else "Dark Frame",
            "EXPTIME": self.exposure_s,
            "DATE-OBS": self.date_obs,
            "XBINNING": step.binning or 1,
            "YBINNING": step.binning or 1,
        }
        if self.kind == "light":
            told |= {
                "OBJECT": step.target,
                "FILTER": step.filter,
                "RA": step.ra_deg,
                "DEC": step.dec_deg,
                "GAIN": step.gain,
                "OFFSET": step.offset,
                "PIERSIDE": None if step.pier_side is None else step.pier_side.upper(),
            }
        return {key: value for key, value in told.items() if value is not None and key not in self.leaves_out}

    def frame(self, folder: Path) -> Frame:
        """The frame that a reader makes of it, where it is whole and sound."""
        cards = self._cards()
        used = {field: key for field, key in _FIELDS.items() if key in cards and field != "date_obs"}
        side = cards.get("PIERSIDE")
        values = {field: cards.get(key) for field, key in _FIELDS.items() if field not in _OTHERWISE}
        for field in ("exposure_s", "gain", "offset"):
            values[field] = None if values[field] is None else float(values[field] or 0.0)
        return Frame(
            path=folder / self.name,
            name=Path(self.name).name,
            size_bytes=len(self.content),
            kind=self.kind,
            taken_utc=dt.datetime.fromisoformat(self.date_obs).replace(tzinfo=dt.UTC),
            pier_side=None if side is None else "west" if side == "WEST" else "east",
            used=MappingProxyType(used),
            **values,  # type: ignore[arg-type]
        )


_FIELDS = {
    "object": "OBJECT",
    "filter": "FILTER",
    "exposure_s": "EXPTIME",
    "taken_utc": "DATE-OBS",
    "date_obs": "DATE-OBS",
    "ra_deg": "RA",
    "dec_deg": "DEC",
    "gain": "GAIN",
    "offset": "OFFSET",
    "binning": "XBINNING",
    "pier_side": "PIERSIDE",
    "kind": "IMAGETYP",
}
_OTHERWISE = ("taken_utc", "pier_side", "kind")


@dataclass(frozen=True)
class Camera:
    """How a camera names and dates its files, and how quickly they are there.

    `clock_off_s` is by how much its clock is ahead. `whole_seconds`: DATE-OBS without a fraction, cut off, else to
    the millisecond. A file appears once it is read out, as the request's `download_s` has it, and is whole
    `written_over_s` later. `leaves_out` are keywords that it does not write.
    """

    clock_off_s: float = 0.0
    whole_seconds: bool = False
    written_over_s: float = 0.0
    leaves_out: Collection[str] = ()

    def files(
        self,
        shots: ShotList,
        done: Iterable[Done],
        *,
        darks: Mapping[int, float],
        lost: Collection[int],
        damaged: Mapping[int, Damage],
        copies: Collection[int],
        appears_late: Mapping[int, float],
    ) -> tuple[File, ...]:
        """The files of a night in the order in which they appear."""
        found: list[File] = []
        for each in done:
            number = each.step.step
            if each.step.kind == "expose" and number not in lost:
                read_out_s = shots.request.camera.download_s + appears_late.get(number, 0.0)
                light = self._file(
                    each.step, each.start_utc, each.step.exposure_s or 0.0, read_out_s, "light"
                )
                found.append(replace(light, damage=damaged.get(number)))
                if number in copies:
                    found.append(_copied(light))
            if number in darks:
                dark_s = darks[number]
                begins = each.end_utc - dt.timedelta(seconds=dark_s + 2.0)
                found.append(self._file(each.step, begins, dark_s, 1.0, "dark"))
        return tuple(sorted(found, key=lambda file: file.appears_utc))

    def _file(
        self,
        step: Step,
        taken: dt.datetime,
        exposure_s: float,
        read_out_s: float,
        kind: Literal["light", "dark"],
    ) -> File:
        appears = taken + dt.timedelta(seconds=exposure_s + read_out_s)
        by_camera = (taken + dt.timedelta(seconds=self.clock_off_s)).replace(tzinfo=None)
        return File(
            name=f"{kind}-{step.step:04d}.fits",
            step=step,
            kind=kind,
            exposure_s=exposure_s,
            taken_utc=taken,
            date_obs=by_camera.isoformat(timespec="seconds" if self.whole_seconds else "milliseconds"),
            appears_utc=appears,
            whole_utc=appears + dt.timedelta(seconds=self.written_over_s),
            leaves_out=frozenset(self.leaves_out),
        )


def _copied(file: File) -> File:
    later = dt.timedelta(seconds=COPIED_AFTER_S)
    return replace(
        file,
        name=f"copies/{file.name}",
        appears_utc=file.appears_utc + later,
        whole_utc=file.whole_utc + later,
    )


def frames_of(files: Sequence[File], folder: Path, now: dt.datetime | None) -> list[Frame]:
    """The whole and sound files as frames, in the order of their names; all of the night's where `now` is None."""
    there = [file for file in files if file.damage is None and (now is None or file.whole_utc <= now)]
    return [file.frame(folder) for file in sorted(there, key=lambda file: Path(file.name).parts)]


def write_files(files: Sequence[File], folder: Path, now: dt.datetime) -> None:
    """Make a folder as it is at an instant, the times of change of its files as well."""
    folder.mkdir(parents=True, exist_ok=True)
    for file in files:
        if file.appears_utc > now:
            continue
        path, content = folder / file.name, file.content_at(now)
        changed = min(now, file.whole_utc).timestamp()
        if path.exists() and path.stat().st_size == len(content):
            continue
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
        os.utime(path, (changed, changed))


def _card(key: str, value: str | float) -> str:
    if isinstance(value, str):
        quoted = "'" + value.replace("'", "''").ljust(8) + "'"
        return f"{key:8}= {quoted:20}"
    return f"{key:8}= {value!r:>20}"
