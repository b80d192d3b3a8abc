"""Every mode of a mount at every place: planned, audited, and looked at for what would go wrong just there.

The limits in hour angle come from the request's numbers, their instants from astropy; both by another route
than the planner's.
"""

from __future__ import annotations

import math
from functools import cache
from itertools import pairwise, product

import numpy as np
import pytest

from optimizer.models.rig import PierSide
from optimizer.mount.sides import side_windows
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows
from tests.support.hand_laid.night_builder import R
from tests.support.modes.facts import Facts, Stay, successive
from tests.support.modes.nights import ERROR_S, MODES, PLACES, instant_of, night_of, plan_of, unquiet_plan
from tests.support.speeds import sampled

# Exposures on the first (W) and the flipped side (E), a flip (F), a fork that tracks through (T).
FLIPS, PARTED, THROUGH, EITHER = "W E F", "W E", "T", "W or E"
NEVER = "it never flips: the sides are parted by work on another target"
FORK = "a fork has one side and no limit: nothing happens there"
MEETS = "the sides meet at the lower culmination without a flip: slewed from the flipped to the first side"
DUSK_EAST = "the flipped side is permitted at dusk already: nobody would begin on the first"
UNREACHED = "it flips by itself, and its clearance ends before that: one side alone"
FREE = "both sides are permitted for hours: a flip costs minutes and gains nothing"
FORBIDDEN = "no side is permitted at dusk: the night begins with the flipped one, so nothing flips"
HIDDEN = (
    "the flipped side is permitted from the first second on, and the night ends before the next flip pays"
)
Cell = tuple[str, str]  # the list's shape, and why it is not a flip
FLIP: Cell = (FLIPS, "")
TABLE: dict[str, dict[str, Cell]] = {
    "north of the zenith": {"never": (PARTED, NEVER), "fork": (THROUGH, FORK)},
    "through the zenith": {"never": (PARTED, NEVER), "fork": (THROUGH, FORK)},
    "lower culmination": {**dict.fromkeys(MODES, (PARTED, MEETS)), "fork": (THROUGH, FORK)},
    "two transits": {"never": (PARTED, NEVER), "early": (PARTED, HIDDEN), "fork": (THROUGH, FORK)},
    "transit in twilight": {"never": (PARTED, NEVER), "fork": (THROUGH, FORK)},
    "past the meridian at dusk": {"never": (PARTED, NEVER), "early": ("E", DUSK_EAST), "fork": ("", FORK)},
    "begins in the forbidden zone": {**dict.fromkeys(MODES, ("E", FORBIDDEN)), "fork": ("", FORK)},
    "standstill": {"never": (PARTED, NEVER), "mount": (EITHER, UNREACHED), "fork": (THROUGH, FORK)},
    "two hours": {
        **dict.fromkeys(MODES, (EITHER, FREE)),
        "mount": FLIP,
        "fork": (THROUGH, FORK),
    },
}
CELLS = list(product(PLACES, MODES))


def cell(place: str, mode: str) -> Cell:
    return TABLE[place].get(mode, FLIP)


@cache
def facts_of(place: str, mode: str) -> Facts:
    return Facts(plan_of(mode, place))


def each(*, places: set[str] | None = None, modes: set[str] | None = None) -> pytest.MarkDecorator:
    chosen = [
        (place, mode)
        for place, mode in CELLS
        if (places is None or place in places) and (modes is None or mode in modes)
    ]
    return pytest.mark.parametrize(
        ("place", "mode"), sampled(chosen, quick=8, several=True), ids=lambda text: text.replace(" ", "-")
    )


GERMAN = set(MODES) - {"fork"}


def test_table_is_whole_and_gives_its_reasons() -> None:
    assert set(TABLE) == set(PLACES)
    for place, mode in CELLS:
        shape, why = cell(place, mode)
        assert (shape == FLIPS) == (why == ""), (place, mode)
    assert len(CELLS) == 72


@each()
def test_plan_is_whole_and_has_the_table_s_shape(place: str, mode: str) -> None:
    shots = plan_of(mode, place)
    assert shots.audit_report.violations == ()
    assert shots.proof.status == "optimal"  # so the shapes are facts of the night, not of the search
    assert sum(step.kind == "expose" for step in shots.steps) >= 15
    assert facts_of(place, mode).shapes() in cell(place, mode)[0].split(" or ")


# --- every cell of a German mount: zone, latest starts, flips -----------------------------------------------


def zone_of(facts: Facts, stay: Stay) -> tuple[float, float]:
    """The instants between which this stay's side may track, by the almanac."""
    near_s = facts.after(stay.arrival.start_utc)
    edges = facts.edges
    if stay.side == "west":
        opens, closes = -43200 + ERROR_S, edges.first_until
    else:
        opens, closes = edges.flipped_from, 43200 - ERROR_S
    opens_s = facts.when_s(opens, near_s)
    if opens_s > near_s + 1:
        opens_s -= 86400 / R
    return opens_s, opens_s + (closes - opens) / R


@each(modes=GERMAN)
def test_every_row_that_tracks_lies_in_its_side_s_zone(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    assert facts.mine
    for stay in facts.mine:
        opens_s, closes_s = zone_of(facts, stay)
        for row in stay.rows:
            reaches = row.kind == "wait" and facts.steps[row.step].kind == "flip"
            until_s = closes_s
            if reaches:
                until_s = facts.when_s(facts.edges.reach_until, closes_s)
            assert opens_s - 0.05 <= facts.after(row.start_utc), (row.step, row.kind)
            assert facts.shut(row) <= until_s + 0.05, (row.step, row.kind)


@each(modes=GERMAN)
def test_windows_of_both_sides_open_and_close_where_the_almanac_says(place: str, mode: str) -> None:
    """Within a second, for each turn of the sky that the night's 24 hours hold."""
    request = night_of(mode, place)
    sky = night_sky(request)
    windows = sky_windows(request, sky)
    facts = facts_of(place, mode)
    origin_s = facts.after(sky.clock.origin)
    zones: dict[PierSide, tuple[float, float]] = {
        "west": (-43200 + ERROR_S, facts.edges.first_until),
        "east": (facts.edges.flipped_from, 43200 - ERROR_S),
    }
    for side, (opens, closes) in zones.items():
        found = side_windows(request, windows, request.targets[0], side).zone
        inside = [(window.start_s + origin_s, window.end_s + origin_s) for window in found]
        turns = [facts.when_s(opens, origin_s) + turn * 86400 / R for turn in (-1, 0, 1)]
        expected = [
            (max(start_s, origin_s), min(start_s + (closes - opens) / R, origin_s + 86400))
            for start_s in turns
        ]
        expected = [span for span in expected if span[1] > span[0]]
        assert np.array(inside) == pytest.approx(np.array(expected), abs=1.0)


@each(modes=GERMAN)
def test_whoever_leaves_the_first_side_late_is_told_the_last_second_of_its_zone(
    place: str, mode: str
) -> None:
    """Waits without tracking and park have no other limit; slews and flips may have a nearer one."""
    facts = facts_of(place, mode)
    night_ends_s = facts.after(night_sky(facts.request).clock.origin) + 86400
    for stay in facts.mine:
        closes_s = zone_of(facts, stay)[1]
        leaving = facts.steps[stay.rows[-1].step]
        if leaving.kind == "flip" and mode == "mount":
            closes_s = facts.when_s(facts.edges.flipped_from, closes_s) + 1  # by then it has begun its own
        assert leaving.latest_start_utc is not None
        latest_s = facts.after(leaving.latest_start_utc)
        limit_s = max(math.floor(min(closes_s, night_ends_s)), facts.after(leaving.start_utc))
        if leaving.kind in ("wait", "park"):
            assert latest_s == pytest.approx(limit_s, abs=1)
        else:
            assert latest_s <= limit_s + 1


@each(modes=GERMAN)
def test_flip_carries_one_target_once_and_no_shutter_is_open(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    assert (
        len(facts.flips) <= 1
    )  # of the two transits of the longest night one is crossed by a slew or not at all
    for flip in facts.flips:
        start_s, end_s = facts.after(flip.start_utc), facts.after(flip.end_utc)
        assert not [span for span in facts.open_shutters() if span[0] < end_s and span[1] > start_s]
        assert facts.hour_angle_s(start_s) >= facts.edges.flipped_from - 0.05
        before = [stay for stay in facts.stays if facts.after(stay.arrival.start_utc) < start_s][-1]
        assert (before.target, before.side) == ("Main", "west")
        assert [row.kind for row in facts.steps[flip.step : flip.step + 2]] == ["centre", "settle"]
        turn_s = 180 / facts.request.mount.slew_deg_s
        assert flip.seconds >= turn_s + facts.request.mount.slew_extra_s


@each(modes=GERMAN)
def test_mount_stands_still_before_a_flip_only_where_the_sides_do_not_meet(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    apart = facts.edges.flipped_from > facts.edges.first_until
    for flip in facts.flips:
        wait = facts.before(flip)
        if wait.kind == "wait":
            assert wait.tracking == (mode == "mount" or not apart)
            assert (wait.target is None) == (not wait.tracking)
            assert (facts.after(flip.start_utc) - facts.when_s(facts.edges.flipped_from, 0.0)) % (
                86400 / R
            ) < 1.1


@each(modes=GERMAN)
def test_flip_is_told_the_last_second_of_the_first_side(place: str, mode: str) -> None:
    """Whatever comes before it: who tracks on although the list says wait is told to flip in time."""
    facts = facts_of(place, mode)
    for flip in facts.flips:
        west = [stay for stay in facts.mine if stay.arrival.start_utc < flip.start_utc][-1]
        closes_s = zone_of(facts, west)[1]
        start_s, latest_s = (
            facts.after(each or flip.end_utc) for each in (flip.start_utc, flip.latest_start_utc)
        )
        if mode == "mount":
            assert latest_s == start_s
        elif start_s <= closes_s:
            assert latest_s <= closes_s
        else:
            assert facts.edges.flipped_from > facts.edges.first_until
            assert latest_s > start_s + 600  # the mount stands, and nothing presses


# --- modes --------------------------------------------------------------------------------------------------


@each(modes={"mount"})
def test_no_shutter_is_open_while_the_mount_may_flip_by_itself(place: str, mode: str) -> None:
    """From its own instant, taken early by the clock's error, until it is over when taken late."""
    facts = facts_of(place, mode)
    mount = facts.request.mount
    for flip in facts.flips:
        near_s = facts.after(flip.start_utc)
        soonest = min(reading * (mount.flip_from_min * 60 - ERROR_S) for reading in (1, R))
        latest = max(reading * (mount.flip_from_min * 60 + ERROR_S) for reading in (1, R))
        begins_s = facts.when_s(soonest, near_s)
        ends_s = facts.when_s(latest, near_s) + flip.seconds
        assert not [span for span in facts.open_shutters() if span[0] < ends_s - 0.05 and span[1] > begins_s]
        assert 0 <= near_s - facts.when_s(latest, near_s) + 0.05 < 1.1
        assert facts.before(flip).tracking is True
        tracked = [row for row in facts.steps[: flip.step - 1] if facts.shut(row) > begins_s]
        assert all(row.kind == "wait" for row in tracked)
    tracked_past = [
        row
        for stay in facts.mine
        if stay.side == "west" and stay.rows[-1].step + 1 not in [flip.step for flip in facts.flips]
        for row in stay.rows
        if facts.hour_angle_s(facts.shut(row)) > mount.flip_from_min * 60 - ERROR_S + 0.05
        and facts.hour_angle_s(facts.shut(row)) < 43000
    ]
    assert tracked_past == []  # it would flip there without being asked


@each(modes={"never"})
def test_mount_that_never_flips_meets_both_sides_with_other_work_between(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    assert facts.flips == []
    crossings = [
        (one, other)
        for one, other in successive(facts)
        if one.target == other.target and (one.side, other.side) == ("west", "east")
    ]
    assert crossings == []
    sides = [stay.side for stay in facts.mine]
    if "standstill" in place or "zenith" in place:
        assert sides == ["west", "east"]
        names = [stay.target for stay in facts.stays]
        assert names[names.index("Main") + 1 : -1] == ["Other"]


@each(modes={"early"})
def test_flip_before_the_meridian_keeps_the_flipped_side_s_own_contact(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    mount = facts.request.mount
    touches_s = -mount.contact_before_min * 60 + mount.clearance_min * 60 + ERROR_S
    assert touches_s > mount.flip_from_min * 60 + ERROR_S or place == "two hours"
    for stay in facts.mine:
        if stay.side == "east" and place != "lower culmination":
            assert facts.hour_angle_s(facts.after(stay.arrival.start_utc)) >= touches_s - 0.05
    if cell(place, mode) == FLIP and place != "transit in twilight":
        assert facts.hour_angle_s(facts.after(facts.flips[0].start_utc)) < 0


@each(modes={"late"})
def test_mount_that_refuses_an_early_flip_is_not_asked_for_one(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    refuses_until = facts.request.mount.flip_from_min * 60 + ERROR_S
    east = [stay for stay in facts.mine if stay.side == "east"]
    for stay in east:
        assert facts.hour_angle_s(facts.after(stay.arrival.start_utc)) >= refuses_until * R - 0.05
    west = [stay for stay in facts.mine if stay.side == "west"]
    assert west or east


@each(modes={"quiet"})
def test_quiet_minutes_are_free_of_slews_and_focus_runs(place: str, mode: str) -> None:
    """A flip and the focus run of its block are excepted."""
    facts = facts_of(place, mode)
    from_s = -facts.request.mount.quiet_min * 60
    for stay in facts.mine:
        opened = False
        for row in stay.rows:
            opened = opened or row.kind == "expose"
            of_flip = stay.arrival.kind == "flip" and not opened
            if row.kind == "slew" or (row.kind == "focus" and not of_flip):
                start = facts.hour_angle_s(facts.after(row.start_utc))
                end = start + R * row.seconds
                assert end <= from_s + 0.05 or start >= -0.05, (row.step, row.kind)


def test_quiet_minutes_bind() -> None:
    """Without them the same night focuses within them; so the test above can fail."""
    facts = Facts(unquiet_plan("through the zenith"))
    runs = [facts.hour_angle_s(facts.after(row.start_utc)) for row in facts.steps if row.kind == "focus"]
    assert [run for run in runs if -720 - 100 * R < run < 0]


@each(modes={"turned"})
def test_rotator_turns_at_each_change_of_side_and_the_angle_stays(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    changes = [other for one, other in successive(facts) if one.side != other.side]
    turns = [row for row in facts.steps if row.kind == "rotate"]
    assert [row.seconds for row in turns] == [math.ceil(180 / 6.5)] * len(changes)
    assert len(changes) == (cell(place, mode)[0] in (FLIPS, PARTED)) + (place == "two transits")
    for stay in changes:
        assert [row.kind for row in stay.rows[1:4]] == ["centre", "settle", "rotate"]
    assert {row.position_angle_deg for stay in facts.mine for row in stay.rows} == {30.0}


@each(modes=set(MODES) - {"turned"})
def test_without_a_rotator_the_camera_stands_on_its_head_on_the_flipped_side(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    assert not [row for row in facts.steps if row.kind == "rotate"]
    for stay in facts.mine:
        expected = 210.0 if stay.side == "east" else 30.0
        assert {row.position_angle_deg for row in stay.rows} == {expected}


@each(modes={"fork"})
def test_fork_knows_no_side_and_never_turns_round(place: str, mode: str) -> None:
    """One slew (two in the longest night, whose middle is clouded), and no wait on the target."""
    facts = facts_of(place, mode)
    assert {row.pier_side for row in facts.steps} == {None}
    assert len(facts.stays) == (2 if place == "two transits" else 1)
    assert not [row for row in facts.steps if row.kind in ("flip", "rotate")]
    for stay in facts.stays:
        first = stay.exposures[0]
        assert not [row for row in stay.rows if row.kind == "wait" and row.step > first.step]
        widest = max(later.step - sooner.step for sooner, later in pairwise(stay.exposures))
        assert widest == 2  # a dither at most lies between two exposures


# --- places -------------------------------------------------------------------------------------------------


@each(places={"north of the zenith"})
def test_southern_target_transits_in_the_north(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    assert facts.request.site.latitude_deg < 0
    rows = [row for stay in facts.mine for row in stay.exposures]
    for row in rows:
        assert row.azimuth_deg is not None
        assert row.hour_angle_h is not None
        assert (0 < row.azimuth_deg < 90) if row.hour_angle_h < 0 else (270 < row.azimuth_deg < 360)
    hours = [row.hour_angle_h or 0.0 for row in rows]
    assert min(hours) < 0 < max(hours)


@each(places={"through the zenith"})
def test_columns_stay_whole_at_the_zenith(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    rows = [row for row in facts.steps if row.target == "Main"]
    assert max(row.altitude_deg or 0.0 for row in rows) > 88.0
    for row in rows:
        assert row.azimuth_deg is not None
        assert 0 <= row.azimuth_deg < 360
        assert (row.airmass or 0) >= 0.9997  # what Kasten & Young give there
    declination = facts.almanac.declination_deg("Main", instant_of(place))[0]
    assert declination == pytest.approx(facts.request.site.latitude_deg, abs=1 / 3600)


@each(places={"lower culmination"})
def test_nothing_tracks_through_the_lower_culmination(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    lowest_s = facts.when_s(43200.0, facts.after(instant_of(place)))
    through = [
        row
        for stay in facts.mine
        for row in stay.rows
        if facts.after(row.start_utc) < lowest_s + ERROR_S / R - 0.05
        and facts.shut(row) > lowest_s - ERROR_S / R + 0.05
    ]
    if mode == "fork":
        assert through
        return
    assert through == []
    assert [stay.side for stay in facts.mine] == ["east", "west"]
    back = facts.mine[1].arrival
    assert back.kind == "slew"
    assert 0 <= facts.after(back.start_utc) - facts.when_s(-43200 + ERROR_S, lowest_s) + 0.05 < 1.1
    assert facts.flips == []


@each(places={"two transits"})
def test_each_transit_of_the_longest_night_has_its_own_zone(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    first_s = facts.when_s(0.0, facts.after(instant_of(place)))
    transits = [first_s, first_s + 86400 / R]
    lasts = facts.after(facts.steps[-2].end_utc)
    assert transits[0] < 200
    assert lasts > transits[1] - 1200
    tracked = dict.fromkeys(transits, 0.0)
    for stay in facts.mine:
        for row in stay.exposures:
            nearest_s = min(transits, key=lambda each: abs(each - facts.after(row.start_utc)))
            tracked[nearest_s] += row.exposure_s or 0.0
            if stay.side == "west":
                assert facts.shut(row) <= nearest_s + facts.edges.first_until / R + 0.05
            if stay.side == "east":
                assert facts.after(row.start_utc) >= nearest_s + facts.edges.flipped_from / R - 0.05
    assert min(tracked.values()) > 3000
    last = facts.mine[-1]
    if mode != "fork":
        assert last.side == "west"  # the second first-side visit, twelve hours and more after the flip
        assert facts.after(last.arrival.start_utc) > transits[0] + 43200


@each(places={"transit in twilight"})
def test_side_changes_under_a_bright_sky(place: str, mode: str) -> None:
    """Astronomical night has not begun when the target crosses; its filter bears civil twilight."""
    facts = facts_of(place, mode)
    transit_s = facts.when_s(0.0, facts.after(instant_of(place)))
    assert -18 < facts.sun_deg(transit_s) < -6
    for start_s, end_s in facts.open_shutters():
        assert facts.sun_deg(start_s) <= -6 + 1e-4
        assert facts.sun_deg(end_s) <= -6
    before = [end_s for _, end_s in facts.open_shutters() if end_s < transit_s]
    assert before
    assert facts.sun_deg(before[0]) > -18
    if mode not in ("never", "fork"):
        assert facts.sun_deg(facts.after(facts.flips[0].start_utc)) > -18


@each(places={"past the meridian at dusk"})
def test_dusk_finds_the_target_past_the_meridian_on_its_first_side(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    dusk_s = facts.after(instant_of(place))
    assert facts.sun_deg(dusk_s) == pytest.approx(-18.0, abs=0.005)
    assert 0 < facts.hour_angle_s(dusk_s) < facts.edges.first_until
    first = facts.mine[0]
    opens_s = facts.after(first.exposures[0].start_utc)
    assert opens_s >= dusk_s
    if cell(place, mode)[0] in (FLIPS, PARTED):
        assert first.side == "west"
        assert opens_s < dusk_s + 60 or mode == "quiet"
        assert facts.hour_angle_s(opens_s) > 0


@each(places={"begins in the forbidden zone"})
def test_night_that_begins_in_the_forbidden_zone_waits_for_the_flipped_side(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    dusk_s = facts.after(instant_of(place))
    assert facts.edges.first_until < facts.hour_angle_s(dusk_s) < facts.edges.flipped_from
    first = facts.mine[0].arrival
    if mode == "fork":
        assert facts.after(facts.mine[0].exposures[0].start_utc) == pytest.approx(dusk_s, abs=1)
        return
    assert first.pier_side == "east"
    assert 0 <= facts.after(first.start_utc) - facts.when_s(facts.edges.flipped_from, dusk_s) + 0.05 < 1.1


@each(places={"standstill"}, modes=GERMAN)
def test_standstill_has_tracking_off_from_the_first_side_s_limit_to_the_flip(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    assert facts.edges.first_until < facts.edges.flipped_from
    middle_s = facts.after(instant_of(place))
    until_s = facts.when_s(facts.edges.first_until, middle_s)
    from_s = facts.when_s(facts.edges.flipped_from, middle_s)
    assert until_s + 300 < from_s
    for stay in facts.mine:
        for row in stay.rows:
            assert facts.shut(row) <= until_s + 0.05 or facts.after(row.start_utc) >= from_s - 0.05
    if facts.flips:
        flip = facts.flips[0]
        wait = facts.before(flip)
        assert (wait.kind, wait.tracking, wait.target) == ("wait", False, None)
        assert facts.shut(facts.before(wait)) <= until_s
        assert facts.after(wait.start_utc) <= until_s + facts.request.camera.download_s
        assert 0 <= facts.after(flip.start_utc) - from_s + 0.05 < 1.1
        assert facts.after(wait.latest_start_utc or wait.end_utc) <= until_s + 0.05
    else:
        assert mode in ("mount", "never")


@each(places={"two hours"}, modes=GERMAN)
def test_two_hours_of_room_let_one_side_do_all_of_it(place: str, mode: str) -> None:
    facts = facts_of(place, mode)
    assert facts.edges.reach_until > 7000
    if mode == "mount":
        assert len(facts.flips) == 1
        return
    (stay,) = facts.mine
    hours = [row.hour_angle_h or 0.0 for row in stay.exposures]
    assert min(hours) < -1
    assert max(hours) > 1
