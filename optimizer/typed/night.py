"""The rows of a typed plan in the order of the night: what each asks for, and how long it lasts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimizer.models.request import Request
from optimizer.models.rig import Filter
from optimizer.models.targets import Target
from optimizer.reading.typed_file import TypedRow
from optimizer.typed.sky import TypedSky

RunKey = tuple[str, str, float | None, int | None, int | None, int]
PINS = ("slew", "flip", "focus", "park")


@dataclass(frozen=True)
class Block:
    """Subs of one row, and the rows of other kinds that were typed before it.

    `start` is in seconds after the night's origin.
    """

    row: TypedRow
    target: Target
    filter: Filter
    start: int
    pins: tuple[TypedRow, ...]

    @property
    def key(self) -> RunKey:
        """What tells one run from another: target, filter, exposure and settings."""
        row = self.row
        return self.target.name, self.filter.name, row.exposure_s, row.gain, row.offset, row.binning or 1

    def pin(self, kind: str) -> TypedRow | None:
        """The last row of a kind that was typed before it."""
        return next((row for row in reversed(self.pins) if row.kind == kind), None)

    @property
    def leaves(self) -> bool:
        """Whether what was typed before it leaves the target, whichever it was."""
        return self.pin("slew") is not None or self.pin("park") is not None


def blocks_of(rows: Sequence[TypedRow], sky: TypedSky) -> tuple[tuple[Block, ...], tuple[TypedRow, ...]]:
    """The subs of a plan with what was typed before them, and what was typed after the last."""
    blocks: list[Block] = []
    pins: list[TypedRow] = []
    for row in rows:
        if row.kind == "expose":
            assert row.target is not None
            assert row.filter is not None
            blocks.append(Block(row, row.target, row.filter, sky.seconds(row.start_utc), tuple(pins)))
            pins = []
        elif row.kind in PINS:
            pins.append(row)
    return tuple(blocks), tuple(pins)


@dataclass(frozen=True)
class Sub:
    """A sub of a block, or an autofocus or a dither between two: from when to when."""

    kind: str
    start: int
    end: int


@dataclass(frozen=True)
class Lengths:
    """How long each act takes by the request, in whole seconds; autofocus and dithers by its law."""

    request: Request

    def of(self, kind: str, chosen: Filter | None = None) -> int:
        """The seconds of an act with a fixed length; a filter change is that to `chosen`."""
        request = self.request
        seconds = {
            "centre": request.mount.centre_s,
            "settle": request.mount.settle_s,
            "rotate": 180 / request.mount.rotator_deg_s,
            "focus": request.focus.run_s,
            "dither": request.camera.dither_s,
            "filter": 0.0 if chosen is None else chosen.change_s,
        }
        return math.ceil(seconds[kind])

    @property
    def every_s(self) -> float:
        """The age that an autofocus may have, infinite where the request has no limit."""
        every_min = self.request.focus.every_min
        return math.floor(every_min * 60 + 1e-6) if every_min else math.inf

    @staticmethod
    def shutter_s(row: TypedRow) -> int:
        """How long the shutter is open for one sub."""
        return math.ceil(row.exposure_s or 0.0)

    def sub_s(self, row: TypedRow) -> int:
        """How long one sub takes, download and overhead included."""
        camera = self.request.camera
        return math.ceil((row.exposure_s or 0.0) + camera.download_s + camera.overhead_s)

    def subs(self, block: Block, focused: float, undithered: int) -> Iterator[Sub]:
        """The subs of a block from its start on, one after the other, with what must come between them.

        `focused` is when the latest autofocus ended, `undithered` how many subs its run had since a dither.
        """
        every, at = self.request.camera.dither_every, block.start
        for number in range(block.row.count):
            if number:
                due = bool(every) and undithered >= every
                closes = at + (self.of("dither") if due else 0) + self.shutter_s(block.row)
                if closes > focused + self.every_s:
                    yield Sub("focus", at, at := at + self.of("focus"))
                    focused, due = at, bool(every)
                if due:
                    yield Sub("dither", at, at := at + self.of("dither"))
                    undithered = 0
            yield Sub("expose", at, at := at + self.sub_s(block.row))
            undithered += 1

    def ends(self, block: Block, sky: TypedSky) -> int:
        """When a block ends, about: as if an autofocus had just been made."""
        if block.row.end_utc is not None:
            return sky.seconds(block.row.end_utc)
        return list(self.subs(block, block.start, 0))[-1].end
