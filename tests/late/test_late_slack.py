"""Lists that run late by their slack lose no frame and break no rule; by a second more most of them do."""

from __future__ import annotations

from collections import Counter

import pytest

from benchmarks.late_by_slack import broken, judged, late_steps, lost_s, planned
from optimizer.models.shots import ShotList
from optimizer.timeline.totals import least_slack
from tests.support.modes.nights import night_of
from tests.support.modes.nights import planned as planned_night
from tests.support.speeds import sampled

CHUNKS, NIGHTS = 8, 12
MODES = (
    ("plan", "through the zenith"),
    ("plan", "standstill"),
    ("mount", "through the zenith"),
    ("early", "standstill"),
    ("never", "north of the zenith"),
    ("quiet", "two hours"),
    ("turned", "lower culmination"),
    ("fork", "through the zenith"),
)


@pytest.mark.parametrize("chunk", sampled(range(CHUNKS), quick=1))
def test_list_late_by_its_slack_loses_nothing(chunk: int) -> None:
    counts: Counter[str] = Counter()
    for seed in range(chunk * NIGHTS, (chunk + 1) * NIGHTS):
        shots = planned(seed)
        found = judged(shots)
        assert not found["less slack than asked for"], seed
        assert not found["lost or broken at slack"], seed
        assert not found["lost or broken at least slack"], seed
        assert shots.audit_report.violations == ()
        assert shots.audit_report.quality == ()
        counts.update(found)
    assert counts["lists"] >= 0.6 * NIGHTS
    assert counts["lost or broken a second later"] >= 0.8 * counts["lists"]


@pytest.mark.parametrize("slack_s", [0, 60, 301])
@pytest.mark.parametrize(("mode", "place"), MODES, ids=lambda text: text.replace(" ", "-"))
def test_every_mode_of_a_mount_keeps_its_slack(mode: str, place: str, slack_s: int) -> None:
    shots = kept(mode, place, slack_s)
    least_s = shots.totals.least_slack_s
    assert least_s is not None
    assert least_s >= slack_s
    assert shots.audit_report.violations == ()
    assert shots.audit_report.quality == ()
    for late_s in (slack_s, least_s):
        assert broken(shots, late_s) == set()
        assert lost_s(shots, late_s) == 0
    assert broken(shots, least_s + 1) or lost_s(shots, least_s + 1)


def kept(mode: str, place: str, slack_s: int) -> ShotList:
    return planned_night(night_of(mode, place).with_aim(slack_s=slack_s))


def test_flip_that_the_mount_makes_by_itself_is_on_time_however_late_the_list_is() -> None:
    shots = kept("mount", "through the zenith", 60)
    (flip,) = [step for step in shots.steps if step.kind == "flip"]
    (late,) = [step for step in late_steps(shots, 60) if step.kind == "flip"]
    assert flip.latest_start_utc == flip.start_utc == late.start_utc
    assert (late.seconds, shots.totals.least_slack_s) == (
        flip.seconds + 60,
        least_slack(shots.steps, by_mount=True)[0],
    )


def test_list_that_runs_late_by_much_is_caught() -> None:
    """Else the tests above would say nothing."""
    shots = kept("plan", "through the zenith", 60)
    assert broken(shots, 3600)
    assert lost_s(shots, 3600) > 0
    assert {"contact", "clear"} & broken(shots, 3600)
