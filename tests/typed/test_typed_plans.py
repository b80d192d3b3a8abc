"""Plans typed by hand, good and bad: what a check finds in each, the most dangerous first."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

import pytest

from optimizer.audit import audit_steps
from optimizer.findings import findings_of
from tests.support.typed_cases import FEW, made, request_of
from tests.support.typed_cases import PLANS as PLANS_FOLDER

WITH_KIND = "start,kind,target,filter,exposure_s,count\n"

PELICAN, WHIRL, HYADES = "Pelican at the shore", "Whirl in Triangulum", "Hyades dust"


class Plan(NamedTuple):
    """A plan, what is found in it as group and rule, and the seconds that are lacking before its rows."""

    name: str
    text: str
    found: tuple[str, ...] = ()
    lacking_s: tuple[int, ...] = ()


# fmt: off
PLANS = [
    Plan("one block before the transit",
        FEW + f"20:20,{PELICAN},Ha,300,10\n"),
    Plan("a gap for the flip after the transit",
        FEW + f"20:20,{PELICAN},Ha,300,14\n"
        f"21:40,{PELICAN},Ha,300,20\n"),
    Plan("the flip's gap without time for the autofocus",
        FEW + f"20:20,{PELICAN},Ha,300,14\n"
        f"21:34,{PELICAN},Ha,300,20\n",
        ("lost_frames:contiguous",),
        (117,)),
    Plan("no gap for the flip in a row of subs",
        FEW + f"20:20,{PELICAN},Ha,300,30\n",
        ("equipment:contact",)),
    Plan("no gap for the flip between two rows",
        FEW + f"20:20,{PELICAN},Ha,300,14\n"
        f"21:31:20,{PELICAN},Ha,300,20\n",
        ("equipment:contact",)),
    Plan("a gap before the mount takes the flip",
        FEW + f"20:20,{PELICAN},Ha,300,10\n"
        f"21:20,{PELICAN},Ha,300,20\n",
        ("equipment:contact",)),
    Plan("the flip typed, with time for it",
        WITH_KIND + f"20:20,,{PELICAN},Ha,300,13\n"
        f"21:31,flip,{PELICAN},,,\n"
        f"21:40,,{PELICAN},Ha,300,20\n"),
    Plan("the flip typed before the mount takes it",
        WITH_KIND + f"20:20,,{PELICAN},Ha,300,10\n"
        f"21:13,flip,{PELICAN},,,\n"
        f"21:20,,{PELICAN},Ha,300,20\n",
        ("equipment:flip_from",)),
    Plan("the flip typed while a shutter is open",
        WITH_KIND + f"20:20,,{PELICAN},Ha,300,20\n"
        f"21:30,flip,{PELICAN},,,\n"
        f"22:10,,{PELICAN},Ha,300,20\n",
        ("equipment:contact", "equipment:straddle", "lost_frames:contiguous")),
    Plan("the side typed against the transit",
        "start,target,filter,exposure_s,count,pier_side\n"
        f"20:20,{PELICAN},Ha,300,10,east\n",
        ("equipment:flip_from",)),
    Plan("west typed long after the transit",
        "start,target,filter,exposure_s,count,pier_side\n"
        f"23:00,{PELICAN},Ha,300,10,west\n",
        ("equipment:contact",)),
    Plan("a target after its transit",
        FEW + f"23:00,{PELICAN},Ha,300,10\n"),
    Plan("a target whose own flip is far off",
        FEW + f"23:50,{WHIRL},L,180,30\n"),
    Plan("two targets with time between",
        FEW + f"20:20,{PELICAN},Ha,300,10\n"
        f"23:50,{WHIRL},L,180,30\n"),
    Plan("two targets without time between",
        FEW + f"20:20,{PELICAN},Ha,300,10\n"
        f"21:12,{WHIRL},L,180,5\n",
        ("lost_frames:contiguous",),
        (184,)),
    Plan("two targets in one second",
        FEW + f"20:20,{PELICAN},Ha,300,5\n"
        f"20:20,{WHIRL},L,180,5\n",
        ("lost_frames:darkness", "lost_frames:contiguous"),
        (1777,)),
    Plan("a row inside another",
        FEW + f"20:20,{PELICAN},Ha,300,12\n"
        f"21:00,{WHIRL},L,180,2\n",
        ("lost_frames:contiguous",),
        (1510,)),
    Plan("rows not in the order of time",
        FEW + f"23:50,{WHIRL},L,180,30\n"
        f"20:20,{PELICAN},Ha,300,10\n"),
    Plan("back to a target",
        FEW + f"20:20,{PELICAN},Ha,300,8\n"
        f"21:30,{WHIRL},L,180,5\n"
        f"22:30,{PELICAN},Ha,300,8\n"),
    Plan("before it is dark",
        FEW + f"20:00,{PELICAN},Ha,300,5\n",
        ("lost_frames:darkness",)),
    Plan("while the Sun is up",
        FEW + f"19:00,{PELICAN},Ha,300,3\n",
        ("equipment:sun_down",)),
    Plan("by day",
        FEW + f"12:30,{PELICAN},Ha,300,2\n",
        ("equipment:sun_down", "lost_frames:darkness", "lost_frames:floor")),
    Plan("into dawn",
        FEW + f"06:00,{HYADES},L,120,30\n",
        ("lost_frames:darkness",)),
    Plan("below the floor",
        FEW + f"22:00,{HYADES},L,120,10\n",
        ("lost_frames:floor",)),
    Plan("an exposure that no goal asks for",
        FEW + f"20:20,{PELICAN},Ha,240,5\n",
        ("lost_frames:goal_match",)),
    Plan("an exposure that is nearly a goal's",
        FEW + f"20:20,{PELICAN},Ha,301,5\n"),
    Plan("a filter that the target does not want",
        FEW + f"21:30,{PELICAN},L,180,5\n",
        ("lost_frames:goal_match",)),
    Plan("more subs than are wanted",
        FEW + f"20:20,{PELICAN},Ha,300,12\n"
        f"21:40,{PELICAN},Ha,300,40\n",
        ("lost_frames:frames",)),
    Plan("sub by sub",
        FEW + f"20:20:00,{PELICAN},Ha,300\n"
        f"20:25:03,{PELICAN},Ha,300\n"
        f"20:30:06,{PELICAN},Ha,300\n"
        f"20:35:09,{PELICAN},Ha,300\n"),
    Plan("sub by sub with a pause in each",
        FEW + f"20:20,{PELICAN},Ha,300\n"
        f"20:26,{PELICAN},Ha,300\n"
        f"20:32,{PELICAN},Ha,300\n"
        f"20:38,{PELICAN},Ha,300\n"
        f"20:44,{PELICAN},Ha,300\n"
        f"20:50,{PELICAN},Ha,300\n"),
    Plan("sub by sub without time for dithers",
        FEW + f"20:20:00,{PELICAN},Ha,300\n"
        f"20:25:03,{PELICAN},Ha,300\n"
        f"20:30:06,{PELICAN},Ha,300\n"
        f"20:35:09,{PELICAN},Ha,300\n"
        f"20:40:12,{PELICAN},Ha,300\n"
        f"20:45:15,{PELICAN},Ha,300\n"
        f"20:50:18,{PELICAN},Ha,300\n",
        ("quality:dither_every",)),
    Plan("a long pause on the target",
        FEW + f"20:20,{PELICAN},Ha,300,3\n"
        f"21:00,{PELICAN},Ha,300,3\n"),
    Plan("a pause through the flip",
        FEW + f"20:20,{PELICAN},Ha,300,10\n"
        f"23:30,{PELICAN},Ha,300,10\n"),
    Plan("autofocus typed",
        WITH_KIND + f"20:20,,{PELICAN},Ha,300,5\n"
        "20:46,focus,,,,\n"
        f"20:55,,{PELICAN},Ha,300,5\n"),
    Plan("more than an autofocus may serve",
        FEW + f"22:00,{PELICAN},Ha,300,25\n"),
    Plan("park typed",
        WITH_KIND + f"20:20,,{PELICAN},Ha,300,5\n"
        "20:50,park,,,,\n"),
    Plan("park typed while a shutter is open",
        WITH_KIND + f"20:20,,{PELICAN},Ha,300,5\n"
        "20:40,park,,,,\n",
        ("lost_frames:contiguous",)),
    Plan("parked between two targets",
        WITH_KIND + f"20:20,,{PELICAN},Ha,300,5\n"
        "20:50,park,,,,\n"
        f"23:50,,{WHIRL},L,180,5\n",
        ("lost_frames:ends_with_park",)),
    Plan("coordinates of another place",
        "start,target,filter,exposure_s,count,ra_deg,dec_deg\n"
        f"20:20,{PELICAN},Ha,300,2,312.0,44.4\n",
        ("equipment:coordinates",)),
    Plan("an end that is too soon",
        "start,target,filter,exposure_s,end_utc\n"
        f"20:20,{PELICAN},Ha,300,2026-10-10T18:24:00Z\n",
        ("lost_frames:step_length",)),
    Plan("a third visit on the same side",
        FEW + f"22:30,{PELICAN},Ha,300,2\n"
        f"23:00,{WHIRL},L,180,2\n"
        f"23:20,{PELICAN},Ha,300,2\n"
        f"23:50,{WHIRL},L,180,2\n"
        f"00:10,{PELICAN},Ha,300,2\n",
        ("quality:visits",)),
    Plan("through the far flip of the last target",
        FEW + f"03:10,{HYADES},L,120,80\n",
        ("equipment:contact",)),
    Plan("with a flip for the last target",
        FEW + f"03:10,{HYADES},L,120,30\n"
        f"04:30,{HYADES},L,120,30\n"),
    Plan("as many subs as close before the limit",
        FEW + f"20:20,{PELICAN},Ha,300,17\n"),
    Plan("one sub more than close before the limit",
        FEW + f"20:20,{PELICAN},Ha,300,18\n",
        ("equipment:contact",)),
    Plan("UTC typed as if it were local",
        FEW + f"18:20,{PELICAN},Ha,300,10\n",
        ("equipment:sun_down",)),
    Plan("at the transit exactly",
        "start,target,filter,exposure_s,count,note\n"
        f"21:26:30,{PELICAN},Ha,300,4,after transit\n"),
]
# fmt: on


def test_there_are_forty_plans_and_more() -> None:
    assert len({plan.text for plan in PLANS}) >= 40


@pytest.mark.parametrize("plan", PLANS, ids=lambda plan: plan.name)
def test_what_is_found_in_a_typed_plan_and_its_order(plan: Plan, tmp_path: Path) -> None:
    request, typed = request_of(), made(tmp_path, plan.text)
    report = audit_steps(request, typed.steps)
    found = findings_of(request, typed.steps, report)
    assert tuple(f"{each.group}:{each.rule}" for each in found) == plan.found
    assert tuple(each.lacking_s for each in typed.short) == plan.lacking_s
    if plan.lacking_s:  # the audit says the same seconds
        amounts = [each.amount for each in report.violations if each.rule == "contiguous"]
        assert amounts == list(plan.lacking_s)


def test_no_row_is_moved(tmp_path: Path) -> None:
    """Where time is lacking, each sub still starts when it was typed, and the seconds are told."""
    text = f"{FEW}20:20,{PELICAN},Ha,300,10\n21:12,{WHIRL},L,180,5\n"
    typed = made(tmp_path, text)
    first = {line: step for step in reversed(typed.steps) if (line := typed.lines.get(step.step))}
    assert f"{first[3].start_utc:%H:%M:%S}" == "19:12:00"
    assert [each.sentence("Europe/Paris") for each in typed.short] == [
        "Line 3: before 21:12:00 184 s are lacking for slew, plate solve, settling, filter change and autofocus."
    ]


def test_the_tube_stays_on_its_side_where_no_gap_is_long_enough(tmp_path: Path) -> None:
    """Flip, centring and settling take 129 s from 21:31:18 on; a second less and the mount tracks on past the limit."""
    for start, flips in (("21:33:27", 1), ("21:33:26", 0)):
        typed = made(tmp_path, f"{FEW}20:20,{PELICAN},Ha,300,14\n{start},{PELICAN},Ha,300,20\n")
        assert typed.inferred.counts.get("flip", 0) == flips
        violations = audit_steps(request_of(), typed.steps).violations
        assert any(each.rule == "contact" for each in violations) == (not flips)
        assert {step.pier_side for step in typed.steps[-5:-1]} == ({"east"} if flips else {"west"})


@pytest.mark.parametrize(
    ("start", "side"),
    [("19:50", "west"), ("21:10", "west"), ("21:29", "west"), ("21:40", "east")],
)
def test_the_side_is_that_before_or_after_the_transit(start: str, side: str, tmp_path: Path) -> None:
    """Until the mount takes a flip, 5 min past the transit of 21:21, it slews to the target on its first side."""
    typed = made(tmp_path, f"{FEW}{start},{PELICAN},Ha,300,2\n")
    assert {step.pier_side for step in typed.steps if step.target} == {side}
    assert not [
        each for each in audit_steps(request_of(), typed.steps).violations if each.rule == "flip_from"
    ]


def test_the_example_of_the_docs_is_within_the_rules(tmp_path: Path) -> None:
    docs = (PLANS_FOLDER / "SHOTS.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```csv\n(start,target.*?)```", docs, re.DOTALL)
    typed = made(tmp_path, example)
    assert audit_steps(request_of(), typed.steps).violations == ()
    assert typed.inferred.counts["flip"] == 1


def test_a_row_through_the_meridian_is_told_that_no_flip_was_inferred_and_when_it_could_begin(
    tmp_path: Path,
) -> None:
    typed = made(tmp_path, FEW + f"20:20,{PELICAN},Ha,300,30\n23:50,{WHIRL},L,180,30\n")
    (lacking,) = typed.unflipped
    assert (lacking.lines, lacking.target) == ((2,), PELICAN)
    (told,) = (each for each in typed.sentences("Europe/Paris") if "no gap" in each)
    assert told == (
        f"Line 2: no gap has room for the flip of {PELICAN}, so none was inferred; leave one in which it can "
        "begin between 21:26 and 21:48."
    )
    with_gap = FEW + f"20:20,{PELICAN},Ha,300,13\n21:31,{PELICAN},Ha,300,17\n"
    assert made(tmp_path, with_gap).unflipped == ()


def test_what_spoils_more_subs_is_told_first(tmp_path: Path) -> None:
    text = f"20:10,{PELICAN},Ha,300,12\n21:10,{WHIRL},L,180,20\n22:10,{HYADES},L,120,30\n"
    steps = made(tmp_path, FEW + text).steps
    findings = findings_of(request_of(), steps, audit_steps(request_of(), steps))
    assert [finding.sentence for finding in findings if finding.group == "lost_frames"] == [
        "20 subs would be lost or spoilt from 22:10 on (below the floor).",
        "2 subs would be lost or spoilt from 21:10 on (two steps at once).",
        "1 sub would be lost or spoilt from 20:10 on (sky not dark enough).",
    ]


def test_rows_that_lack_time_for_the_same_are_told_in_one_sentence(tmp_path: Path) -> None:
    """A cycle of filters without time to change them."""
    cycle = "".join(
        f"{23 + minute // 60}:{minute % 60:02d},{WHIRL if place % 2 else HYADES},L,{180 if place % 2 else 120},1\n"
        for place, minute in enumerate(range(20, 60, 4))
    )
    told = made(tmp_path, FEW + cycle).sentences("Europe/Paris")
    lacking = [each for each in told if "lacking" in each]
    assert len(lacking) == 1
    assert re.fullmatch(
        r"Lines 3, 4, 5, 6, 7, 8 \(and 3 more\): before each \d+ to \d+ s are lacking for "
        r"slew, plate solve, settling, filter change and autofocus\.",
        lacking[0],
    )


def test_subs_that_nothing_asks_for_are_not_called_lost(tmp_path: Path) -> None:
    steps = made(tmp_path, FEW + f"22:00,{PELICAN},Ha,300,42\n").steps
    (finding,) = findings_of(request_of(), steps, audit_steps(request_of(), steps))
    assert re.fullmatch(
        r"2 subs would count for no goal from \d\d:\d\d on \(more than the goal lacks\)\.", finding.sentence
    )
