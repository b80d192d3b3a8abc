"""The rows of a typed plan -> whole steps, contiguous but where the rows leave too little time."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise

from optimizer.models.request import Request
from optimizer.models.rig import PierSide
from optimizer.models.shots import Step, StepKind
from optimizer.models.targets import Target
from optimizer.mount.sides import position_angle_deg
from optimizer.reading.typed_file import TypedFile, TypedRow
from optimizer.typed.flips import flip_edges
from optimizer.typed.inferred import Inferred, NoFlip, Short, Stand, Typed
from optimizer.typed.layer import Laid, Layer
from optimizer.typed.night import Block, blocks_of
from optimizer.typed.sky import TypedSky


def typed_steps(request: Request, typed: TypedFile) -> Typed:
    """Make the steps that a plan typed by hand means, and tell what was inferred.

    A row's first shutter opens when the row starts, and no row is moved. What must come before it by the
    request (slew or flip, plate solve, settling, filter change, autofocus, dither) ends as it opens. Where
    rows leave too little time for that, the next sub starts before the step before it ends: the audit tells
    how many seconds are lacking. Rows that have a kind and an end each are taken as the steps they are.
    """
    sky = TypedSky(request)
    laid, unflipped = (_whole(typed.rows, sky), ()) if typed.whole else _inferred(typed.rows, sky)
    steps = tuple(_step(number, each, sky) for number, each in enumerate(laid, start=1))
    counts: Counter[str] = Counter(each.kind for each in laid if each.row is None and each.kind != "expose")
    flips = tuple(sky.utc(each.start) for each in laid if each.kind == "flip" and each.row is None)
    arrived = [row for row in typed.rows if row.kind not in ("wait", "park")]
    sides = request.mount.flips and any(row.pier_side is None for row in arrived)
    stands = tuple(_stands(laid, sky))
    stems = ((step.step, each.row or each.sub) for step, each in zip(steps, laid, strict=True))
    lines = {number: row.line for number, row in stems if row is not None}
    short = () if typed.whole else tuple(_too_short(laid, sky))
    return Typed(steps, Inferred(dict(counts), flips, sides, stands), typed.said, short, lines, unflipped)


def _stands(laid: Sequence[Laid], sky: TypedSky) -> Iterator[Stand]:
    """The times of which no row says that the mount stands, and would pass the limit if it did not."""
    target: Target | None = None  # that is tracked on pier side west, until `end`
    end = 0
    for place, step in enumerate(laid):
        if step.target is not None and step.tracking:
            target, end = step.target if step.side == "west" else None, step.end
        elif target is not None:
            if step.kind == "park" and step.row is not None:
                target = None
                continue
            by = math.floor(sky.when(target, sky.west_until_s, end))
            last = step.kind == "park" and place == len(laid) - 1
            told = step.row is not None and step.row.tracking is not None
            if not told and (last or (step.kind == "wait" and by < step.end)):
                until = None if last else sky.utc(step.end)
                yield Stand(target.name, sky.utc(max(by, end)), until)
                target = None


def _too_short(laid: Sequence[Laid], sky: TypedSky) -> Iterator[Short]:
    """The rows whose first shutter opens before the step before it is over."""
    kinds: list[StepKind] = []
    for before, step in pairwise(laid):
        if step.kind != "expose":
            kinds.append(step.kind)
            continue
        lacking_s = before.end - step.start
        if lacking_s > 0 and step.row is not None:
            told = tuple(kind for kind in kinds if kind != "wait")
            yield Short(step.row.line, sky.utc(step.start), lacking_s, told)
        kinds = []


def _inferred(rows: Sequence[TypedRow], sky: TypedSky) -> tuple[list[Laid], tuple[NoFlip, ...]]:
    blocks, last = blocks_of(rows, sky)
    layer = Layer(blocks, sky)
    layer.lay()
    layer.park(last)
    return layer.steps, tuple(_no_flip(stay, sky) for stay in layer.unflipped)


def _no_flip(stay: Sequence[Block], sky: TypedSky) -> NoFlip:
    opens, closes = flip_edges(sky, stay[0])
    lines = tuple(block.row.line for block in stay)
    return NoFlip(lines, stay[0].target.name, sky.utc(opens), sky.utc(closes))


def _whole(rows: Sequence[TypedRow], sky: TypedSky) -> list[Laid]:
    """Rows that are steps; only the pier sides and what tracks are inferred, where they are not told."""
    laid: list[Laid] = []
    side: PierSide | None = None
    for place, row in enumerate(rows):
        assert row.end_utc is not None
        start, end = sky.seconds(row.start_utc), sky.seconds(row.end_utc)
        if sky.request.mount.flips:
            if row.pier_side is not None:
                side = row.pier_side
            elif row.kind == "flip":
                side = "east"
            elif row.target is not None and (row.kind == "slew" or side is None):
                side = sky.side(row.target, start)
        following = next((each.kind for each in rows[place + 1 :] if each.kind != "wait"), "park")
        tracks = row.kind != "park" and not (row.kind == "wait" and following in ("slew", "park"))
        if row.tracking is not None:
            tracks = row.tracking
        on = side if row.target is not None else None
        sub = row if row.kind == "expose" else None
        laid.append(Laid(row.kind, start, end, row.target, on, row.filter, row, sub, tracks))
    return laid


def _step(number: int, laid: Laid, sky: TypedSky) -> Step:
    """A step with every column that does not depend on where the target stands."""
    row, sub, target = laid.row, laid.sub, laid.target
    typed = row or sub
    ra, dec, angle = (
        (None, None, None) if typed is None else (typed.ra_deg, typed.dec_deg, typed.position_angle_deg)
    )
    if target is not None:
        ra, dec = target.ra_deg if ra is None else ra, target.dec_deg if dec is None else dec
        if angle is None:
            angle = position_angle_deg(sky.request.mount, target, laid.side)
    return Step(
        step=number,
        kind=laid.kind,
        start_utc=sky.utc(laid.start),
        end_utc=sky.utc(laid.end),
        target=None if target is None else target.name,
        ra_deg=ra,
        dec_deg=dec,
        position_angle_deg=angle,
        filter=None if laid.filter is None else laid.filter.name,
        exposure_s=None if sub is None else sub.exposure_s,
        gain=None if sub is None else sub.gain,
        offset=None if sub is None else sub.offset,
        binning=None if sub is None else sub.binning,
        pier_side=laid.side,
        tracking=laid.tracking,
        note=None if row is None else row.note,
    )
