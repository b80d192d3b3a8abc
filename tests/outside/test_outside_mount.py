"""The demo night on a mount, camera and wheel that nobody here wrote: those that the open device protocol simulates.

What the mount says of its pier side and its axes, and what the camera writes into its files, is held against the list.
"""

from __future__ import annotations

import datetime as dt
import shutil
import subprocess
import time
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from optimizer import load_shots, tally
from optimizer.follow.seen import LATE_S, seen
from optimizer.follow.watch import FolderWatch, Images
from optimizer.models.shots import ShotList
from optimizer.pace.aligned import aligned
from tests.support.outside.driven_night import (
    AXIS_DEG_S,
    DEMO,
    Driven,
    cannot_drive,
    drive,
    farthest_off_deg,
    not_flipped,
    on_a_wrong_side,
    too_long,
)
from tests.support.speeds import deep, outside

pytestmark = [deep, outside]

RATE = 240  # the night's ten hours then take two and a half minutes
MOST_S = 200.0  # on the wall
A_DAY_S = 86400.0


@pytest.fixture(autouse=True)
def _can_drive() -> None:
    reason = cannot_drive()
    if reason is not None:
        pytest.skip(reason)


def _demo() -> ShotList:
    return load_shots(DEMO / "stored/request.2026-10-10.shots.json")


def test_the_demo_night_goes_as_planned_on_the_simulated_devices(tmp_path: Path) -> None:
    # One test: the night is driven once, however the tests are shared out.
    driven = drive(_demo(), tmp_path / "images", RATE, MOST_S)
    _assert_sides_and_flips(driven)
    _assert_motions(driven)
    _assert_tally(driven, tmp_path)
    _assert_on_time(driven, tmp_path / "images")


def _assert_sides_and_flips(driven: Driven) -> None:
    assert driven.skipped == ()
    assert on_a_wrong_side(driven) == []
    flips = driven.of_kind("flip")
    assert len(flips) == 2
    assert not_flipped(driven) == []
    for flip in flips:
        assert flip.step.latest_start_utc is not None
        assert flip.step.start_utc <= flip.begins_utc <= flip.step.latest_start_utc
    # Between the steps that may change it, the mount stays on its side.
    arrivals = driven.of_kind("slew", "flip")
    for arrived, leaves in zip(arrivals, [*arrivals[1:], *driven.of_kind("park")], strict=True):
        assert driven.sides_in(arrived.ends_utc, leaves.begins_utc) == {arrived.step.pier_side}


def _assert_motions(driven: Driven) -> None:
    motions = driven.of_kind("slew", "flip")
    assert len(motions) == 5
    assert too_long(driven) == []
    for each in motions:  # what the speed of the simulated mount is taken to be, it is
        assert each.turned_deg is not None
        assert each.turned_deg / AXIS_DEG_S - 2.0 < each.seconds


def _assert_tally(driven: Driven, folder: Path) -> None:
    """The request's own goals have in hand what the list says that it takes, to the last frame."""
    request = folder / "request.toml"
    text = (DEMO / "request.toml").read_text(encoding="utf-8")
    request.write_text('tally = "in-hand.csv"\n' + text, encoding="utf-8")
    told = tally(folder / "images", request)
    assert (told.unmatched, told.damaged, told.calibration) == ((), (), ())
    assert (told.copies, told.alike, told.odd) == ((), (), ())
    planned = Counter(
        (step.target, step.filter, step.exposure_s) for step in driven.shots.steps if step.kind == "expose"
    )
    assert {(each.target, each.filter, each.exposure_s): each.tallied for each in told.goals} == planned
    assert {each.evening for each in told.counted} == {"2026-10-10"}


def _assert_on_time(driven: Driven, folder: Path) -> None:
    """By the images alone the night is followed as on time: after the first flip, at midnight and at the end."""
    shots = driven.shots
    flip = driven.of_kind("flip")[0].step
    for now in (flip.end_utc, dt.datetime(2026, 10, 11, tzinfo=dt.UTC), shots.steps[-1].end_utc):
        told = seen(shots, now, _images(folder, now))
        assert told.missing == ()
        assert told.others == 0
        assert told.lost == ()
        assert told.late_s < LATE_S
        assert told.overdue is None
        assert len(told.taken) == sum(each.step.end_utc <= now for each in driven.of_kind("expose"))
    found = aligned(shots, _images(folder, now).frames)
    assert [each.frame.pier_side for each in found.taken] == [each.step.pier_side for each in found.taken]
    # At this pace a tenth of a second in which a device stands still is 0.1 degrees of sky.
    assert farthest_off_deg(found) < 0.25


def _images(folder: Path, now: dt.datetime) -> Images:
    return FolderWatch(folder, lambda: time.time() + A_DAY_S, by=now).poll()


def test_a_drive_tells_what_does_not_go_as_planned(tmp_path: Path) -> None:
    # A flip before the transit is none, for the mount stays where it is; subs planned on the other side are
    # told, and so is a slew for which too little time was planned. What comes too late is left out.
    steps = list(_demo().steps[:9])
    planned_by_hand: dict[int, dict[str, Any]] = {
        1: {"end_utc": steps[0].start_utc + dt.timedelta(seconds=20)},
        7: {"kind": "flip", "pier_side": "east", "exposure_s": None},
        8: {"pier_side": "east"},
        9: {"latest_start_utc": steps[8].start_utc - dt.timedelta(seconds=1)},
    }
    steps = [step.model_copy(update=planned_by_hand.get(step.step, {})) for step in steps]
    shots = _demo().model_copy(update={"steps": tuple(steps)})
    driven = drive(shots, tmp_path / "images", RATE, MOST_S)
    assert [each.step.step for each in on_a_wrong_side(driven)] == [8]
    assert [each.step.step for each in not_flipped(driven)] == [7]
    assert [each.step.step for each in too_long(driven)] == [1]
    assert [step.step for step in driven.skipped] == [9]
    assert [each.filter for each in _images(tmp_path / "images", shots.steps[-1].end_utc).frames] == [
        "Ha",
        "Ha",
    ]


def test_what_would_still_run_when_the_mount_must_flip_is_left_out(tmp_path: Path) -> None:
    # The autofocus of two and a half minutes cannot end before the flip must begin: the mount flips instead.
    steps = list(_demo().steps[:7])
    flips = steps[4].start_utc + dt.timedelta(seconds=60)
    latest = flips + dt.timedelta(seconds=60)
    steps[6] = steps[6].model_copy(
        update={"kind": "flip", "exposure_s": None, "start_utc": flips, "latest_start_utc": latest}
    )
    driven = drive(_demo().model_copy(update={"steps": tuple(steps)}), tmp_path / "images", 60, MOST_S)
    assert [each.step.step for each in driven.acts] == [1, 2, 3, 4, 7]
    assert driven.acts[-1].begins_utc >= flips


def test_a_drive_that_takes_too_long_is_ended_with_all_that_it_started(tmp_path: Path) -> None:
    folder = tmp_path / "images"
    with pytest.raises(subprocess.TimeoutExpired):
        drive(_demo(), folder, RATE, 10.0)
    assert list(folder.glob("*.fits"))  # it was under way
    ends_s = time.monotonic() + 10.0
    while _processes_of(folder) and time.monotonic() < ends_s:  # what is killed takes a moment to go
        time.sleep(0.05)
    assert _processes_of(folder) == []


def _processes_of(folder: Path) -> list[str]:
    """The processes that have the folder on their command line or as their home."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        try:
            told = (process / "cmdline").read_bytes() + (process / "environ").read_bytes()
        except OSError:
            continue  # it has just ended, or is another user's
        if str(folder).encode() in told:
            found.append(told.decode(errors="replace"))
    return found


def test_a_machine_without_the_devices_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    which = shutil.which
    monkeypatch.setattr(
        shutil, "which", lambda name: None if name in ("faketime", "indiserver") else which(name)
    )
    reason = cannot_drive.__wrapped__()
    assert reason == "not installed: faketime, indiserver (Debian: indi-bin, faketime, iproute2)"
