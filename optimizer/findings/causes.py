"""Violations by cause: each belongs to exactly one, and the most dangerous comes first."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass, field
from itertools import pairwise

from optimizer.audit.registry import SPAN_RULES
from optimizer.findings.changes import (
    LEAST_ROWS,
    Arrival,
    Moved,
    in_order_of_time,
    out_of_order,
    places_of_gaps,
    shifts_by_positions,
    shifts_by_the_clock,
    with_arrivals,
)
from optimizer.findings.driven import Origin, hidden_dangers, violations_of
from optimizer.findings.finding import GROUPS
from optimizer.findings.groups import Fault, family_of, group_of
from optimizer.models.continues import Continues
from optimizer.models.request import Request
from optimizer.models.shots import AuditReport, Step, Violation

# What may come of a row that is missing, in the visit to which it belonged.
BY_MISSING_ROWS = frozenset(
    {
        "acquired",
        "contiguous",
        "dither_every",
        "focus_after_flip",
        "focus_every",
        "focus_filter",
        "focus_new_target",
        "least_visit",
        "light_path",
        "one_run",
        "rotator",
        "slew_time",
    }
)
OF_THE_WHOLE = ("slack",)  # what an audit of bare steps tells of the list as a whole
OF_SKY_AND_ZONE = frozenset(rule.name for rule in SPAN_RULES)


@dataclass
class Cause:
    """Faults that have one cause, and which one; where nothing is told they break rules of one kind.

    `order`: places of rows that stand out of the order of time. `moved`: the move of times that mends it.
    `arrivals`: slews and flips that are missing. `gaps`: places of rows before which others are missing.
    """

    faults: list[Fault] = field(default_factory=list)
    order: tuple[int, ...] = ()
    moved: Moved | None = None
    arrivals: tuple[Arrival, ...] = ()
    gaps: tuple[int, ...] = ()

    @property
    def danger(self) -> tuple[int, int, float]:
        """That of the worst of its faults."""
        return min(fault.danger for fault in self.faults)


def faults_of(
    request: Request, steps: Sequence[Step], report: AuditReport, continues: Continues | None = None
) -> list[Fault]:
    """The violations and the quality of a report, each with its place in the list and its group."""
    place_of = _Places(request, steps, continues)
    faults = []
    for index, violation in enumerate((*report.violations, *report.quality)):
        fault = _fault(steps, index, place_of(violation), violation)
        faults.append(
            fault if index < len(report.violations) else dataclasses.replace(fault, group="quality")
        )
    return faults


class _Places:
    """Finds the place of a violation in the list, also where several rows have one number."""

    def __init__(self, request: Request, steps: Sequence[Step], continues: Continues | None) -> None:
        self._first = {step.step: place for place, step in reversed(list(enumerate(steps)))}
        self._told: dict[tuple[str, int, float], list[int]] = {}
        if len(self._first) == len(steps):
            return
        rows = [Origin(step, place) for place, step in enumerate(steps)]
        for place, violation in violations_of(request, rows, continues):
            if place is not None:
                key = (violation.rule, steps[place].step, violation.amount)
                self._told.setdefault(key, []).append(place)

    def __call__(self, violation: Violation) -> int | None:
        """The place, None for the list as a whole."""
        if violation.step is None:
            return None
        alike = self._told.get((violation.rule, violation.step, violation.amount))
        return alike.pop(0) if alike else self._first.get(violation.step)


def _fault(steps: Sequence[Step], index: int, place: int | None, violation: Violation) -> Fault:
    step = None if place is None else steps[place]
    before = steps[place - 1] if place else None
    return Fault(index, violation, place, group_of(violation, step, before))


def causes_of(
    request: Request, steps: Sequence[Step], report: AuditReport, continues: Continues | None = None
) -> list[Cause]:
    """All that an audit found in these steps, by cause, the most dangerous first.

    Beside the violations of the report, of which each is in exactly one cause, causes have the dangers that
    no row names (`index` -1): where the mount would be, were the list followed as it stands.
    """
    return _Sorting(request, tuple(steps), report, continues).causes()


class _Sorting:
    """The faults that no cause has yet, and the list with all changes made that explain others."""

    def __init__(
        self, request: Request, steps: tuple[Step, ...], report: AuditReport, continues: Continues | None
    ) -> None:
        self._request, self._steps, self._continues = request, steps, continues
        self._rows = [Origin(step, place) for place, step in enumerate(steps)]
        self._left = faults_of(request, steps, report, continues)
        told = {(fault.rule, fault.place) for fault in self._left}
        self._left += [
            _fault(steps, -1, place, violation)
            for place, violation in hidden_dangers(request, self._rows, continues, told)
        ]

    def causes(self) -> list[Cause]:
        """Each cause in turn: what a change of the list explains is no longer there for the next."""
        causes: list[Cause] = []
        if any(fault.place is not None for fault in self._left):
            for look in (self._order, self._shift, self._arrivals, self._missing, self._clock):
                cause = look()
                causes += [] if cause is None else [cause]
        families: dict[tuple[str, str], Cause] = {}
        for fault in self._left:
            families.setdefault(family_of(fault), Cause()).faults.append(fault)
        return sorted([*causes, *families.values()], key=self._danger)

    def _danger(self, cause: Cause) -> tuple[int, int, tuple[int, int, float]]:
        """What causes are ordered by: of those by which subs are lost, the ones that lose more come first."""
        group = cause.danger[0]
        lost = {fault.place for fault in cause.faults if fault.group == GROUPS[group] == "lost_frames"}
        subs = sum(place is not None and self._steps[place].kind == "expose" for place in lost)
        return group, -subs, cause.danger

    def _found(self, rows: Sequence[Origin]) -> set[tuple[str, int | None]]:
        """Rule and place of all that the audit finds in changed rows, hidden dangers included."""
        found: set[tuple[str, int | None]] = {
            (violation.rule, place)
            for place, violation in violations_of(self._request, rows, self._continues)
        }
        hidden = hidden_dangers(self._request, rows, self._continues, found)
        found.update((violation.rule, place) for place, violation in hidden)
        return found

    def _explained(self, rows: Sequence[Origin]) -> list[Fault]:
        """The faults that the audit no longer finds in the changed rows."""
        found = self._found(rows)
        return [
            fault
            for fault in self._left
            if (fault.place is not None or fault.rule in OF_THE_WHOLE)
            and not fault.numbering
            and (fault.rule, fault.place) not in found
        ]

    def _claim(self, faults: Iterable[Fault]) -> list[Fault]:
        claimed = list(faults)
        gone = {id(fault) for fault in claimed}
        self._left = [fault for fault in self._left if id(fault) not in gone]
        return claimed

    def _numbering(self) -> list[Fault]:
        return [fault for fault in self._left if fault.numbering]

    def _order(self) -> Cause | None:
        """Rows out of the order of time."""
        moved = out_of_order(self._rows)
        if not moved:
            return None
        rows = in_order_of_time(self._rows)
        explained = self._explained(rows)
        if not explained:
            return None
        self._rows = rows
        faults = self._claim(explained)
        if [row.step.step for row in rows] == list(range(1, len(rows) + 1)):
            faults += self._claim(self._numbering())
        return Cause(faults, order=tuple(moved))

    def _shift(self) -> Cause | None:
        """Times that are moved, as the positions beside them say."""
        local = sum(fault.place is not None and not fault.numbering for fault in self._left)
        best: tuple[list[Fault], Moved, list[Origin]] | None = None
        for moved in shifts_by_positions(self._rows, self._left):
            rows = moved.applied(self._rows)
            explained = self._explained(rows)
            if 2 * len(explained) > local and (best is None or len(explained) > len(best[0])):
                best = explained, moved, rows
            if len(explained) == local:
                break
        if best is None:
            return None
        explained, moved, self._rows = best
        return Cause(self._claim(explained), moved=moved)

    def _clock(self) -> Cause | None:
        """Times that are moved, as by a mistaken clock: moved back they keep every rule of sky and zone."""
        if not self._much_endangered():
            return None
        broken = {fault.rule for fault in self._left}
        for moved in shifts_by_the_clock(self._request, self._rows, broken):
            rows = moved.applied(self._rows)
            found = violations_of(self._request, rows, self._continues)
            if all(violation.rule not in OF_SKY_AND_ZONE for _, violation in found):
                return Cause(self._claim(self._explained(rows)), moved=moved)
        return None

    def _much_endangered(self) -> bool:
        """Whether so much is in danger that a mistaken clock is likelier than so many mistakes."""
        subs = sum(step.kind == "expose" for step in self._steps)
        places = {
            fault.place
            for fault in self._left
            if fault.place is not None
            and fault.rule in OF_SKY_AND_ZONE
            and self._steps[fault.place].kind == "expose"
        }
        return len(places) >= LEAST_ROWS and 4 * len(places) > subs

    def _arrivals(self) -> Cause | None:
        """Slews and flips that the list lacks, and what may come of the steps that belong to them."""
        rows, arrivals = with_arrivals(self._rows, self._continues)
        if not arrivals:
            return None
        faults = self._claim(self._explained(rows))
        self._rows = rows
        faults += self._claim(self._by_gaps({arrival.place for arrival in arrivals}))
        if self._numbered() and not self._gaps():
            faults += self._claim(self._numbering())
        return Cause(faults, arrivals=arrivals) if faults else None

    def _missing(self) -> Cause | None:
        """Other rows that are missing: their time is not told, nor their number."""
        gaps = self._gaps()
        if not gaps:
            return None
        faults = self._claim(self._by_gaps(set(gaps)))
        faults += self._claim(self._numbering() if self._numbered() else [])
        faults += self._claim(
            fault for fault in self._left if fault.rule == "ends_with_park" and fault.group == "equipment"
        )
        return Cause(faults, gaps=tuple(gaps)) if faults else None

    def _numbered(self) -> bool:
        """Whether the numbers of the rows rise, so that those that are missing tell where rows are."""
        numbers = [row.step.step for row in self._rows if row.place is not None]
        return all(first < second for first, second in pairwise(numbers))

    def _gaps(self) -> list[int]:
        return places_of_gaps(self._rows, numbered=self._numbered())

    def _by_gaps(self, gaps: Set[int]) -> list[Fault]:
        """What may come of rows that are missing: procedure left out since the mount arrived."""
        lacking: set[int] = set()  # places of rows that may lack what should have come before them
        visit: list[int] = []
        missing = focused = False
        for row in self._rows:
            gap, arrives = row.place in gaps, row.step.kind in ("slew", "flip")
            missing, focused = gap or (missing and not arrives), focused or gap
            visit = [] if arrives else visit
            if row.place is not None:
                visit.append(row.place)
                lacking.update([row.place] if missing or focused else [])
                lacking.update(visit[:1] if gap else [])  # where a visit is told that is too short
            missing = missing and not arrives
            focused = focused and row.step.kind != "focus"
        return [fault for fault in self._left if self._by_missing(fault, gaps, lacking)]

    @staticmethod
    def _by_missing(fault: Fault, gaps: Set[int], lacking: Set[int]) -> bool:
        if fault.place is None or fault.numbering:
            return False
        if fault.index < 0 or fault.rule == "contiguous":
            return fault.place in gaps and fault.group != "lost_frames"
        return fault.rule in BY_MISSING_ROWS and fault.place in lacking
