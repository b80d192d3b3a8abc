"""How a night stands at an instant of its list: every kind of step under way, and what is told beside it."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from optimizer.models.continues import Begin
from optimizer.replan.standing import Standing, standing_of
from optimizer.replan.told import Told
from tests.support.replan_nights import at, laid_list

FOCUSED = at("20:44:38")
INSIDE_RUN = {"undithered": 4, "open_s": 480.0, "focused_utc": at("20:55:32")}


def standing(now: str, **told: Any) -> Standing:
    return standing_of(laid_list(), Told(at(now), **told))


CASES: dict[str, tuple[str, str, str, dict[str, Any]]] = {
    # what runs: now, when the new list begins, what is let end, and how mount and camera stand then
    "nothing yet": ("20:39:00", "20:39:00", "", {"target": None, "acquired": False, "filter": None}),
    "slew, with what acquires": (
        "20:40:30", "20:42:00", "slew centre settle",
        {"target": "Cradle", "pier_side": "west", "acquired": True, "filter": None, "focus_due": True},
    ),
    "centre, with what acquires": ("20:41:10", "20:42:00", "centre settle", {"acquired": True, "focus_due": True}),
    "settle": ("20:41:50", "20:42:00", "settle", {"acquired": True, "filter": None, "open_s": 0.0}),
    "filter": ("20:42:04", "20:42:08", "filter", {"filter": "L", "focus_due": True, "focused_utc": None}),
    "focus": (
        "20:43:00", "20:44:38", "focus",
        {"focused_utc": FOCUSED, "focus_due": False, "undithered": 0, "acquired": True},
    ),
    "first sub": ("20:45:00", "20:46:41", "expose", {"undithered": 1, "open_s": 120.0, "filter": "L"}),
    "sub as it begins": ("20:46:41", "20:48:44", "expose", {"undithered": 2, "open_s": 240.0}),
    "download": ("20:46:40", "20:46:41", "expose", {"undithered": 1, "open_s": 120.0}),
    "dither": ("20:50:50", "20:50:59", "dither", {"undithered": 0, "open_s": 360.0}),
    "sub after the dither": ("20:51:10", "20:53:02", "expose", {"undithered": 1, "open_s": 480.0}),
    "focus inside a run: its dither is still due": (
        "20:54:00", "20:55:32", "focus", {"undithered": 1, "open_s": 480.0, "focused_utc": at("20:55:32")},
    ),
    "tracking wait": (
        "20:58:00", "20:58:00", "",
        {"acquired": True, "undithered": 0, "stands_since_utc": None, "open_s": 600.0},
    ),
    "another filter": ("21:00:04", "21:00:08", "filter", {"filter": "Ha", "focus_due": True, "undithered": 0}),
    "flip, with what acquires": (
        "21:08:00", "21:10:06", "flip centre settle rotate",
        {"pier_side": "east", "acquired": True, "filter": "Ha", "open_s": 0.0, "focus_due": True},
    ),
    "standing still": (
        "21:20:00", "21:20:00", "",
        {"target": "Cradle", "acquired": False, "stands_since_utc": at("21:15:09"), "undithered": 0},
    ),
    "slew to another target: the filter is set after it": (
        "21:30:30", "21:32:00", "slew centre settle",
        {"target": "Iris", "acquired": True, "filter": None, "focus_due": True, "focused_utc": at("21:02:38")},
    ),
    "other target": ("21:33:00", "21:34:38", "focus", {"target": "Iris", "filter": "L", "focus_due": False}),
    "park": ("21:38:00", "21:39:00", "park", {"target": None, "filter": "L", "focused_utc": at("21:34:38")}),
    "after all": ("21:45:00", "21:45:00", "", {"target": None, "pier_side": None, "filter": "L"}),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_each_step_under_way_is_let_end_with_what_belongs_to_it(name: str) -> None:
    now, begins, let_end, expected = CASES[name]
    found = standing(now)
    assert found.begin.utc == at(begins)
    assert " ".join(step.kind for step in found.let_end) == let_end
    assert {key: getattr(found.begin, key) for key in expected} == expected
    assert found.done == tuple(step.step for step in laid_list().steps if step.end_utc <= at(begins))
    assert found.as_listed
    assert found.lost == ()


def test_focus_is_due_only_where_the_request_asks_for_it() -> None:
    older = laid_list()
    plain = older.request.model_copy(
        update={
            "focus": older.request.focus.model_copy(
                update={"on_new_target": False, "on_filter_change": False}
            )
        }
    )
    older = older.model_copy(update={"request": plain})
    assert not standing_of(older, Told(at("20:42:04"))).begin.focus_due
    assert standing_of(older, Told(at("21:09:00"))).begin.focus_due  # mount.refocus_after_flip


@pytest.mark.parametrize(
    ("told", "stopped"),
    [
        ({}, False),
        ({"drop_current": True}, True),
        ({"left_out": frozenset({"Cradle"})}, True),
        ({"left_out": frozenset({"Iris"})}, False),
        ({"until": at("20:48:41")}, False),  # the shutter closes then; the download may run on
        ({"until": at("20:48:40")}, True),
        ({"blocks": ((at("20:48:41"), at("21:00")),)}, False),
        ({"blocks": ((at("20:48:40"), at("21:00")),)}, True),
        ({"blocks": ((at("20:46:00"), at("20:46:41")),)}, False),
    ],
)
def test_running_sub_is_kept_only_if_its_shutter_closes_under_an_open_sky(
    told: dict[str, Any], stopped: bool
) -> None:
    found = standing("20:47:00", **told)
    assert (found.let_end == ()) == stopped
    assert found.begin.utc == (at("20:47:00") if stopped else at("20:48:44"))
    assert found.running is not None
    assert found.running.step == 7
    assert (7 in found.done) != stopped
    assert found.begin.acquired


def test_motion_is_let_end_whatever_is_told_and_then_nothing_of_the_arrival() -> None:
    found = standing("20:40:30", blocks=((at("20:30"), at("23:00")),))
    assert [step.kind for step in found.let_end] == ["slew"]
    assert (found.begin.utc, found.begin.target, found.begin.acquired) == (at("20:41"), "Cradle", False)
    found = standing("20:43:00", blocks=((at("20:43"), at("23:00")),))
    assert found.let_end == ()
    assert found.begin.focused_utc is None
    assert found.begin.focus_due


def test_what_lay_under_a_closed_sky_was_not_done() -> None:
    found = standing("20:54:00", blocks=((at("20:50:00"), at("20:56")),))
    assert [step.step for step in found.lost] == [8, 10]
    assert found.done == (1, 2, 3, 4, 5, 6, 7, 9)
    assert found.begin.utc == at("20:54:00")
    assert found.begin.focused_utc == FOCUSED
    assert found.begin.open_s == 240.0


def test_steps_done_are_taken_as_told() -> None:
    found = standing("20:53:01", done=frozenset({1, 2, 3, 4, 5, 6, 7}))
    assert found.done == (1, 2, 3, 4, 5, 6, 7)
    assert found.running is None  # the list is late: nobody knows what runs
    assert found.begin.utc == at("20:53:01")
    assert found.begin.undithered == 2
    on_time = standing("20:53:01", done=frozenset(range(1, 11)))
    assert on_time.running is not None
    assert on_time.running.step == 10
    assert on_time.done == tuple(range(1, 11))
    assert on_time.begin.utc == at("20:53:02")
    numbers_of_subs = standing("21:05:00", done=frozenset({6, 7, 8, 10}))
    assert numbers_of_subs.begin.target == "Cradle"
    assert numbers_of_subs.begin.pier_side == "west"
    assert numbers_of_subs.begin.acquired
    assert numbers_of_subs.begin.filter == "L"


@pytest.mark.parametrize("late_s", [0, 1, 20, 122, 123, 600, 3600])
def test_late_list_goes_on_where_its_last_step_done_ends(late_s: int) -> None:
    """The plan has the next steps under way then, or over: a sub, a dither, a flip that nobody has made."""
    for last in laid_list().steps[:-1]:
        now, following = last.end_utc + dt.timedelta(seconds=late_s), laid_list().steps[last.step]
        found = standing_of(laid_list(), Told(now, done=frozenset(range(1, last.step + 1))))
        if last.kind == "wait":
            continue
        assert found.begin.utc == now
        assert found.done == tuple(range(1, last.step + 1))
        assert (found.begin.target, found.begin.pier_side) == (last.target, last.pier_side)
        focused = [step.end_utc for step in laid_list().steps[: last.step] if step.kind == "focus"]
        assert found.begin.focused_utc == (focused[-1] if focused else None)
        stands = following.kind == "wait" and not following.tracking and late_s > 0
        assert found.begin.stands_since_utc == (following.start_utc if stands else None)


def test_step_under_way_by_the_plan_runs_only_if_it_is_among_those_done() -> None:
    """Twenty seconds late, the sub before the flip ends while the plan has the flip under way."""
    late = standing("21:08:01", done=frozenset(range(1, 18)))
    assert (late.begin.pier_side, late.begin.utc, late.running) == ("west", at("21:08:01"), None)
    flipping = standing("21:08:01", done=frozenset(range(1, 19)))
    assert flipping.running is not None
    assert (flipping.begin.pier_side, flipping.begin.utc) == ("east", at("21:10:06"))


def test_mount_that_is_elsewhere_runs_nothing_of_the_list() -> None:
    parked = standing("20:47:00", parked=True)
    assert parked.running is None
    assert parked.let_end == ()
    assert not parked.as_listed
    assert parked.begin == Begin(utc=at("20:47:00"), filter="L", focused_utc=FOCUSED)
    wrong_side = standing("21:12:00", at="Cradle", pier_side="west")
    assert not wrong_side.as_listed
    assert (wrong_side.begin.pier_side, wrong_side.begin.acquired) == ("west", False)
    assert wrong_side.begin.open_s == 0.0
    right_side = standing("21:12:00", at="Cradle", pier_side="east")
    assert right_side.as_listed
    assert right_side.begin == standing("21:12:00").begin
    home_already = standing("20:39:00", parked=True)
    assert home_already.as_listed


def test_light_path_and_focus_are_taken_as_told() -> None:
    begin = standing("20:47:00", filter="Ha", focused=at("20:40")).begin
    assert (begin.filter, begin.focused_utc, begin.undithered) == ("Ha", at("20:40"), 0)
    begin = standing("20:42:04", focused=at("20:42")).begin
    assert begin.focus_due  # the filter changes until 20:42:08
    begin = standing("20:44:00", done=frozenset(range(1, 5)), focused=at("20:42:08")).begin
    assert not begin.focus_due


def test_list_that_went_on_itself_begins_where_it_says() -> None:
    begin = Begin(
        utc=at("20:30"),
        target="Iris",
        pier_side="east",
        acquired=True,
        filter="Ha",
        undithered=2,
        open_s=600.0,
    )
    text = "dither 20:30:00 20:30:12 Iris east Ha\nexpose 20:30:12 20:33:15 Iris east L 180\npark 20:33:15 20:34:00\n"
    older = laid_list(text, begin=begin)
    assert standing_of(older, Told(at("20:29"))).begin == begin.model_copy(update={"utc": at("20:29")})
    after = standing_of(older, Told(at("20:31"))).begin
    assert (after.target, after.undithered, after.open_s, after.utc) == ("Iris", 1, 780.0, at("20:33:15"))


def test_every_instant_has_a_standing_that_is_not_in_the_past() -> None:
    older = laid_list()
    now = at("20:39:30")
    while now < at("21:40"):
        found = standing_of(older, Told(now))
        assert found.begin.utc >= now
        assert (found.begin.utc - now) <= dt.timedelta(minutes=6)
        now += dt.timedelta(seconds=7)
