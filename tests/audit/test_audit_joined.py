"""An older list as far as it was done and the one that goes on with it: one lawful night, or told where not."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any

import pytest

from optimizer.audit import audit_joined
from optimizer.models.continues import Begin
from optimizer.models.shots import AuditReport, ShotList
from tests.support.hand_laid.cut_nights import counted, cut, going_on, standing_at
from tests.support.hand_laid.list_builder import shot_list
from tests.support.hand_laid.mutations import asking, changed, later, number_of
from tests.support.hand_laid.night_builder import NightBuilder
from tests.support.hand_laid.night_cases import Night, flipped, standing

FIRST = number_of(flipped(), "expose")  # L L dither L, R R dither R, wait, flip
FLIP = number_of(flipped(), "flip")


@cache
def older(night: Any = flipped) -> ShotList:
    found: Night = night()
    return shot_list(flipped()).model_copy(update={"request": found.request, "steps": found.steps})


def newer(
    k: int, builder: NightBuilder, begin: Begin, *, told: bool = False, done: Iterable[int] = ()
) -> ShotList:
    """What a builder laid, as the list that goes on where the older one was cut before step `k`."""
    shots = cut(older(), k)
    continues = going_on(begin, done or range(1, k), told=told)
    return shots.model_copy(update={"steps": builder.steps(), "continues": continues})


def began(k: int, **facts: Any) -> Begin:
    continues = cut(older(), k).continues
    assert continues is not None
    return continues.begin.model_copy(update=facts)


def rules(report: AuditReport) -> set[str]:
    return {each.rule for each in report.violations}


def stopped(k: int, seconds: int, **asked: Any) -> NightBuilder:
    """The mount so many seconds after step `k` started, still on its target."""
    start = later(older().steps[k - 1].start_utc, seconds)
    builder = standing_at(older().request, start)
    builder.filter = cut(older(), k).steps[0].filter
    return builder


def test_sub_that_was_dropped_is_taken_anew_behind_a_dither() -> None:
    """L L, the dither done, a third sub stopped after a minute; its dither makes the run lawful."""
    k = FIRST + 1
    builder = stopped(k, 60)
    begin = began(k, utc=builder.now)
    assert begin.undithered == 1
    report = audit_joined(older(), newer(k, builder.dither().expose(2).park(), begin))
    assert (report.violations, report.quality) == ((), ())


def test_dither_is_missing_across_the_join() -> None:
    """One sub of the run before, two behind: dither_every is 2."""
    k = FIRST + 1
    report = audit_joined(
        older(),
        newer(
            k,
            (builder := stopped(k, 60)).expose(2).park(),
            began(k, utc=later(older().steps[k - 1].start_utc, 60)),
        ),
    )
    assert [(each.rule, each.step, each.amount) for each in report.violations] == [("dither_every", 2, 1)]
    assert builder.target == "Cradle"


def test_dither_is_missing_though_the_list_says_that_none_is_due() -> None:
    """The newer list passes by itself; the steps done know better."""
    k = FIRST + 1
    builder = stopped(k, 60)
    begin = began(k, utc=builder.now, undithered=0)
    report = audit_joined(older(), newer(k, builder.expose(2).park(), begin))
    assert rules(report) == {"dither_every", "begins"}


@pytest.mark.parametrize(("every_min", "broken"), [(9.34, True), (9.35, False)])
def test_age_of_the_autofocus_counts_across_the_join(every_min: float, broken: bool) -> None:
    """Three subs of 123 s, a dither of 12 s, 60 s lost, another sub: it closes 561 s after the autofocus."""
    night = asking(flipped(), focus__every_min=every_min)
    k = FIRST + 4
    builder = standing_at(night.request, later(night.steps[k - 1].start_utc, 60))
    begin = began(k, utc=builder.now)
    list_then = older().model_copy(update={"request": night.request})
    shots = newer(k, builder.expose(1).park(), begin)
    report = audit_joined(list_then, shots)
    closes_s = (begin.utc - (begin.focused_utc or begin.utc)).total_seconds() + 120
    assert (closes_s > every_min * 60) is broken
    assert [(each.rule, each.amount) for each in report.violations] == (
        [("focus_every", closes_s - int(every_min * 60))] if broken else []
    )


def test_autofocus_that_nobody_made_is_told() -> None:
    k = FIRST + 2
    shots = cut(older(), k, focused_utc=older().steps[k - 1].start_utc)
    (found,) = audit_joined(older(), shots).violations
    assert (found.rule, found.unit) == ("begins", "s")
    assert "begin says that the latest autofocus ended at" in found.message


def test_frames_are_not_taken_twice() -> None:
    """The request of the newer list forgets the three subs that were done, and its steps take them again."""
    k = FIRST + 4
    builder = stopped(k, 0)
    builder.filter = "L"
    begin = began(k)
    work = builder.dither().expose(4).park()
    forgets = newer(k, work, begin).model_copy(update={"request": older().request})
    report = audit_joined(older(), forgets)
    assert [(each.rule, each.amount, each.unit) for each in report.violations] == [("frames", 1, "subs")]


def test_more_in_hand_than_was_taken_is_told() -> None:
    shots = cut(older(), FIRST + 2)
    true = shots.request.targets[0].goals[0].done
    more = shots.model_copy(update={"request": changed(shots.request, "targets.0.goals.0.done", true + 1)})
    (found,) = audit_joined(older(), more).violations
    assert (found.rule, found.amount, found.unit) == ("frames", 1, "subs")
    assert found.message == "Cradle in L has 1 more in hand than was taken"


@pytest.mark.parametrize("told", [False, True])
def test_flip_that_nobody_planned_must_have_been_told(told: bool) -> None:
    """The steps done leave the mount west of the pier; the newer list finds it east."""
    flip = older().steps[FLIP - 1]
    builder = standing_at(older().request, later(flip.start_utc, 900), side="east")
    builder.filter = None
    begin = Begin(utc=builder.now, target="Cradle", pier_side="east", acquired=True)
    builder.set_filter("L").focus().expose(2).park()
    report = audit_joined(older(), newer(FLIP - 1, builder, begin, told=told))
    if told:
        assert report.violations == ()
    else:
        assert "begins" in rules(report)
        assert "begin says that the mount tracks Cradle on pier side east; by the steps done it" in str(
            report.violations
        )


@pytest.mark.parametrize("told", [False, True])
def test_park_that_nobody_planned_must_have_been_told(told: bool) -> None:
    k = FIRST + 2
    start = later(older().steps[k - 1].start_utc, 1200)
    builder = (
        NightBuilder(older().request, start).slew("Cradle", "west").set_filter("L").focus().expose(2).park()
    )
    was = began(k)
    begin = Begin(utc=start, filter="L", focused_utc=was.focused_utc)
    report = audit_joined(older(), newer(k, builder, begin, told=told))
    assert rules(report) == (set() if told else {"begins"})
    assert report.quality == ()


def test_clouds_of_the_newer_list_count_from_its_beginning_on() -> None:
    shots = cut(older(), FIRST + 2)
    at_end = shots.steps[-2]
    night = shots.request.night
    cloud = (*night.blocked, (later(at_end.start_utc, 10), later(at_end.start_utc, 20)))
    clouded = shots.request.model_copy(update={"night": night.model_copy(update={"blocked": cloud})})
    (found,) = audit_joined(older(), shots.model_copy(update={"request": clouded})).violations
    assert (found.rule, found.step, found.amount) == ("blocked", at_end.step, 10)
    assert audit_joined(older(), shots).violations == ()


def test_tracking_past_the_limit_between_the_lists_is_told_as_quality() -> None:
    """Nobody flipped; the mount tracked on past the end of its side, and the newer list takes it away."""
    k = FLIP
    asked = older().request
    flip = older().steps[FLIP - 1]
    limit = NightBuilder(asked, flip.start_utc).almanac.when_hour_angle("Cradle", 1660.0, flip.start_utc)
    builder = standing_at(asked, later(limit, 60))
    builder.filter = "R"
    begin = began(k, utc=builder.now)
    builder.flip().set_filter("L").focus().expose(1).park()
    report = audit_joined(older(), newer(k, builder, begin))
    assert report.violations == ()
    (told,) = report.quality
    assert (told.rule, told.step) == ("contact", None)
    assert told.amount == pytest.approx(60.2, abs=1.1)
    assert told.message.startswith("before the newer list: wait of Cradle tracks ")


def test_run_taken_up_again_behind_another_is_told_as_quality() -> None:
    """L, then R, then L once more in the same visit: each list by itself has each once."""
    k = FIRST + 4
    builder = stopped(k, 0)
    builder.set_filter("R").focus().expose(1, goal=1).set_filter("L").focus().expose(1).park()
    report = audit_joined(older(), newer(k, builder, began(k)))
    assert report.violations == ()
    assert [each.rule for each in report.quality] == ["one_run"]


def test_steps_left_out_in_the_midst_break_nothing_of_the_past() -> None:
    """The autofocus and a sub were skipped; the mount tracked on."""
    k = FIRST + 4
    done = [number for number in range(1, k) if number not in (FIRST - 1, FIRST + 1)]
    builder = stopped(k, 0)
    builder.filter = "L"
    begin = began(k, focused_utc=None, focus_due=False, undithered=1, open_s=240.0)
    shots = newer(k, builder.dither().focus().expose(1).park(), begin, done=done)
    asked = counted(older().request, [step for step in older().steps if step.step in done])
    report = audit_joined(older(), shots.model_copy(update={"request": asked}))
    assert report.violations == ()


def test_steps_done_that_do_not_exist_or_end_too_late_are_told() -> None:
    shots = cut(older(), FIRST + 2)
    assert shots.continues is not None
    beyond = shots.continues.model_copy(update={"steps_done": (*shots.continues.steps_done, 400)})
    found = audit_joined(older(), shots.model_copy(update={"continues": beyond})).violations
    assert [each.message for each in found] == ["steps_done names 400; the older list has no such step"]
    overlap = shots.continues.model_copy(update={"steps_done": tuple(range(1, FIRST + 3))})
    found = audit_joined(older(), shots.model_copy(update={"continues": overlap})).violations
    assert {"begins", "contiguous"} <= {each.rule for each in found}
    assert "the last step done ends 12 s after the newer list begins" in [each.message for each in found]


def test_list_that_begins_the_night_goes_on_with_none() -> None:
    with pytest.raises(ValueError, match="it has no `continues`"):
        audit_joined(older(), older())


def test_wait_of_the_older_list_cut_short_ends_its_run() -> None:
    """In a wait that stands still the mount has stood since it began, not since the newer list."""
    found = standing()
    list_then = older(standing)
    wait = number_of(found, "wait")
    begins = later(found.steps[wait - 1].start_utc, 30)
    builder = standing_at(found.request, begins, stood=30)
    builder.filter = "R"
    since = found.steps[wait - 1].start_utc
    begin = cut(list_then, wait).continues
    assert begin is not None
    stands = begin.begin.model_copy(
        update={"utc": begins, "acquired": False, "stands_since_utc": since, "undithered": 0}
    )
    builder.until_hour_angle(330.0).flip().focus().expose(1, goal=1).park()
    assert builder.side == "east"
    shots = cut(list_then, wait).model_copy(
        update={"steps": builder.steps(), "continues": going_on(stands, range(1, wait))}
    )
    assert audit_joined(list_then, shots).violations == ()
    later_said = stands.model_copy(update={"stands_since_utc": begins})
    wrong = shots.model_copy(update={"continues": going_on(later_said, range(1, wait))})
    assert "begins" in rules(audit_joined(list_then, wrong))
