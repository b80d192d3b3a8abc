"""What is said of what was learned: true as it stands, and readable at every width."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer.learn.acts import learned
from optimizer.learn.changes import Change, changes_of
from optimizer.learn.found import Found
from optimizer.learn.lesson import Lesson
from optimizer.learn.lines import Included, Place, Written
from optimizer.learn.parted import Parted, parted
from optimizer.report.learn_facts import LearnReport, OutcomeFacts, TonightFacts, learn_report
from optimizer.report.learn_view import learn_view
from optimizer.report.learn_words import change_lines, tonight_lines
from optimizer.report.parted_words import steps_words
from optimizer.report.words import TIE
from tests.support.learned_cases import EVENING, a_lesson, an_act
from tests.support.replan_nights import small_list
from tests.support.report_cases import text
from tests.support.run_night import run_night

FOLDER = Path("images")
OWN = Place("request.toml", 31, own=True, written=True)
RIG = Place("rig.toml", 12, own=False, written=True)


def tonight(taken: float, new: float, undecided_s: float, *, lost: int = 0) -> TonightFacts:
    def outcome(value_s: float, subs: int = 95) -> OutcomeFacts:
        return OutcomeFacts(subs=subs, open_s=value_s, value_s=value_s)

    return TonightFacts(
        evening="2026-11-14",
        old=outcome(taken + 300 * lost),
        old_taken=outcome(taken, 95 - lost),
        new=outcome(new, 92),
        new_taken=outcome(new, 92),
        gain_s=new - taken,
        undecided_s=undecided_s,
        can_be_told=abs(new - taken) > undecided_s,
    )


def report_of(
    *changes: tuple[Change, Place], lesson: Lesson | None = None, written: Written | None = None
) -> LearnReport:
    found = Found((), 90, 0, (), ())
    lesson = lesson or Lesson(EVENING, found, a_lesson(an_act("dither", 12, 15.5)), changes, None, None)
    return learn_report(FOLDER, lesson, written)


def said(facts: TonightFacts) -> str:
    return " ".join(tonight_lines(facts)).replace(TIE, " ")


# --- tonight ---------------------------------------------------------------------------------------------


def test_a_gain_beyond_what_the_searches_leave_open_is_told_as_one() -> None:
    words = said(tonight(10_000, 11_500, 600, lost=7))
    assert "loses 7 of its 95 subs: about 88 would really be taken." in words
    assert "The list by the learned numbers has 92." in words
    assert "the night has 25 min more of value (15.0 %); the two searches leave 10 min open." in words


def test_a_difference_within_what_the_searches_leave_open_cannot_be_told() -> None:
    words = said(tonight(10_000, 10_400, 600, lost=2))
    assert "They differ by 7 min of value" in words
    assert words.endswith("so what the night gains by the learned numbers cannot be told.")
    assert "more (" not in words


def test_a_loss_is_told_with_what_a_late_list_may_do_and_a_plan_may_not() -> None:
    words = said(tonight(10_000, 9_000, 60))
    assert "loses none of its 95 subs." in words
    assert "the night has 17 min less of value (−10.0 %): a list that runs late may use up the slack" in words


def test_two_lists_of_one_value_that_are_proven_the_best_differ_in_nothing() -> None:
    assert said(tonight(10_000, 10_000, 0)).endswith("Both have the same value.")
    assert "gives nothing" in said(tonight(0, 3600, 0, lost=95))


# --- what to change --------------------------------------------------------------------------------------


def test_a_key_that_stands_for_a_sum_says_so_and_the_sum_is_not_told_again() -> None:
    whole = replace(an_act("filter", 86, 111), acts=("filter", "slew"))
    change = Change("mount.centre_s", 45, 70, 20, together=whole.acts)
    lesson = Lesson(
        EVENING, Found((), 90, 0, (), ()), replace(a_lesson(), sums=(whole,)), ((change, RIG),), None, None
    )
    words = " ".join(change_lines(learn_report(FOLDER, lesson)))
    assert (
        "centre_s takes what these are longer in sum, for which of them it is cannot be told: filter change + "
        "slew, plate solve, settling. It counts in each flip as well." in words
    )
    assert "beyond the planned motion of the axes" not in words
    assert "Together surely" not in words
    without = Lesson(EVENING, Found((), 90, 0, (), ()), replace(a_lesson(), sums=(whole,)), (), None, None)
    assert "Together surely" in " ".join(change_lines(learn_report(FOLDER, without)))


def test_a_key_that_is_not_written_stands_nowhere_yet() -> None:
    change = Change("camera.dither_s", 12, 15.5, 20)
    report = report_of((change, Place("rig.toml", 21, own=False, written=False)))
    assert "nowhere yet; [camera] is at rig.toml, line 21" in " ".join(text(learn_view(report)).split())


def test_what_hides_the_file_is_told_with_its_line() -> None:
    dither, centre = Change("camera.dither_s", 12, 15.5, 20), Change("mount.centre_s", 45, 50, 9)
    written = Written(Path("new.toml"), Included('include = ["new.toml"]', within=False), None)
    words = " ".join(change_lines(report_of((dither, OWN), (centre, RIG), written=written)))
    assert (
        'once the request includes it after all other files, above its first [table]:   include = ["new.toml"]'
        in words
    )
    assert "allow that with --include-outside" in words
    assert "camera.dither_s (request.toml, line 31) stands in the request itself, which wins over it" in words
    assert "mount.centre_s (" not in words


def test_filters_are_to_be_written_by_hand_where_they_stand() -> None:
    words = " ".join(change_lines(report_of((Change("filters.change_s", 8, 11.3, 7, "Ha"), RIG))))
    assert "filters are a list, which a file would replace as a whole" in words
    assert 'change_s = 11.3 for filter "Ha" (rig.toml, line 12).' in words
    assert "--write" not in words


def test_a_slow_flip_is_told_though_no_line_changes() -> None:
    report = report_of(
        lesson=Lesson(EVENING, Found((), 9, 0, (), ()), a_lesson(an_act("flip", 120, 150)), (), None, None)
    )
    words = " ".join(change_lines(report)).replace(TIE, " ")
    assert "A flip takes surely 30.0 s longer than planned. No line is changed for that" in words


def test_filters_that_share_the_length_of_all_changes_are_named() -> None:
    words = " ".join(change_lines(report_of((Change("filters.change_s", 8, 11.3, 7, "Ha"), RIG))))
    assert words.endswith("For Ha that is the length of all filter changes together.")


def test_acts_known_only_together_are_told_where_their_sum_is_off() -> None:
    whole = replace(an_act("filter", 158, 137.7), acts=("filter", "focus"))
    both = replace(a_lesson(), sums=(whole,))
    lesson = Lesson(EVENING, Found((), 9, 0, (), ()), both, (), None, None)
    words = " ".join(change_lines(report_of(lesson=lesson))).replace(TIE, " ")
    assert words.startswith("Nothing to change: no act that is known takes surely longer or shorter")
    assert "6 acts are not known." in words
    assert words.endswith(
        "Together surely 20.3 s shorter than planned, and which of them cannot be told: filter change + autofocus."
    )


def test_a_sum_that_its_known_acts_explain_is_no_riddle() -> None:
    whole = replace(an_act("filter", 158, 180.1), acts=("filter", "focus"))
    known = replace(a_lesson(an_act("focus", 150, 172)), sums=(whole,))
    report = report_of(lesson=Lesson(EVENING, Found((), 9, 0, (), ()), known, (), None, None))
    assert "Together" not in " ".join(change_lines(report))


# --- the whole ------------------------------------------------------------------------------------------


def a_slow_night() -> LearnReport:
    shots = small_list()
    subs = [step.step for step in shots.steps if step.kind == "expose"]
    happened = run_night(
        shots,
        random.Random(3),
        more={"dither": 8.0, "expose": 1.5},
        jitter=0.02,
        stalls={subs[30]: 400.0},
        lost=(subs[10],),
    )
    frames = happened.frames()
    taught = learned(shots.request, frames, shots)
    beside: Parted = parted(shots, frames)
    changes = tuple((each, RIG) for each in changes_of(shots.request, taught))
    return learn_report(
        FOLDER, Lesson(EVENING, Found(tuple(frames), 81, 0, (), ()), taught, changes, None, beside)
    )


@pytest.mark.parametrize("width", [60, 80, 110])
def test_nothing_is_lost_and_no_line_is_too_long(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    report = a_slow_night()
    assert report.parted is not None
    shown = text(learn_view(report))
    assert max(map(len, shown.splitlines())) <= width
    words = " ".join(shown.split())
    for part in (
        "download and overhead",
        *(f"{act.longer_s:.1f} s longer" for act in report.acts[:2]),
        "not known: ",
        "camera.dither_s",
        "rig.toml, line 12",
        f"6 min {report.parted.held_up[0].seconds - 360:02.0f} s longer than planned: cloud, a stall or a person, files cannot tell which.",
        "from one sub to the next",
        "step 19",
    ):
        assert part in words, part


def test_steps_are_told_as_ranges() -> None:
    assert steps_words([7]) == "step 7"
    assert steps_words([7, 8, 9, 12]) == "steps 7-9, 12"
