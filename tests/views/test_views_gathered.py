"""Views are gathered from steps and request alone: nothing is lost, nothing is made up, what is not known stays None."""

from __future__ import annotations

import datetime as dt
import json
import zoneinfo
from collections.abc import Callable
from pathlib import Path

import pytest

from optimizer.models.base import as_json_data
from optimizer.models.continues import Begin
from optimizer.models.shots import AuditReport, ShotList, Step, Violation
from optimizer.views.cautions import NO_AUDIT
from optimizer.views.models import PlanView
from optimizer.views.view import view_of, view_of_steps
from tests.support.docs_files import PLANS
from tests.support.replan_nights import DATA, LAID, at, flipping_list, laid_list, small_list, small_request
from tests.support.timeline_nights import by_itself, fork
from tests.support.view_cases import LISTS, begun, empty, stored

MAKERS = [pytest.param(maker, id=name) for name, maker in LISTS.items()]


@pytest.mark.parametrize("maker", MAKERS)
def test_every_sub_is_in_one_block_and_every_block_in_one_visit(maker: Callable[[], ShotList]) -> None:
    shots = maker()
    view = view_of(shots)
    subs = [step for step in shots.steps if step.kind == "expose"]
    assert view.totals.subs == len(subs) == sum(block.count for block in view.blocks)
    assert sum(visit.subs for visit in view.visits) == len(subs)
    assert sum(visit.blocks for visit in view.visits) == len(view.blocks) == view.totals.blocks
    assert [block.block for block in view.blocks] == list(range(1, len(view.blocks) + 1))
    assert [visit.visit for visit in view.visits] == list(range(1, len(view.visits) + 1))
    for sub in subs:
        told = view.steps[sub.step - 1]
        assert told.block is not None
        block = view.blocks[told.block - 1]
        assert (block.target, block.filter, block.exposure_s) == (sub.target, sub.filter, sub.exposure_s)
        assert (block.gain, block.offset, block.binning) == (sub.gain, sub.offset, sub.binning)
        assert block.pier_side == sub.pier_side
        assert block.start_utc <= sub.start_utc < sub.end_utc <= block.end_utc
        assert block.visit == told.visit
        assert block.first_step <= sub.step <= block.last_step
    for visit in view.visits:
        own = [block.block for block in view.blocks if block.visit == visit.visit]
        assert (visit.first_block, visit.last_block) == ((own[0], own[-1]) if own else (None, None))


@pytest.mark.parametrize("maker", MAKERS)
def test_a_step_is_told_as_the_list_has_it(maker: Callable[[], ShotList]) -> None:
    shots = maker()
    told = view_of(shots).steps
    assert len(told) == len(shots.steps)
    for view, step in zip(told, shots.steps, strict=True):
        assert {name: getattr(view, name) for name in Step.model_fields} == dict(step)


@pytest.mark.parametrize("maker", MAKERS)
def test_the_document_reads_back_equal(maker: Callable[[], ShotList]) -> None:
    view = view_of(maker())
    data = json.loads(json.dumps(as_json_data(view), allow_nan=False))
    assert data["schema"] == "darkfill-views/1"
    assert PlanView.model_validate_json(json.dumps(data)) == view


@pytest.mark.parametrize("folder", PLANS, ids=lambda folder: folder.name)
def test_totals_are_those_of_the_list(folder: Path) -> None:
    shots = stored(folder)
    totals = view_of(shots).totals
    assert totals.open_shutter_s == shots.totals.open_shutter_s
    assert totals.seconds_by_kind == shots.totals.seconds_by_kind
    assert totals.length_s == sum(totals.seconds_by_kind.values())
    names = (
        "target", "filter", "exposure_s", "frames_wanted", "frames_done", "frames_planned", "frames_left",
        "seconds_planned",
    )  # fmt: skip
    assert [[getattr(goal, name) for name in names] for goal in totals.goals] == [
        [getattr(goal, name) for name in names] for goal in shots.totals.goals
    ]


@pytest.mark.parametrize("maker", MAKERS)
def test_local_times_are_the_same_instants(maker: Callable[[], ShotList]) -> None:
    view = view_of(maker())
    zone = zoneinfo.ZoneInfo(view.plan.time_zone)
    pairs = 0
    for model in (view.plan, *view.visits, *view.blocks, *view.steps):
        data = dict(model)
        for name, text in data.items():
            if not name.endswith("_local"):
                continue
            instant = data[name.replace("_local", "_utc")]
            assert (text is None) == (instant is None)
            if text is not None:
                read = dt.datetime.fromisoformat(text)
                assert read == instant
                assert read.utcoffset() == instant.astimezone(zone).utcoffset()
                pairs += 1
    assert pairs or not view.steps


def test_a_hand_laid_list_is_parted_where_a_person_would_part_it() -> None:
    """A block goes on over an autofocus run; it ends at a change of filter, at a flip and at a wait."""
    view = view_of(laid_list())
    assert [
        (visit.target, visit.pier_side, visit.arrival, visit.blocks, visit.subs) for visit in view.visits
    ] == [
        ("Cradle", "west", "slew", 2, 6),
        ("Cradle", "east", "flip", 1, 1),
        ("Iris", "east", "slew", 1, 1),
    ]
    assert [
        (
            block.filter,
            block.count,
            block.flip_before,
            block.slew_before,
            block.filter_before,
            block.focus_before,
        )
        for block in view.blocks
    ] == [
        ("L", 5, False, True, True, True),
        ("Ha", 1, False, False, True, True),
        ("Ha", 1, True, False, False, False),
        ("L", 1, False, True, True, True),
    ]
    assert [(block.focus_within, block.dithers) for block in view.blocks] == [(1, 2), (0, 0), (0, 0), (0, 0)]
    assert [step.visit for step in view.steps if step.kind == "wait"] == [1, None]
    assert view.steps[-1].visit is None


def test_a_wait_parts_a_block() -> None:
    """Five subs of one kind that stop for a quarter of an hour are no five in a row."""
    text = LAID.splitlines()[:7]
    text += ["wait 20:48:44 21:00:00 Cradle west", "expose 21:00:00 21:02:03 Cradle west L 120"]
    blocks = view_of(laid_list("\n".join(text))).blocks
    assert [(block.count, block.start_utc) for block in blocks] == [(2, at("20:44:38")), (1, at("21:00"))]


@pytest.mark.parametrize(
    "change",
    [{"exposure_s": 119.0}, {"gain": 100}, {"offset": 0}, {"binning": 2}],
    ids=lambda change: next(iter(change)),
)
def test_subs_of_other_length_or_settings_are_a_block_of_their_own(change: dict[str, object]) -> None:
    shots = laid_list()
    steps = tuple(
        step.model_copy(update=change) if step.kind == "expose" and step.step >= 10 else step
        for step in shots.steps
    )
    blocks = view_of(shots.model_copy(update={"steps": steps})).blocks
    assert [(block.filter, block.count) for block in blocks[:3]] == [("L", 3), ("L", 2), ("Ha", 1)]
    for name, value in change.items():
        assert getattr(blocks[0], name) != getattr(blocks[1], name) == value


def test_the_guide_star_is_chosen_once_in_a_visit() -> None:
    """The second block of a visit that began with a flip needs no other one."""
    rows = LAID.splitlines()
    rows.insert(rows.index("wait   21:15:09 21:30:00"), "filter 21:15:09 21:15:17 Cradle east L")
    rows[rows.index("wait   21:15:09 21:30:00")] = "expose 21:15:17 21:17:20 Cradle east L 120"
    shots = laid_list("\n".join(rows))
    angles = {"west": 0.0, "east": 180.0}
    steps = tuple(
        step.model_copy(update={"position_angle_deg": angles[step.pier_side]}) if step.pier_side else step
        for step in shots.steps
    )
    blocks = view_of(shots.model_copy(update={"steps": steps})).blocks
    assert [(block.visit, block.guide_star_anew) for block in blocks] == [
        (1, False), (1, False), (2, True), (2, False), (3, False),
    ]  # fmt: skip
    assert [block.field_turned for block in blocks] == [False, False, True, True, True]


@pytest.mark.parametrize(
    ("given", "wanted", "turned"), [(-90.0, 270.0, (False, True)), (360.0, 0.0, (False, True))]
)
def test_a_wanted_angle_is_told_within_one_turn(
    given: float, wanted: float, turned: tuple[bool, bool]
) -> None:
    shots = flipping_list()
    target = shots.request.targets[0].model_copy(update={"position_angle_deg": given})
    angles = {"west": wanted, "east": (wanted + 180) % 360}
    steps = tuple(
        step.model_copy(update={"position_angle_deg": angles[step.pier_side]}) if step.pier_side else step
        for step in shots.steps
    )
    request = shots.request.model_copy(update={"targets": (target,)})
    visits = view_of_steps(steps, request).visits
    assert [visit.position_angle_wanted_deg for visit in visits] == [wanted, wanted]
    assert tuple(visit.field_turned for visit in visits) == turned


def test_a_block_may_start_as_late_as_the_tightest_of_its_subs_allows() -> None:
    """The latest start of the first sub alone would let the last ones come too late."""
    shots = laid_list()
    late = {6: "21:30:00", 7: "21:30:00", 10: "20:51:29", 13: "22:00:00"}
    steps = tuple(
        step.model_copy(update={"latest_start_utc": at(late[step.step])}) if step.step in late else step
        for step in shots.steps
    )
    first = view_of(shots.model_copy(update={"steps": steps})).blocks[0]
    assert first.latest_start_utc == at("20:45:08")  # 30 s, as the sub of 20:50:59 has
    assert first.latest_start_local == "2026-11-14T21:45:08+01:00"
    assert view_of(shots).blocks[0].latest_start_utc is None


def test_no_block_of_a_plan_starts_later_than_its_subs_may() -> None:
    for folder in PLANS:
        shots = stored(folder)
        view = view_of(shots)
        for block in view.blocks:
            assert block.latest_start_utc is not None
            shift = block.latest_start_utc - block.start_utc
            assert shift >= dt.timedelta(0)
            own = shots.steps[block.first_step - 1 : block.last_step]
            spare = [step.latest_start_utc - step.start_utc for step in own if step.latest_start_utc]
            assert shift == min(spare)


def test_a_flip_turns_the_field_and_asks_for_another_guide_star() -> None:
    view = view_of(flipping_list())
    before, after = view.visits
    assert (before.position_angle_wanted_deg, before.position_angle_deg) == (0, 0)
    assert (before.field_turned, before.guide_star_anew) == (False, False)
    assert (after.position_angle_wanted_deg, after.position_angle_deg) == (0, 180)
    assert (after.field_turned, after.guide_star_anew) == (True, True)
    assert (after.arrival, after.latest_start_utc) == (
        "flip",
        flipping_list().steps[after.first_step - 1].latest_start_utc,
    )
    assert next(block for block in view.blocks if block.visit == 2).guide_star_anew is True
    assert any(caution.startswith("In visit 2 the field is turned by 180°") for caution in view.plan.cautions)


def test_a_rotator_that_turns_back_leaves_field_and_guide_star() -> None:
    shots = stored(next(folder for folder in PLANS if folder.name == "long-winter-night"))
    view = view_of(shots)
    assert view.plan.rotator_turns
    assert view.totals.flips == 1
    assert {visit.field_turned for visit in view.visits} == {False}
    assert {visit.guide_star_anew for visit in view.visits} == {False}
    assert not any("guide star" in caution for caution in view.plan.cautions)


def test_a_target_met_again_on_the_other_pier_side_needs_another_guide_star_too() -> None:
    """Not only a flip turns the field: a slew that comes back on the other side does so as well."""
    shots = flipping_list()
    steps = tuple(
        step.model_copy(update={"kind": "slew"}) if step.kind == "flip" else step for step in shots.steps
    )
    again = view_of(shots.model_copy(update={"steps": steps})).visits[1]
    assert (again.arrival, again.guide_star_anew) == ("slew", True)


def test_a_fork_has_no_pier_sides_and_no_flips() -> None:
    view = view_of(fork())
    assert (view.plan.mount, view.plan.flip_by, view.totals.flips) == ("fork", None, 0)
    assert {visit.pier_side for visit in view.visits} == {None}
    assert not any("flip" in caution.lower() for caution in view.plan.cautions)
    assert not any(block.flip_before for block in view.blocks)


def test_a_list_that_goes_on_may_begin_on_its_target() -> None:
    view = view_of(begun())
    assert [visit.arrival for visit in view.visits] == ["there", "flip"]
    assert view.plan.continues_sha256 == "0" * 64
    assert not view.blocks[0].slew_before
    assert any("stop the older list" in caution for caution in view.plan.cautions)


def test_what_was_visited_before_a_list_that_goes_on_is_not_made_up() -> None:
    """A flip turns the field of the target that the list begins on; of other targets nothing is known."""
    rows = """\
flip   23:04:06 23:05:00 Cradle east
expose 23:05:00 23:07:03 Cradle east L 120
slew   23:07:03 23:08:00 Iris east
expose 23:08:00 23:11:03 Iris east L 180
park   23:11:03 23:12:00
"""
    begin = Begin(utc=at("23:04:06"), target="Cradle", pier_side="west")
    assert [visit.guide_star_anew for visit in view_of(laid_list(rows, begin=begin)).visits] == [True, None]
    turning = small_request(mount={**DATA["mount"], "turn_rotator_after_flip": True})
    visits = view_of(laid_list(rows, turning, begin)).visits
    assert [visit.guide_star_anew for visit in visits] == [False, None]


def test_a_wait_with_tracking_off_is_told_to_who_runs_blocks_alone() -> None:
    """Tracking on would carry the mount towards contact."""
    view = view_of(laid_list())
    assert [block.tracking_off_before for block in view.blocks] == [False, False, False, True]
    assert [step.tracking for step in view.steps if step.kind == "wait"] == [True, False]
    told = "Where the list waits with tracking off, whatever runs it must stop tracking too."
    assert told in view.plan.cautions
    rows = [row for row in LAID.splitlines() if not row.startswith("wait   21:15:09")]
    tracking = view_of(laid_list("\n".join(rows)))
    assert told not in tracking.plan.cautions
    assert not any(block.tracking_off_before for block in tracking.blocks)


def test_how_late_a_list_may_run_is_told_where_it_is_known() -> None:
    shots = small_list()
    assert view_of(shots).plan.least_slack_s == shots.totals.least_slack_s is not None
    assert view_of_steps(shots.steps, shots.request).plan.least_slack_s is None


def test_an_empty_list_has_empty_views() -> None:
    view = view_of(empty())
    assert (view.visits, view.blocks, view.steps, view.totals.subs) == ((), (), (), 0)
    assert (view.plan.start_utc, view.plan.start_local, view.plan.end_utc) == (None, None, None)
    assert [goal.frames_planned for goal in view.totals.goals] == [0, 0, 0]


def test_what_is_not_known_is_never_nought() -> None:
    """Hand-laid rows tell no coordinates, angles, gains or latest starts."""
    view = view_of(laid_list())
    unknown = (
        "ra_deg", "dec_deg", "ra_hms", "dec_dms", "position_angle_deg", "field_turned", "gain", "offset",
        "latest_start_utc", "latest_start_local",
    )  # fmt: skip
    for block in view.blocks:
        assert {getattr(block, name) for name in unknown} == {None}
    assert {visit.guide_star_anew for visit in view.visits} == {False, None}
    park = view.steps[-1]
    assert (park.frame, park.filter, park.exposure_s, park.binning, park.block) == (None,) * 5


def test_a_goal_with_gain_is_told_with_it() -> None:
    shots = small_list()
    steps = tuple(
        step.model_copy(update={"gain": 0, "offset": 0}) if step.kind == "expose" else step
        for step in shots.steps
    )
    block = view_of(shots.model_copy(update={"steps": steps})).blocks[0]
    assert (block.gain, block.offset) == (0, 0)  # told as 0, which is not the same as none


def test_bare_steps_have_the_views_of_their_list() -> None:
    shots = small_list()
    whole, bare = view_of(shots), view_of_steps(shots.steps, shots.request, shots.audit)
    assert (whole.visits, whole.blocks, whole.steps) == (bare.visits, bare.blocks, bare.steps)
    assert whole.totals == bare.totals
    assert bare.plan == whole.plan.model_copy(update={"created_utc": None, "least_slack_s": None})


def test_the_audit_is_told_whatever_it_says() -> None:
    steps, request = small_list().steps, small_request()
    none = view_of_steps(steps, request).plan
    assert (none.rules_checked, none.violations, none.cautions[0]) == (None, None, NO_AUDIT)
    found = Violation(rule="sun", step=1, amount=1.0, unit="s", message="The Sun is up.")
    bad = AuditReport(rules=("sun",), violations=(found, found), quality=(found,), least_margin_min=None)
    told = view_of_steps(steps, request, bad).plan
    assert (told.rules_checked, told.violations) == (1, 2)
    assert told.cautions[0] == "This list is not safe as it stands: its audit found 2 breaches of the rules."
    assert told.cautions[1] == "The Sun is up."


def test_a_mount_that_flips_by_itself_is_not_asked_to() -> None:
    plan = view_of(by_itself()).plan
    assert plan.flip_by == "mount"
    assert "The mount flips by itself: the list tells when, it asks for nothing." in plan.cautions


def test_no_sub_is_lost_where_a_slew_is_missing() -> None:
    """A list that breaks the rules: the target changes without a slew."""
    rows = [row for row in LAID.splitlines() if not row.startswith("slew   21:30")]
    view = view_of(laid_list("\n".join(rows)))
    assert [(visit.target, visit.arrival) for visit in view.visits][-1] == ("Iris", "there")
    assert sum(block.count for block in view.blocks) == 8
