"""The steps of a typed plan laid one after the other; no row is moved, whatever does not fit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.models.rig import SIDES, Filter, PierSide
from optimizer.models.shots import StepKind
from optimizer.models.targets import Target
from optimizer.mount.axes import HOME, Axes
from optimizer.reading.typed_file import TypedRow
from optimizer.typed.flips import FlipAt, asks_for_flip, flip_edges, flip_in
from optimizer.typed.night import Block, Lengths, RunKey
from optimizer.typed.sky import TypedSky


@dataclass
class Laid:
    """A step in seconds after the night's origin; `row` is the one that it stems from, None: inferred."""

    kind: StepKind
    start: int
    end: int
    target: Target | None = None
    side: PierSide | None = None
    filter: Filter | None = None
    row: TypedRow | None = None
    sub: TypedRow | None = None
    tracking: bool = True


class Layer:
    """Lays blocks in their order; see `lay` and `park`."""

    def __init__(self, blocks: Sequence[Block], sky: TypedSky) -> None:
        """Nothing is laid yet: the mount is at home."""
        self._blocks, self._sky = blocks, sky
        self._request = sky.request
        self._lengths = Lengths(sky.request)
        self.steps: list[Laid] = []
        self.unflipped: list[list[Block]] = []  # stays that ask for a flip and have no room for it
        self._free: int | None = None  # when the latest step ends
        self._left: int | None = None  # when the mount ceased to track the target that it was last on
        self._here: Target | None = None
        self._side: PierSide | None = None
        self._stands = True
        self._filter: Filter | None = None
        self._focused = -math.inf
        self._run: RunKey | None = None
        self._undithered = 0
        self._flip: FlipAt | None = None

    def lay(self) -> None:
        """Lay every block, and what must come before it."""
        for place, block in enumerate(self._blocks):
            self._before(place, block)
            self._subs(block)

    def park(self, pins: Sequence[TypedRow]) -> None:
        """Lay the park at the end, when it was typed or as soon as the last sub is over."""
        for each in pins:
            if each.kind != "park" and self._here is not None:
                self._pinned(each, self._side, self._filter if each.kind == "focus" else None)
        parked = [each for each in pins if each.kind == "park"]
        pin = parked[0] if parked else None
        assert self._free is not None
        start = self._free if pin is None else self._sky.seconds(pin.start_utc)
        if start > self._free:
            self._add(Laid("wait", self._free, start, tracking=False))
        way_s = self._sky.slew_s(self._axes_left(), HOME)
        end = start + way_s if pin is None or pin.end_utc is None else self._sky.seconds(pin.end_utc)
        self._add(Laid("park", start, end, row=pin, tracking=False))

    # What comes before a block

    def _before(self, place: int, block: Block) -> None:
        parked = block.pin("park")
        if parked is not None and self._free is not None:
            start = self._sky.seconds(parked.start_utc)
            if start > self._free:
                self._add(Laid("wait", self._free, start, tracking=False))
            way_s = self._sky.slew_s(self._axes_left(), HOME)
            end = start + way_s if parked.end_utc is None else self._sky.seconds(parked.end_utc)
            self._add(Laid("park", start, end, row=parked, tracking=False))
            self._stands = True
        arrival, side = self._arrival(place, block)
        changes = arrival == "slew" or self._filter is None or self._filter.name != block.filter.name
        goes_on = arrival is None and not changes and self._run == block.key
        focus = self._focuses(place, block, arrival, changes, goes_on)
        rest: list[tuple[StepKind, int]] = []
        if changes:
            rest.append(("filter", self._lengths.of("filter", block.filter)))
        if focus:
            rest.append(("focus", self._lengths.of("focus")))
        if goes_on and self._dithers(block, focus):
            rest.append(("dither", self._lengths.of("dither")))
        if arrival is not None:
            self._arrive(block, arrival, side, sum(seconds for _, seconds in rest))
        self._rest(block, rest, goes_on)
        self._run = block.key
        if not goes_on:
            self._undithered = 0

    def _arrival(self, place: int, block: Block) -> tuple[StepKind | None, PierSide | None]:
        """The move before a block, None where the mount stays, and the pier side on which it is then."""
        here = self._here is not None and self._here.name == block.target.name and not block.leaves
        typed = block.row.pier_side
        flips = block.pin("flip") is not None and not block.leaves
        if flips:
            return "flip", typed or "east"
        if not here or self._stands or (typed is None and self._turns_back(block)):
            side = typed or self._side_reached(block)
            self._flip = None
            if side == "west":
                stay = self._stay_from(place)
                self._flip = flip_in(stay, self._sky, self._lengths)
                if self._flip is None and asks_for_flip(stay, self._sky, self._lengths):
                    self.unflipped.append([each for _, each in stay])
            return "slew", side
        side = typed or ("east" if self._flip is not None and self._flip.place == place else self._side)
        if side == self._side:
            return None, side
        return ("flip" if side == "east" else "slew"), side

    def _turns_back(self, block: Block) -> bool:
        """Whether the target has passed its lower culmination and the gap has room to slew to it anew."""
        if self._side != "east" or self._sky.hour_angle_s(block.target, block.start) >= 0:
            return False
        least_s = self._way_s(block, "west", block.start)
        least_s += self._lengths.of("centre") + self._lengths.of("settle")
        return self._room(block) >= least_s

    def _side_reached(self, block: Block) -> PierSide | None:
        """The pier side by the transit as the slew begins: that is when the mount chooses it."""
        if not self._request.mount.flips:
            return None
        after_s = sum(self._lengths.of(kind, block.filter) for kind in ("centre", "settle", "filter"))
        focus = self._request.focus
        if focus.on_new_target or focus.on_filter_change or focus.every_min:
            after_s += self._lengths.of("focus")
        starts = [self._slew_start(block, side, after_s) for side in SIDES]
        return self._sky.side(block.target, min(starts))

    def _stay_from(self, place: int) -> list[tuple[int, Block]]:
        """The blocks on the same target from one on, as long as nothing leaves it, with their places."""
        stay = [(place, self._blocks[place])]
        for after in range(place + 1, len(self._blocks)):
            block = self._blocks[after]
            if block.target.name != stay[0][1].target.name or block.leaves:
                break
            stay.append((after, block))
        return stay

    def _room(self, block: Block) -> float:
        return math.inf if self._free is None else block.start - self._free

    def _focuses(
        self, place: int, block: Block, arrival: StepKind | None, changes: bool, goes_on: bool
    ) -> bool:
        focus, mount = self._request.focus, self._request.mount
        if block.pin("focus") is not None:
            return True
        if (arrival == "slew" and focus.on_new_target) or (arrival == "flip" and mount.refocus_after_flip):
            return True
        if changes and focus.on_filter_change:
            return True
        needed = self._lengths.of("focus") + (self._lengths.of("filter", block.filter) if changes else 0)
        needed += self._lengths.of("dither") if goes_on and self._request.camera.dither_every else 0
        return self._ages(place) and (arrival is not None or self._room(block) >= needed)

    def _ages(self, place: int) -> bool:
        """Whether the latest autofocus is too old for a sub before the next chance to make one."""
        for after in range(place, len(self._blocks)):
            block = self._blocks[after]
            if after > place:
                before = self._blocks[after - 1]
                room_s = block.start - self._lengths.ends(before, self._sky)
                leaves = before.target.name != block.target.name or block.leaves
                if leaves or room_s >= self._lengths.of("focus") + self._lengths.of("dither"):
                    return False
            if block.start + self._lengths.shutter_s(block.row) > self._focused + self._lengths.every_s:
                return True
            if block.row.count > 1:
                return False
        return False

    def _dithers(self, block: Block, focus: bool) -> bool:
        if not self._request.camera.dither_every:
            return False
        taken_s = self._lengths.of("focus") if focus else 0
        return focus or self._room(block) >= taken_s + max(1, self._lengths.of("dither"))

    # Laying

    def _arrive(self, block: Block, arrival: StepKind, side: PierSide | None, rest_s: int) -> None:
        """The slew or flip, the plate solve, the settling and the rotator, with the wait before them."""
        mount, sky = self._request.mount, self._sky
        kinds: list[StepKind] = ["centre", "settle"]
        if mount.turn_rotator_after_flip and self._side is not None and self._side != side:
            kinds.append("rotate")
        after_s = rest_s + sum(self._lengths.of(kind) for kind in kinds)
        pin = block.pin(arrival)
        if pin is not None:
            start = sky.seconds(pin.start_utc)
        elif arrival == "flip":
            start = self._flip_start(block, after_s)
        else:
            start = self._slew_start(block, side, after_s)
        if self._free is not None and start > self._free:
            self._wait_until(start, block, arrival)
        end = start + self._way_s(block, side, start)
        if pin is not None and pin.end_utc is not None:
            end = sky.seconds(pin.end_utc)
        self._here, self._side, self._stands = block.target, side, False
        self._add(Laid(arrival, start, end, block.target, side, row=pin))
        if arrival == "slew":
            self._filter = None
        for kind in kinds:
            if self._lengths.of(kind):
                self._act(kind, self._lengths.of(kind))

    def _wait_until(self, start: int, block: Block, arrival: StepKind) -> None:
        """Before a slew the mount stands; before a flip it tracks on, as far as pier side west allows."""
        assert self._free is not None
        tracks = False
        if arrival == "flip" and self._here is not None and not self._stands:
            _, closes = flip_edges(self._sky, block)
            tracks = start <= closes or self._request.mount.flip_by == "mount"
        if tracks:
            self._add(Laid("wait", self._free, start, self._here, self._side))
        else:
            self._add(Laid("wait", self._free, start, tracking=False))

    def _flip_start(self, block: Block, after_s: int) -> int:
        """As soon as the mount takes it; sooner only if a row says so and leaves no time for what follows."""
        assert self._free is not None
        opens = max(self._free, flip_edges(self._sky, block)[0])
        if opens + self._way_s(block, "east", opens) + after_s <= block.start or self._flip is not None:
            return opens
        return max(self._free, block.start - after_s - self._way_s(block, "east", self._free))

    def _slew_start(self, block: Block, side: PierSide | None, after_s: int) -> int:
        """As late as can be; before the quiet minutes where it would fall into them."""
        first = -math.inf if self._free is None else self._free
        start = block.start - after_s
        for _ in range(3):
            start = block.start - after_s - self._way_s(block, side, start)
        quiet_s = self._request.mount.quiet_min * 60
        if self._request.mount.flips and quiet_s:
            way_s = self._way_s(block, side, start)
            ends_at_s = self._sky.hour_angle_s(block.target, start + way_s)
            if -quiet_s < ends_at_s < way_s:
                sooner = math.floor(self._sky.when(block.target, -quiet_s, start)) - way_s - 1
                start = sooner if first <= sooner < start else start
        return round(max(first, start))

    def _way_s(self, block: Block, side: PierSide | None, start: int) -> int:
        return self._sky.slew_s(self._axes_left(), self._sky.axes(block.target, side, start))

    def _axes_left(self) -> Axes:
        """Where the axes were when the mount ceased to track."""
        if self._here is None or self._left is None:
            return HOME
        return self._sky.axes(self._here, self._side, self._left)

    def _rest(self, block: Block, rest: list[tuple[StepKind, int]], goes_on: bool) -> None:
        """Filter change, autofocus and dither, the last of them over as the first shutter opens."""
        pin = block.pin("focus")
        until = block.start if pin is None else self._sky.seconds(pin.start_utc)
        ahead_s = 0
        for kind, seconds in rest:
            if pin is not None and kind == "focus":
                break
            ahead_s += seconds
        assert self._free is not None
        spare_s = until - self._free - ahead_s
        if spare_s > 0:
            if goes_on:
                self._stretch(rest, spare_s, pinned=pin is not None)
            else:
                self._add(Laid("wait", self._free, self._free + spare_s, block.target, self._side))
        for kind, seconds in rest:
            if pin is not None and kind == "focus":
                self._pinned(pin, self._side, block.filter)
            else:
                self._act(kind, seconds, block.filter)
        spare_s = block.start - self._free
        if pin is not None and spare_s > 0 and goes_on:
            self._lengthen(spare_s)
        elif pin is not None and spare_s > 0:
            self._add(Laid("wait", self._free, block.start, block.target, self._side))

    def _stretch(self, rest: list[tuple[StepKind, int]], spare_s: int, *, pinned: bool) -> None:
        """Let a dither, or the sub before, take the time within a run in which nothing is asked."""
        if rest and rest[-1][0] == "dither" and not pinned:
            rest[-1] = ("dither", rest[-1][1] + spare_s)
            return
        self._lengthen(spare_s)

    def _lengthen(self, spare_s: int) -> None:
        """Let the latest step last longer."""
        self.steps[-1].end += spare_s
        self._free = self._left = self.steps[-1].end

    def _pinned(self, pin: TypedRow, side: PierSide | None, chosen: Filter | None) -> None:
        start = self._sky.seconds(pin.start_utc)
        end = start + self._lengths.of("focus")
        if pin.end_utc is not None:
            end = self._sky.seconds(pin.end_utc)
        self._add(Laid(pin.kind, start, end, self._here, side, chosen, row=pin))

    def _act(self, kind: StepKind, seconds: int, chosen: Filter | None = None) -> None:
        assert self._free is not None
        self._add(Laid(kind, self._free, self._free + seconds, self._here, self._side, chosen))

    def _subs(self, block: Block) -> None:
        subs = list(self._lengths.subs(block, self._focused, self._undithered))
        for number, each in enumerate(subs):
            end = each.end
            if number == len(subs) - 1 and block.row.end_utc is not None:
                end = self._sky.seconds(block.row.end_utc)
            first = block.row if number == 0 else None
            sub = block.row if each.kind == "expose" else None
            kind: StepKind = "expose" if sub else "focus" if each.kind == "focus" else "dither"
            self._add(Laid(kind, each.start, end, block.target, self._side, block.filter, first, sub))

    def _add(self, step: Laid) -> None:
        self.steps.append(step)
        self._free = step.end
        if step.tracking:
            self._left = step.end
        if step.kind == "filter":
            self._filter = step.filter
        elif step.kind == "focus":
            self._focused = step.end
        elif step.kind == "dither":
            self._undithered = 0
        elif step.kind == "expose":
            self._undithered += 1
