"""`latest_start_utc` of every row: the step moved there breaks nothing, and the mount was not led astray."""

from __future__ import annotations

from collections.abc import Iterator

from tests.support.recheck.facts import SLACK_S, Allowed, Facts, Finding
from tests.support.recheck.motion import changes, end_of_zone, must_leave
from tests.support.recheck.sky import NIGHT_S
from tests.support.recheck.step import step_breaks

# "The last second": told too soon is what could begin a minute later all the same. The Moon's 15" take 30 s.
SOON_S = 60


def latest_findings(facts: Facts) -> list[Finding]:
    flips = {change.flip: change for change in changes(facts)}
    found: list[Finding] = []
    for index, row in enumerate(facts.rows):
        latest = None if row["latest_start_utc"] is None else facts.sky.second(row["latest_start_utc"])
        if row["kind"] == "park" or (row["kind"] == "wait" and not row["tracking"]):
            found += _end_of_tracking(facts, index, latest)
            continue
        if latest is None:
            found.append(Finding("latest_missing", row["step"], f"{row['kind']} has none"))
            continue
        found += _moved(facts, index, latest)
        if index in flips:
            found += _flip(facts, index, latest, must_leave(facts, flips[index]))
        elif not facts.reaches_flip(index) and not _cannot(facts, index, latest + SOON_S):
            found.append(
                Finding("latest_early", row["step"], f"may begin {SOON_S} s later than its latest start")
            )
    return found


def checked(facts: Facts) -> int:
    """How many latest starts the list holds."""
    return sum(row["latest_start_utc"] is not None for row in facts.rows)


def _end_of_tracking(facts: Facts, index: int, latest: int | None) -> Iterator[Finding]:
    """A standing wait or a park: when the mount must stop following what it tracked, if it did and must."""
    row, wanted = facts.rows[index], None
    if _tracked_before(facts, index) and facts.german:
        before = facts.rows[index - 1]
        wanted = end_of_zone(facts, before["target"], before["pier_side"], facts.start[index])
    if (wanted is None) != (latest is None):
        yield Finding("latest_missing", row["step"], f"{row['kind']}: {latest}, wanted {wanted}")
    elif wanted is not None and latest is not None and abs(latest - min(wanted, NIGHT_S)) > SLACK_S:
        yield Finding("latest_wait", row["step"], f"{row['kind']}: {latest}, wanted {wanted}")


def _tracked_before(facts: Facts, index: int) -> bool:
    return index > 0 and bool(facts.rows[index - 1]["tracking"])


def _moved(facts: Facts, index: int, latest: int) -> Iterator[Finding]:
    row = facts.rows[index]
    if latest < facts.start[index]:
        yield Finding("latest_start", row["step"], f"{facts.start[index] - latest} s before its own start")
        return
    for rule in step_breaks(facts, index, latest):
        yield Finding("latest_start", row["step"], f"{row['kind']} moved there breaks {rule}")
    # on time is never too late: a download may run on beyond the zone, and what follows begins at its end
    if _tracked_before(facts, index) and latest > facts.start[index]:
        zone = _zone_before(facts, index)
        if not zone.all(facts.start[index], latest):
            yield Finding("latest_start", row["step"], "the target before it is tracked beyond its zone")


def _flip(facts: Facts, index: int, latest: int, leave: int) -> Iterator[Finding]:
    row, began = facts.rows[index], facts.start[index]
    if facts.mount["flip_by"] == "mount":
        if latest != began:
            yield Finding("latest_flip", row["step"], f"{latest - began} s after the mount's own flip")
    elif began <= leave and latest > leave + SLACK_S:
        yield Finding("latest_flip", row["step"], f"{latest - leave} s after the first side must be left")
    soon = latest + SOON_S
    free = facts.mount["flip_by"] != "mount" and (began > leave or soon <= leave)
    if free and not _cannot(facts, index, soon):
        yield Finding("latest_early", row["step"], f"may begin {SOON_S} s later than its latest start")


def _cannot(facts: Facts, index: int, second: int) -> bool:
    """Whether something surely or perhaps forbids the row to begin there."""
    if second > NIGHT_S - SOON_S:
        return True
    if step_breaks(facts, index, second, sure=True):
        return True
    if not _tracked_before(facts, index):
        return False
    return not _zone_before(facts, index).surely(facts.start[index], second)


def _zone_before(facts: Facts, index: int) -> Allowed:
    """Where the target of the row before may be tracked while this row is late."""
    before, row = facts.rows[index - 1], facts.rows[index]
    reaching = row["kind"] == "flip" and facts.mount["flip_by"] == "mount"
    return facts.zone(before["target"], before["pier_side"], reaching)
