"""The audit begins anywhere: the rest of a list, cut at any step, passes from where the steps before it end."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from optimizer import audit
from optimizer.audit import audit_joined, audit_shot_list, audit_steps
from optimizer.audit.registry import LIST_RULE_NAMES, STEP_RULE_NAMES
from optimizer.cli.check import command
from optimizer.cli.failures import ExitCode
from optimizer.export.json_file import json_text, read_json
from optimizer.models.continues import Begin
from optimizer.models.shots import ShotList, Step
from optimizer.report.audit_view import audit_view
from tests.support.docs_files import PLANS
from tests.support.hand_laid.cut_nights import begin_after, cut, going_on, on_target, rest_of, standing_at
from tests.support.hand_laid.list_builder import shot_list
from tests.support.hand_laid.mutations import number_of
from tests.support.hand_laid.night_cases import VALID, Night, flipped, request, tight
from tests.support.property_plans import plan_of
from tests.support.report_cases import text
from tests.support.scenarios.small import small_night
from tests.support.speeds import sampled

ACQUIRES = ("centre", "settle", "rotate")


def in_arrival(steps: tuple[Step, ...], k: int) -> bool:
    """Whether step `k` is part of an arrival begun before it, up to the autofocus that may belong to it."""
    block = [*ACQUIRES, "focus"]
    while k > 1 and steps[k - 1].kind in block:
        k -= 1
        if steps[k - 1].kind in ("slew", "flip"):
            return True
    return False


def goal_changes(steps: tuple[Step, ...], k: int) -> bool:
    """Whether step `k` begins a run with neither filter nor wait before it, as nobody sees from the rest."""
    before = [step for step in steps[: k - 1] if step.kind == "expose"]
    opens = [step for step in steps[k - 1 :] if step.kind == "expose"]
    return bool(before and opens) and before[-1].exposure_s != opens[0].exposure_s


def check_cut(shots: ShotList, k: int) -> None:
    """The rest passes, and so does the night as a whole; in an arrival only the whole does for certain."""
    night = Night(shots.request, shots.steps)
    steps, continues = rest_of(*night, k)
    report = audit_steps(night.request, steps, continues)
    assert report.rules == (*STEP_RULE_NAMES, "begins")
    found = {each.rule for each in report.violations}
    allowed = {"acquired", "rotator", "quiet"} if in_arrival(night.steps, k) else set()
    allowed |= {"dither_every"} if goal_changes(night.steps, k) else set()
    assert found <= allowed, (k, report.violations)
    whole = audit_joined(shots, cut(shots, k))
    assert (whole.violations, whole.quality) == ((), ()), k


@cache
def whole() -> ShotList:
    return shot_list(flipped())


def as_list(night: Night) -> ShotList:
    """The steps of a night in a list whose totals and proof are another one's."""
    return whole().model_copy(update={"request": night.request, "steps": night.steps})


@pytest.mark.parametrize("night", VALID, ids=lambda night: night.__name__)
def test_rest_of_a_hand_laid_night_passes_from_any_step(night: Callable[[], Night]) -> None:
    steps = night().steps
    for k in sorted(random.Random(night.__name__).sample(range(1, len(steps) + 1), 4)):
        check_cut(as_list(night()), k)


@pytest.mark.parametrize("folder", PLANS, ids=lambda folder: folder.name)
def test_rest_of_a_stored_plan_passes_from_any_step(folder: Path) -> None:
    (stored,) = (folder / "stored").glob("*.shots.json")
    shots = read_json(stored)
    for k in random.Random(folder.name).sample(range(1, len(shots.steps) + 1), 6):
        check_cut(shots, k)


@pytest.mark.parametrize("seed", sampled(range(700, 740), quick=2))
def test_rest_of_a_random_plan_passes_from_any_step(seed: int, tmp_path: Path) -> None:
    shots = plan_of(small_night(seed), tmp_path)
    ks = range(1, len(shots.steps) + 1)
    for k in random.Random(seed).sample(ks, min(len(ks), 4)):
        check_cut(shots, k)


def test_what_the_steps_before_a_cut_say() -> None:
    """Of a night with a flip: in a run, behind its dither, behind an autofocus, in the flip block, at the end."""
    asked, steps = flipped()
    first = number_of(flipped(), "expose")
    start = begin_after(asked, steps, 1)
    assert start == Begin(utc=steps[0].start_utc)
    arriving = begin_after(asked, steps, 2)
    assert (arriving.target, arriving.pier_side) == ("Cradle", "west")
    assert (arriving.acquired, arriving.filter, arriving.focus_due) == (False, None, True)
    in_run = begin_after(asked, steps, first + 2)  # L L | dither L
    focused = steps[number_of(flipped(), "focus") - 1].end_utc
    assert (in_run.acquired, in_run.filter, in_run.focused_utc, in_run.focus_due) == (
        True,
        "L",
        focused,
        False,
    )
    assert (in_run.undithered, in_run.open_s) == (2, 240)
    assert begin_after(asked, steps, first + 3).undithered == 0
    changed_filter = begin_after(asked, steps, number_of(flipped(), "filter", 1) + 1)
    assert (changed_filter.filter, changed_filter.undithered, changed_filter.focus_due) == ("R", 0, True)
    flip = number_of(flipped(), "flip")
    flipping = begin_after(asked, steps, flip + 1)
    assert (flipping.pier_side, flipping.acquired, flipping.filter) == ("east", False, "R")
    assert (flipping.open_s, flipping.focus_due) == (0, True)


def test_mount_that_stood_still_stands_where_its_last_download_ended() -> None:
    asked, steps = tight()
    wait = number_of(tight(), "wait")
    stands = begin_after(asked, steps, wait + 1)
    assert (stands.target, stands.pier_side, stands.acquired) == ("Cradle", "west", False)
    assert stands.stands_since_utc == steps[wait - 1].start_utc
    assert begin_after(asked, steps, wait).stands_since_utc is None


def test_state_goes_through_a_list_that_itself_goes_on() -> None:
    """Cut twice, a night stands as it does cut once."""
    shots = as_list(flipped())
    for first, second in ((8, 10), (9, 13), (14, 22), (10, 10)):
        half = cut(shots, first)
        again = cut(half, second - first + 1)
        once = cut(shots, second)
        assert again.continues is not None
        assert once.continues is not None
        assert again.continues.begin == once.continues.begin, (first, second)
        assert audit_joined(half, again).violations == ()


def test_own_list_that_goes_on_is_checked_whole() -> None:
    """Totals, proof and night facts as well; and the mount must track before a flip where it can."""
    builder = standing_at(request(), flipped().steps[10].start_utc)
    begin = on_target(builder)
    builder.expose(2).until_hour_angle(330.0, tracking=True).flip().focus().expose(2).park()
    shots = shot_list(Night(request(), builder.steps()))
    shots = shots.model_copy(update={"continues": going_on(begin)})
    report = audit_shot_list(shots)
    assert report.violations == ()
    assert report.rules == (*STEP_RULE_NAMES, "begins", *LIST_RULE_NAMES)
    assert audit(shots, request()).violations == ()
    assert "acquired" in {each.rule for each in audit(shots.steps, request()).violations}


def test_mount_that_stands_at_once_before_a_flip_where_it_could_track_is_told() -> None:
    """Of one of our own lists."""
    builder = standing_at(request(), flipped().steps[10].start_utc)
    begin = on_target(builder)
    builder.until_hour_angle(330.0).flip().focus().expose(2).park()
    shots = shot_list(Night(request(), builder.steps()))
    found = audit_shot_list(shots.model_copy(update={"continues": going_on(begin)})).violations
    assert [(each.rule, each.step) for each in found] == [("tracking", 1)]


def test_check_says_with_which_list_another_one_goes_on() -> None:
    shots = cut(as_list(flipped()), 8)
    assert shots.continues is not None
    shown = text(audit_view(whole().audit_report, shots))
    utc = shots.continues.begin.utc
    assert (
        shown.splitlines()[0]
        == f"From {(utc.hour + 1) % 24:02d}:{utc:%M} (Europe/Madrid) on, in place of the list whose SHA-256 "
        "begins with 5e5e5e5e."
    )
    assert text(audit_view(whole().audit_report, whole())).startswith("Safe")


def test_check_of_a_file_begins_where_the_list_does(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Against its own request and against another one: without its beginning it would break rules."""
    builder = standing_at(request(), flipped().steps[10].start_utc)
    begin = on_target(builder)
    shots = shot_list(Night(request(), builder.expose(2).park().steps()))
    shots = shots.model_copy(update={"continues": going_on(begin)})
    path, asked = tmp_path / "night.shots.json", tmp_path / "request.json"
    path.write_text(json_text(shots), encoding="utf-8")
    asked.write_text(request().model_dump_json(by_alias=True, exclude_none=True), encoding="utf-8")
    for other in (None, asked):
        assert command(path, other) is ExitCode.DONE
        shown = capsys.readouterr().out
        assert " on, in place of the list whose SHA-256 begins with 5e5e5e5e." in shown
        assert "Safe and within the rules" in shown
