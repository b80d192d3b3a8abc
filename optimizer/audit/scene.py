"""Everything that the rules look at, prepared once: request, rows, visits, spans and the sky over them."""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from optimizer.audit.begun import Start
from optimizer.audit.clock import Clock, night_origin
from optimizer.audit.replay import Replay, replay
from optimizer.audit.rows import NO_TARGET, Row, fixed_length_s, read_rows
from optimizer.audit.sky import SkyBook
from optimizer.audit.spans import SampledSpans, WorkSpan
from optimizer.audit.zone import Zone
from optimizer.models.continues import Begin
from optimizer.models.request import Request
from optimizer.models.shots import Step, Violation
from optimizer.models.targets import Target


@dataclass(frozen=True)
class Scene:
    """A request, a list of steps, and what follows from them."""

    request: Request
    clock: Clock
    rows: tuple[Row, ...]
    replay: Replay
    book: SkyBook
    own_list: bool
    """Whether the list claims to be one of our own, which hold more columns than a hand-typed one must."""
    starts: Mapping[int, Start] = field(default_factory=dict)
    """Where the mount is told to be before the rows of these places; without a 0 it begins at home."""
    join: int | None = None
    """The place of the first row of a list that goes on with another one; None: the rows are of one list."""

    @classmethod
    def of(
        cls,
        request: Request,
        steps: Sequence[Step],
        *,
        own_list: bool,
        begins: Mapping[int, Begin] | None = None,
        gaps: Container[int] = (),
        join: int | None = None,
    ) -> Scene:
        """Read the steps and look up the sky for all of them in one go.

        `begins` are told for places of steps (0 in a list that goes on with a night), `gaps` are the places
        of steps that stand for time between steps.
        """
        clock = Clock(night_origin(request))
        rows = read_rows(request, steps, clock, gaps)
        starts = {place: Start.of(request, begin, clock) for place, begin in (begins or {}).items()}
        book = SkyBook(request, clock.origin)
        scene = cls(request, clock, rows, replay(rows, starts), book, own_list, starts, join)
        scene._look_up()
        return scene

    def _look_up(self) -> None:
        """Ask for every pair of target and second that the rules need, so that one transform serves all."""
        views = (self.view, self.moved_view, self.stretched_view)
        targets = [view.sample_target for view in views]
        seconds = [view.time for view in views]
        pairs = [(row.target, row.start) for row in self.rows]
        for row, state in zip(self.rows, self.replay.before, strict=True):
            if state.visit is not None:
                pairs.append((state.visit.target, state.visit.tracked_until))
                pairs.append((state.visit.target, state.visit.end))
                if row.step.latest_start_utc is not None:
                    pairs.append((state.visit.target, self.clock.seconds(row.step.latest_start_utc)))
        pairs += [(start.target, start.second) for start in self.starts.values()]
        pairs += [(visit.target, visit.tracked_until) for visit in self.replay.visits]
        if pairs:
            more = np.array(pairs, dtype=np.int64)
            targets.append(more[:, 0])
            seconds.append(more[:, 1])
        self.book.places(np.concatenate(targets), np.concatenate(seconds))

    @property
    def start(self) -> Start | None:
        """Where the list begins that goes on with a night; None: at home."""
        return self.starts.get(0)

    @property
    def german(self) -> bool:
        """Whether the mount has two pier sides."""
        return self.request.mount.flips

    @cached_property
    def zone(self) -> Zone:
        """The limits around the meridian."""
        return Zone.of(self.request.mount)

    @cached_property
    def leading_dithers(self) -> frozenset[int]:
        """The places of dithers that are the first act of a list that goes on with a night."""
        firsts = {*self.starts, *([] if self.join is None else [self.join])}
        acts = (next((row for row in self.rows[place:] if not row.gap), None) for place in firsts)
        return frozenset(row.place for row in acts if row is not None and row.kind == "dither")

    @cached_property
    def dithered_until(self) -> int | None:
        """The place of a dither that is the last act before a list that goes on with another; else None."""
        acts = [row for row in self.rows[: self.join or 0] if not row.gap]
        return acts[-1].place if acts and acts[-1].kind == "dither" else None

    def target(self, index: int) -> Target | None:
        """The request's target of that index; None for NO_TARGET."""
        return None if index == NO_TARGET else self.request.targets[index]

    @cached_property
    def span_of(self) -> dict[int, WorkSpan]:
        """The span in which the sky must permit each row, by the row's place in the list.

        Idle waits, park and rows far from the night have none.
        """
        spans: dict[int, WorkSpan] = {}
        for row, visit in zip(self.rows, self.replay.visit_of, strict=True):
            if visit is None or not row.near:
                continue
            following = next((each for each in self.rows[row.place + 1 :] if each.kind != "wait"), None)
            spans[row.place] = WorkSpan(
                row=row,
                target=row.target if row.step.target is not None else visit.target,
                side=row.side if row.step.pier_side is not None else visit.side,
                start=row.start,
                end=row.works_until,
                shutter=row.kind == "expose",
                moving=row.arrives,
                reaching=row.kind == "wait"
                and self.request.mount.flip_by == "mount"
                and following is not None
                and following.kind == "flip",
                flip_block=visit.arrival is not None
                and visit.arrival.kind == "flip"
                and any(row is each for each in visit.arrival_rows()),
            )
        return spans

    @cached_property
    def view(self) -> SampledSpans:
        """The spans of the list as it stands."""
        return SampledSpans(self.span_of.values(), self.book)

    @cached_property
    def stretched_view(self) -> SampledSpans:
        """The time by which subs last longer than the request says, in which the mount tracks on.

        Their tails come last and are left out.
        """
        spans = []
        for place, span in self.span_of.items():
            row = self.rows[place]
            if row.kind == "expose" and (least := fixed_length_s(self.request, row)) is not None:
                begin, end = span.end, span.end + row.end - row.start - least
                if end > begin:
                    spans.append(replace(span, start=begin, end=end, shutter=False))
        return SampledSpans(spans, self.book)

    @cached_property
    def moved_view(self) -> SampledSpans:
        """The spans of steps moved to their latest start, where that is later than their start."""
        moved = []
        for place, span in self.span_of.items():
            latest = self.latest_start(self.rows[place])
            if latest is not None and latest > span.start:
                moved.append(span.moved_to(latest))
        return SampledSpans(moved, self.book)

    def latest_start(self, row: Row) -> int | None:
        """The row's `latest_start_utc` in seconds after the night's origin; None where it is not given."""
        given = row.step.latest_start_utc
        return None if given is None else self.clock.seconds(given)

    def violation(self, rule: str, row: Row | None, amount: float, unit: str, message: str) -> Violation:
        """A violation by `row` (None: the list as a whole), the amount rounded to a millionth."""
        step = None if row is None else row.step.step
        return Violation(rule=rule, step=step, amount=round(float(amount), 6), unit=unit, message=message)
