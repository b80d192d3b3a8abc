"""The list followed as the telescope would: visits, runs, and the mount before each step."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from optimizer.audit.begun import Start
from optimizer.audit.rows import NO_SIDE, NO_TARGET, GoalKey, Row


@dataclass
class AuditedRun:
    """Exposures of one goal without a filter change, a wait or another goal between.

    `rows` holds the exposures and all steps between them.
    """

    key: GoalKey
    rows: list[Row] = field(default_factory=list)

    @property
    def exposures(self) -> list[Row]:
        """The exposures of the run, without the steps between them."""
        return [row for row in self.rows if row.kind == "expose"]


@dataclass
class AuditedVisit:
    """A contiguous stay on one target and pier side.

    `arrival` is None where the list shows no slew or flip to it, `start` is where it had begun already as the
    list begins, None where the list begins it. One that the list only finds and leaves has no rows.
    """

    target: int
    side: int
    arrival: Row | None
    before: AuditedVisit | None
    start: Start | None = None
    rows: list[Row] = field(default_factory=list)  # without the arrival
    runs: list[AuditedRun] = field(default_factory=list)

    @property
    def exposures(self) -> list[Row]:
        """The exposures of the visit, in order."""
        return [row for row in self.rows if row.kind == "expose"]

    @property
    def first(self) -> Row:
        """The arrival of the visit, or its first row where there is none."""
        return self.rows[0] if self.arrival is None else self.arrival

    @property
    def tracked_until(self) -> int:
        """Second at which tracking of this visit ended: a shutter's closing or the end of its last step."""
        if not self.rows and self.start is not None:
            return self.start.tracked_until
        return self.rows[-1].works_until if self.rows else self.first.end

    @property
    def end(self) -> int:
        """Second at which its last step ended, its tail included; from there the mount moves on."""
        if not self.rows and self.start is not None:
            return self.start.tracked_until
        last = self.rows[-1] if self.rows else self.first
        return max(last.start, last.end)

    def arrival_rows(self) -> list[Row]:
        """The rows after the arrival and before the first exposure."""
        block = []
        for row in self.rows:
            if row.kind == "expose":
                break
            block.append(row)
        return block


@dataclass(frozen=True)
class MountState:
    """The mount before a step: the latest visit (None: at home) and whether it tracks."""

    visit: AuditedVisit | None
    tracks: bool


@dataclass(frozen=True)
class Replay:
    """The visits in order, and for each row its visit and the mount before it.

    The visit is None for waits without tracking and for park.
    """

    visits: tuple[AuditedVisit, ...]
    visit_of: tuple[AuditedVisit | None, ...]
    before: tuple[MountState, ...]


def _extend_runs(visit: AuditedVisit, row: Row, open_run: AuditedRun | None) -> AuditedRun | None:
    """Enter a row of the visit in its runs, and return the run that may go on."""
    if row.gap:
        return open_run
    if row.kind == "expose":
        key = row.goal_key
        if open_run is None or open_run.key != key:
            open_run = AuditedRun(key)
            visit.runs.append(open_run)
        open_run.rows.append(row)
    elif row.kind in ("dither", "focus"):
        if open_run is not None:
            open_run.rows.append(row)
    else:
        return None
    return open_run


def _goes_on(visit: AuditedVisit | None, tracks: bool, start: Start) -> bool:
    """Whether a visit is still the one that a start tells of."""
    here = visit is not None and (visit.target, visit.side) == (start.target, start.side)
    return here and tracks and start.tracks and start.begin.acquired


def replay(rows: Sequence[Row], starts: Mapping[int, Start] | None = None) -> Replay:
    """Follow the list to its end; what is impossible is kept as it stands, for the rules to name.

    The mount is at home before the first row. `starts` tell, for the places of some rows,
    where it is before them instead. A row that names no target or side takes those of the visit it lies in. A
    row without a visit (no slew so far, or after a wait without tracking) opens one that has no arrival.
    """
    visits: list[AuditedVisit] = []
    visit_of: list[AuditedVisit | None] = []
    before: list[MountState] = []
    latest: AuditedVisit | None = None
    tracks = False
    run: AuditedRun | None = None
    for row in rows:
        start = (starts or {}).get(row.place)
        if start is not None and not _goes_on(latest, tracks, start):
            latest = None if start.parked else AuditedVisit(start.target, start.side, None, latest, start)
            visits += [] if latest is None else [latest]
            tracks, run = start.tracks, None
        before.append(MountState(latest, tracks))
        if row.idle_wait or row.kind == "park":
            visit_of.append(None)
            tracks, run = False, None
            continue
        if row.arrives or not tracks or latest is None:
            arrival = row if row.arrives else None
            latest = AuditedVisit(row.target, row.side, arrival, latest)
            visits.append(latest)
            tracks, run = True, None
        visit_of.append(latest)
        if not row.arrives:
            latest.rows.append(row)
            run = _extend_runs(latest, row, run)
            if latest.target == NO_TARGET:
                latest.target = row.target
            if latest.side == NO_SIDE:
                latest.side = row.side
    return Replay(tuple(visits), tuple(visit_of), tuple(before))
