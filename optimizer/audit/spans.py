"""Spans of time in which the telescope works, and the samples at which their sky is looked at.

Samples lie at both ends and at each whole minute between, so never more than 60 s apart. Between two of
them an altitude (of target, Sun or Moon) can pass the lower one by no more than (0.0044 rad)^2 / 8 = 0.5
arcsec; separations bend a hundred times less. Hour angle is monotonic: the two ends decide.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optimizer.audit.clock import NIGHT_S
from optimizer.audit.rows import Row
from optimizer.audit.sky import Bodies, Places, SkyBook
from optimizer.audit.types import Bools, Floats, Ints
from optimizer.audit.zone import Excess, Zone, carried_s, excess

SAMPLE_S = 60


@dataclass(frozen=True)
class WorkSpan:
    """A span in which the telescope works at the step of `row`, on `target` and pier side `side`.

    `shutter`: the shutter is open throughout. `moving`: a slew or flip, whose altitude counts at its end
    alone. `reaching`: a tracking wait in which the mount comes to its own flip. `promised`: not what the
    list does, but what a latest start allows.
    """

    row: Row
    target: int
    side: int
    start: int
    end: int
    shutter: bool = False
    moving: bool = False
    reaching: bool = False
    promised: bool = False
    flip_block: bool = False

    def moved_to(self, start: int) -> WorkSpan:
        """The span moved to another start, as a latest start allows."""
        return replace(self, start=start, end=start + self.end - self.start, promised=True)

    def first_until(self, zone: Zone) -> float:
        """Seconds of hour angle at which the first side ends for this span."""
        if not self.reaching:
            return zone.first_until
        return zone.own_flip_by if self.promised else zone.reach_until


class SampledSpans:
    """Many spans with the sky over them, as arrays over spans (n) and over samples (m)."""

    def __init__(self, spans: Iterable[WorkSpan], book: SkyBook) -> None:
        """Lay out the samples.

        The sky is looked up when first asked for. Spans longer than a night are cut there.
        """
        self.spans = tuple(spans)
        self._book = book
        self.target: Ints = np.array([span.target for span in self.spans], dtype=np.int64)
        self.side: Ints = np.array([span.side for span in self.spans], dtype=np.int64)
        self.shutter: Bools = np.array([span.shutter for span in self.spans], dtype=np.bool_)
        self.moving: Bools = np.array([span.moving for span in self.spans], dtype=np.bool_)
        self.start: Ints = np.array([span.start for span in self.spans], dtype=np.int64)
        self.end: Ints = np.array(
            [min(max(span.start, span.end), span.start + NIGHT_S) for span in self.spans], dtype=np.int64
        )
        times = [
            np.concatenate(
                [[start], np.arange((start // SAMPLE_S + 1) * SAMPLE_S, end, SAMPLE_S, dtype=np.int64), [end]]
            )
            for start, end in zip(self.start.tolist(), self.end.tolist(), strict=True)
        ]
        counts = np.array([len(each) for each in times], dtype=np.int64)
        self.first: Ints = np.cumsum(counts) - counts
        self.last: Ints = np.cumsum(counts) - 1
        self.time: Ints = np.concatenate(times).astype(np.int64) if times else np.empty(0, dtype=np.int64)
        self.span: Ints = np.repeat(np.arange(len(times), dtype=np.int64), counts)
        at_end = np.zeros(self.time.shape, dtype=np.bool_)
        at_end[self.last] = True
        self.position_counts: Bools = ~self.moving[self.span] | at_end

    def beyond(self, zone: Zone) -> Excess:
        """How far each span leads out of its side's zone."""
        first_until = np.array([span.first_until(zone) for span in self.spans], dtype=np.float64)
        return excess(zone, self.side, self.start_hour_angle_s, self.gained_s, first_until)

    @property
    def sample_target(self) -> Ints:
        """The target of each sample, as an index into the request."""
        return self.target[self.span]

    @cached_property
    def places(self) -> Places:
        """The targets at the samples."""
        return self._book.places(self.sample_target, self.time)

    @cached_property
    def bodies(self) -> Bodies:
        """Sun and Moon at the samples."""
        return self._book.bodies(self.time)

    @cached_property
    def sun_altitude_deg(self) -> Floats:
        """Geometric altitude of the Sun's centre at the samples, in degrees."""
        return self.bodies.sun_altitude_deg

    @cached_property
    def start_hour_angle_s(self) -> Floats:
        """Hour angle at each span's start, in seconds within half a turn."""
        return self.places.hour_angle_s[self.first]

    @cached_property
    def gained_s(self) -> Floats:
        """Seconds of hour angle gained in each span."""
        return carried_s(self.start_hour_angle_s, self.places.hour_angle_s[self.last], self.end - self.start)

    @cached_property
    def declination_deg(self) -> Floats:
        """Declination at each span's start, in degrees."""
        return self.places.declination_deg[self.first]

    def worst(self, excess: Floats) -> tuple[Floats, Ints]:
        """The greatest value in each span of a quantity given at the samples, and the sample of it.

        Values of NaN are passed over.
        """
        if not self.spans:
            return np.empty(0), np.empty(0, dtype=np.int64)
        filled = np.where(np.isnan(excess), -np.inf, excess)
        greatest: Floats = np.maximum.reduceat(filled, self.first)
        hit = np.flatnonzero(filled == greatest[self.span])
        where = np.full(len(self.spans), -1, dtype=np.int64)
        where[self.span[hit][::-1]] = hit[::-1]
        return greatest, where
