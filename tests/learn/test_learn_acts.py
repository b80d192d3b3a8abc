"""What acts really take, from nights laid by hand whose answer is known."""

from __future__ import annotations

import datetime as dt
import math
import random
from dataclasses import replace

import pytest

from optimizer.learn.acts import Learned, learned
from optimizer.learn.estimate import AT_MOST
from optimizer.learn.gaps import BEFORE_OVER, FOREIGN
from optimizer.learn.pointing import FLIP_UNCLEAR, SIDE_UNKNOWN, WAITS_FOR_FLIP, WRONG_TIME
from optimizer.learn.rows import ACTS, ActName, LearnedAct
from optimizer.learn.rules import LONG, LOST, MAY_FOCUS, OTHER_GOAL, OUT_OF_STEP
from optimizer.sky.bodies import night_sky
from optimizer.sky.transits import upper_transits
from tests.support.learn_frames import Camera, dithered, rig_request


def row(found: Learned, act: ActName, filter_name: str | None = None) -> LearnedAct:
    own = found.of(act, filter_name)
    assert own is not None
    return own


def aside(found: Learned) -> dict[str, int]:
    return {each.reason: each.count for each in found.set_aside}


def sums(found: Learned) -> dict[tuple[str, ...], LearnedAct]:
    return {each.acts: each for each in found.sums}


def test_download_and_dither_are_told_apart_by_length() -> None:
    found = learned(rig_request(), Camera().run(*dithered(41, 5.0, 19.0)).frames)
    plain, dither = row(found, "between_subs"), row(found, "dither")
    assert (plain.planned_s, plain.median_s, plain.count) == (3.0, 5.0, 30)
    assert (dither.planned_s, dither.median_s, dither.count) == (12, 14.0, 10)
    assert (plain.longer_s, dither.longer_s) == (2.0, 2.0)
    assert plain.how == "The shorter of the two lengths that gaps within a run have."
    assert dither.how == "The longer of the two lengths that gaps within a run have."
    assert found.frames == 41
    assert found.pairs == 40
    assert not found.set_aside
    assert found.evenings == (dt.date(2026, 11, 14),)


def test_every_act_has_a_row_in_order_and_what_no_gap_holds_is_not_known() -> None:
    found = learned(rig_request(), Camera().run(*dithered(21, 5.0, 19.0)).frames)
    assert tuple(each.act for each in found.acts) == ACTS
    for act in ("filter", "focus", "slew", "flip"):
        assert row(found, act).unknown == "no gap holds it"
        assert row(found, act).median_s is None
    assert row(found, "filter").planned_s == 8
    assert row(found, "focus").planned_s == 150
    assert row(found, "slew").planned_s is None
    assert not learned(rig_request(), []).pairs


def test_a_night_that_went_as_planned_changes_nothing() -> None:
    found = learned(rig_request(), Camera().run(*dithered(41, 3.0, 15.0)).frames)
    for act in ("between_subs", "dither"):
        own = row(found, act)
        assert own.known
        assert own.longer_s == 0
        assert own.longer_from_s is not None
        assert own.longer_to_s is not None
        assert own.longer_from_s <= 0 <= own.longer_to_s


def test_planned_is_what_the_law_rounds_up() -> None:
    """Rows of whole seconds: 120 s and 2.4 s of download take 123 s, 3 s beyond the shutter."""
    camera = {"download_s": 2.4, "dither_every": 4, "dither_s": 11.2}
    found = learned(rig_request(camera=camera), Camera().run(*dithered(41, 3.0, 15.0)).frames)
    assert (row(found, "between_subs").planned_s, row(found, "dither").planned_s) == (3.0, 12)
    assert (row(found, "between_subs").longer_s, row(found, "dither").longer_s) == (0, 0)


def test_overlapping_lengths_are_told_apart_by_their_place() -> None:
    """A dither of 5 s among downloads of 7 to 13 s: no length parts them, the count of subs does."""
    rng = random.Random(2)
    camera = Camera(begins="2026-11-14T18:00:00.25")
    camera.exposure_s = 1.0
    request = rig_request(
        goals=[{"filter": "L", "exposure_s": 1, "frames": 9000}],
        camera={"download_s": 10, "dither_every": 3, "dither_s": 4},
    )
    gaps = [rng.uniform(7, 13) + (5 if place % 3 == 0 else 0) for place in range(1, 3001)]
    found = learned(request, camera.run(*gaps).frames)
    plain, dither = row(found, "between_subs"), row(found, "dither")
    assert plain.median_s == pytest.approx(10, rel=0.03)
    assert dither.median_s == pytest.approx(5, rel=0.1)
    assert dither.how == "Gaps after each 3 subs of a run."
    assert plain.how == "Gaps within a run that do not come after each 3 subs."


def test_with_a_dither_after_each_sub_only_the_sum_is_known() -> None:
    found = learned(rig_request(camera={"dither_every": 1}), Camera().run(*[18.0] * 20).frames)
    together = sums(found)["between_subs", "dither"]
    assert (together.planned_s, together.median_s, together.longer_s) == (15.0, 18.0, 3.0)
    for act in ("between_subs", "dither"):
        assert row(found, act).unknown == (
            "a dither lies in each gap of a run, so that download, overhead and dither are told together"
        )


def test_without_dithers_all_gaps_of_a_run_are_plain() -> None:
    found = learned(rig_request(camera={"dither_every": 0}), Camera().run(*[4.5] * 20).frames)
    assert row(found, "between_subs").median_s == 4.5
    assert row(found, "dither").count == 0


def test_the_count_of_subs_begins_anew_in_each_run() -> None:
    """Runs of 6 subs: one dither each, after the fourth, not after each fourth of the night."""
    camera = Camera()
    for place in range(12):
        camera.exposure_s = (120.0, 300.0)[place % 2]
        camera.run(*dithered(6, 5.0, 19.0)).rest(5.0)
    found = learned(rig_request(), camera.frames)
    assert row(found, "between_subs").count == 12 * 4
    assert row(found, "dither").count == 12
    assert row(found, "dither").median_s == 14.0
    assert aside(found) == {OTHER_GOAL: 11}


def test_dithers_that_come_otherwise_than_asked_for_are_not_taken_for_them() -> None:
    found = learned(rig_request(), Camera().run(*dithered(61, 5.0, 19.0, every=7)).frames)
    assert row(found, "between_subs").median_s == 5.0
    assert row(found, "dither").unknown == "no gap holds it"
    assert aside(found) == {OUT_OF_STEP: 8}


def test_clouds_stalls_and_lost_subs_are_set_aside() -> None:
    gaps = dithered(41, 5.0, 19.0)
    gaps[9:11] = [5 + 120 + 5]  # after the tenth sub: the eleventh's file is lost
    gaps[20] = 1900.0  # a cloud
    gaps[30] = 47.0  # a stall
    found = learned(rig_request(), Camera().run(*gaps).frames)
    assert aside(found) == {LOST: 1, LONG: 2}
    assert row(found, "between_subs").median_s == 5.0
    assert row(found, "dither").median_s == 14.0


def test_a_lost_sub_counts_for_the_place_of_the_next_ones() -> None:
    """The lengths overlap, so the places decide: with one sub lost in each run they are still right."""
    rng = random.Random(4)
    camera = Camera(begins="2026-11-14T18:00:00.25")
    camera.exposure_s = 30.0
    goals = [
        {"filter": "L", "exposure_s": 30, "frames": 9000},
        {"filter": "Ha", "exposure_s": 30, "frames": 9},
    ]
    request = rig_request(goals=goals, camera={"download_s": 10, "dither_every": 3, "dither_s": 4})
    for _ in range(2):
        gaps = [rng.uniform(8, 12) + (5 if place % 3 == 0 else 0) for place in range(1, 600)]
        lost = 10  # the gap before the lost sub, the sub, and the gap after it are one
        gaps[lost : lost + 2] = [gaps[lost] + 30 + gaps[lost + 1]]
        camera.run(*gaps).rest(20.0)
        camera.filter = "Ha"
        camera.sub().rest(20.0)
        camera.filter = "L"
    found = learned(request, camera.frames)
    assert aside(found)[LOST] == 2
    assert row(found, "dither").median_s == pytest.approx(5, rel=0.1)


def focused_run(camera: Camera, segments: int, subs: int, focus_s: float) -> None:
    """Segments of so many subs of 300 s, parted by an autofocus with a dither after it."""
    camera.exposure_s = 300.0
    for segment in range(segments):
        if segment:
            camera.rest(4.0 + focus_s + 14.0)
        camera.run(*dithered(subs, 4.0, 18.0))


def test_autofocus_by_cadence_is_found_where_it_is_due() -> None:
    """Eleven subs of 300 s in an hour; 4 s of download, 14 s of dither, 180 s of autofocus."""
    camera = Camera(begins="2026-11-14T18:00:00.25")
    focused_run(camera, 5, 11, 180.0)
    camera.frames[20:21] = []  # a lost file amid it
    found = learned(rig_request(focus={"every_min": 60}), camera.frames)
    focus = row(found, "focus")
    assert (focus.median_s, focus.count, focus.planned_s) == (180.0, 4, 150)
    assert row(found, "dither").median_s == 14.0
    assert "when an autofocus was due by every_min" in focus.how
    assert "with a dither after it" in focus.how
    assert aside(found) == {LOST: 1}


def test_without_a_cadence_no_gap_of_a_run_is_an_autofocus() -> None:
    camera = Camera(begins="2026-11-14T18:00:00.25")
    focused_run(camera, 5, 11, 180.0)
    found = learned(rig_request(), camera.frames)
    assert row(found, "focus").unknown == "no gap holds it"
    assert aside(found) == {LONG: 4}


def to_and_fro(camera: Camera, changes: int, gap_s: tuple[float, float]) -> None:
    """Runs through L and Ha in turn, with this gap before each filter."""
    for place in range(changes):
        camera.filter = ("L", "Ha")[place % 2]
        camera.exposure_s = 300.0
        if place:
            camera.rest(gap_s[place % 2])
        camera.run(*dithered(6, 4.0, 18.0))


def test_a_filter_change_is_what_is_left_without_download() -> None:
    camera = Camera(begins="2026-11-14T18:00:00.25")
    to_and_fro(camera, 13, (4 + 11.0, 4 + 11.5))
    found = learned(rig_request(), camera.frames)
    assert row(found, "filter").count == 12
    assert (row(found, "filter", "L").median_s, row(found, "filter", "Ha").median_s) == (11.0, 11.5)
    assert row(found, "filter", "L").planned_s == 8
    assert row(found, "filter", "L").longer_s == 3.0


def test_filters_that_differ_have_no_number_in_common() -> None:
    camera = Camera(begins="2026-11-14T18:00:00.25")
    to_and_fro(camera, 13, (4 + 8.0, 4 + 20.0))
    found = learned(rig_request(), camera.frames)
    assert (row(found, "filter", "L").median_s, row(found, "filter", "Ha").median_s) == (8.0, 20.0)
    assert row(found, "filter").unknown == "it differs from filter to filter"


def test_autofocus_on_a_new_filter_is_told_only_with_it() -> None:
    camera = Camera(begins="2026-11-14T18:00:00.25")
    to_and_fro(camera, 13, (4 + 10 + 170.0, 4 + 10 + 170.0))
    found = learned(rig_request(focus={"on_filter_change": True}), camera.frames)
    together = sums(found)["focus", "filter"]
    assert (together.planned_s, together.median_s, together.longer_s) == (158, 180.0, 22.0)
    assert (
        row(found, "filter").unknown == "each gap with it also holds autofocus, which is not known by itself"
    )
    assert (
        row(found, "focus").unknown
        == "each gap with it also holds filter change, which is not known by itself"
    )


def test_autofocus_known_from_inside_a_run_is_taken_off_a_filter_change() -> None:
    camera = Camera(begins="2026-11-14T17:30:00.25")
    focused_run(camera, 5, 11, 180.0)
    for place in range(7):
        camera.filter = ("Ha", "L")[place % 2]
        camera.rest(4 + 10 + 180.0).run(*dithered(4, 4.0, 18.0))
    found = learned(rig_request(focus={"every_min": 60, "on_filter_change": True}), camera.frames)
    assert row(found, "focus").median_s == 180.0
    assert row(found, "filter").median_s == pytest.approx(10.0)


def there_and_back(camera: Camera, slews: int, beyond_s: float) -> None:
    """From target to target and back, 4 s of download, 8 s of filter, and a slew of 22 + 45 + 15 s and more.

    The targets lie 41.612 degrees apart in right ascension and 10 in declination; at 3 degrees a second and
    8 s beside that the slew takes 21.9 s.
    """
    for place in range(slews + 1):
        camera.target = ("Cradle Nebula", "Andromeda")[place % 2]
        if place:
            camera.rest(4 + 22 + 45 + 15 + beyond_s + 8)
        camera.run(4.0, 4.0, 4.0).rest(4 + 8.0)
        camera.filter = "Ha" if camera.filter == "L" else "L"
        camera.exposure_s = 300.0 if camera.filter == "Ha" else 120.0
        camera.run(4.0, 4.0)


def test_what_a_slew_takes_beyond_the_motion_of_the_axes() -> None:
    camera = Camera(begins="2026-11-14T18:30:00.25")
    there_and_back(camera, 8, 20.0)
    found = learned(rig_request(camera={"dither_every": 0}), camera.frames)
    assert row(found, "filter").median_s == 8.0
    slew = row(found, "slew")
    assert (slew.planned_s, slew.median_s, slew.longer_s, slew.count) == (82, 102.0, 20.0, 8)


def test_slews_of_unlike_lengths_are_compared_with_their_own_plan() -> None:
    """On a slow mount the way back over the pole side is another matter than the way there."""
    camera = Camera(begins="2026-11-14T18:30:00.25")
    request = rig_request(camera={"dither_every": 0}, mount={"slew_deg_s": 0.5})
    # 41.612 / 0.5 + 8 = 91.2 s, that is 92 s: 70 s more than at 3 degrees a second
    there_and_back(camera, 8, 70 + 20.0)
    slew = row(learned(request, camera.frames), "slew")
    assert (slew.planned_s, slew.longer_s) == (152, 20.0)


def test_without_pier_sides_near_the_meridian_a_slew_has_no_plan() -> None:
    """Both targets west of the pier before their transits, east after them; between, who knows."""
    request = rig_request(camera={"dither_every": 0})
    camera = Camera(begins="2026-11-14T18:30:00.25", side=None)
    there_and_back(camera, 8, 20.0)
    found = learned(request, camera.frames)
    assert aside(found)[SIDE_UNKNOWN] == 1
    assert row(found, "slew").median_s == 102.0


def test_times_of_a_local_clock_far_from_utc_are_noticed() -> None:
    camera = Camera(begins="2026-11-14T18:30:00.25")
    there_and_back(camera, 8, 20.0)
    late = [
        replace(each, taken_utc=each.taken_utc + dt.timedelta(hours=11))
        for each in camera.frames
        if each.taken_utc
    ]
    found = learned(rig_request(camera={"dither_every": 0}), late)
    assert aside(found)[WRONG_TIME] == 8
    assert row(found, "between_subs").median_s == 4.0


def transit_of_cradle() -> dt.datetime:
    request = rig_request()
    sky = night_sky(request)
    target = request.targets[0]
    (transit_s,) = upper_transits(sky.star(target.ra_deg, target.dec_deg))
    return sky.clock.origin + dt.timedelta(seconds=transit_s)


def flips(nights: int, *, side: bool, flip_s: float = 150.0, stall_s: float = 0.0) -> list[Camera]:
    """Nights on one target across its transit: 4 s of download and a flip of so long, 6 min after it."""
    cameras = []
    for night in range(nights):
        begins = transit_of_cradle() + dt.timedelta(days=night, seconds=-236 * night)
        begins += dt.timedelta(seconds=360.25 - 20 * 124 + 4)
        camera = Camera(begins.replace(tzinfo=None).isoformat(), side="west" if side else None)
        camera.run(*[4.0] * 19).rest(4 + flip_s)
        camera.side = "east" if side else None
        camera.run(*[4.0] * 3).rest(4 + stall_s).run(*[4.0] * 20)
        for place, each in enumerate(camera.frames):
            camera.frames[place] = replace(each, path=each.path.parent / str(night) / each.name)
        cameras.append(camera)
    return cameras


@pytest.mark.parametrize("side", [True, False])
def test_a_flip_is_found_with_and_without_a_pier_side(side: bool) -> None:
    """Half a turn at 3 degrees a second and 8 s beside it, 45 s and 15 s: 129 s are planned, as with 0.02 s more."""
    frames = [each for camera in flips(4, side=side) for each in camera.frames]
    found = learned(rig_request(camera={"dither_every": 0}), frames)
    flip = row(found, "flip")
    assert (flip.count, flip.planned_s, flip.median_s, flip.longer_s) == (4, 129, 150.0, 21.0)
    assert len(found.evenings) == 4


def test_two_gaps_that_may_be_the_flip_tell_nothing() -> None:
    frames = [each for camera in flips(4, side=False, stall_s=140.0) for each in camera.frames]
    found = learned(rig_request(camera={"dither_every": 0}), frames)
    assert row(found, "flip").count == 0
    assert aside(found)[FLIP_UNCLEAR] == 8


def test_a_flip_that_had_to_wait_for_the_meridian_tells_nothing() -> None:
    frames = [each for camera in flips(4, side=True) for each in camera.frames]
    late = rig_request(camera={"dither_every": 0}, mount={"flip_from_min": 8})
    found = learned(late, frames)
    assert row(found, "flip").count == 0
    assert aside(found)[WAITS_FOR_FLIP] == 4


def test_where_an_autofocus_may_or_may_not_lie_nothing_is_told() -> None:
    frames = [each for camera in flips(4, side=True) for each in camera.frames]
    request = rig_request(camera={"dither_every": 0}, focus={"every_min": 45})
    assert aside(learned(request, frames))[MAY_FOCUS] == 4


def test_fewer_than_three_are_not_known() -> None:
    found = learned(rig_request(), Camera().run(5.0, 5.0).frames)
    assert row(found, "between_subs").unknown == "only 2 gaps hold it, fewer than 3"
    assert row(found, "between_subs").count == 2
    assert not found.set_aside
    assert learned(rig_request(), Camera().run(5.0).frames).of("between_subs").unknown == (  # type: ignore[union-attr]
        "only 1 gap holds it, fewer than 3"
    )


def test_lengths_that_vary_too_much_are_not_known() -> None:
    found = learned(rig_request(camera={"dither_every": 0}), Camera().run(3.0, 5.0, 7.0, 9.0).frames)
    assert row(found, "between_subs").median_s is None
    assert row(found, "between_subs").unknown == "4 gaps differ too much: it cannot be told from nothing"


@pytest.mark.parametrize("true_s", [1.3, 3.4])
def test_instants_of_whole_seconds_still_tell_tenths(true_s: float) -> None:
    frames = Camera(begins="2026-11-14T20:00:00").run(*[true_s] * 150).frames
    cut = [
        replace(each, taken_utc=each.taken_utc.replace(microsecond=0)) for each in frames if each.taken_utc
    ]
    found = learned(rig_request(camera={"dither_every": 0}), cut)
    assert row(found, "between_subs").median_s == pytest.approx(true_s, rel=0.02)


def test_dark_frames_a_second_camera_and_a_clock_set_back_break_pairs_alone() -> None:
    camera = Camera().run(*[5.0] * 20).rest(5.0)
    camera.sub(kind="dark").rest(5.0)
    camera.run(*[5.0] * 20)
    set_back = Camera("2026-11-15T20:00:00.25").run(*[5.0] * 20).rest(5 - 1800).run(*[5.0] * 5)
    second = Camera("2026-11-14T20:00:30.5")
    second.exposure_s = 30.0
    second.run(*[95.0] * 19)
    frames = [*camera.frames, *set_back.frames, *second.frames]
    found = learned(rig_request(camera={"dither_every": 0}), frames)
    assert row(found, "between_subs").median_s == 5.0
    assert aside(found)[FOREIGN] == 1
    assert aside(found)[BEFORE_OVER] == 12
    assert [(each.count, each.reason) for each in found.others] == [
        (20, 'EXPTIME = 30 s, and the goals of target "Cradle Nebula" ask for 120 or 300 s')
    ]


def test_ways_are_those_of_the_axes() -> None:
    """The planned numbers of the docstrings above, by their formula."""
    assert math.ceil(8 + 41.612 / 3 + 0.02) == 22
    assert math.ceil(8 + 180 / 3 + 0.02) == 69
    assert AT_MOST.endswith("perhaps less")
