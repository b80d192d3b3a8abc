"""What acts really take, from nights laid by hand whose answer is known."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import replace

import pytest

from optimizer.learn.acts import learned
from optimizer.learn.gaps import BEFORE_OVER, FOREIGN
from optimizer.learn.rows import ACTS
from optimizer.learn.rules import LONG, LOST, NOT_EACH, OTHER_GOAL, OUT_OF_STEP, ROOM_FOR_SUB, UNASKED
from tests.support.learn_frames import Camera, aside, dithered, focused_run, rig_request, row, sums


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


@pytest.mark.parametrize("every_min", [0, 600])
def test_overlapping_lengths_are_told_apart_by_their_place(every_min: float) -> None:
    """A dither of 5 s among downloads of 7 to 13 s: no length parts them, the count of subs does."""
    rng = random.Random(2)
    camera = Camera(begins="2026-11-14T18:00:00.25")
    camera.exposure_s = 1.0
    request = rig_request(
        goals=[{"filter": "L", "exposure_s": 1, "frames": 9000}],
        camera={"download_s": 6, "dither_every": 3, "dither_s": 4},
        focus={"every_min": every_min},
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


def test_dithers_that_add_nothing_are_told_so_or_not_told() -> None:
    rng = random.Random(6)
    alike = learned(rig_request(), Camera().run(*[5.0] * 60).frames)
    assert (row(alike, "between_subs").median_s, row(alike, "dither").median_s) == (5.0, 0.0)
    varied = learned(rig_request(), Camera().run(*[rng.gauss(5, 0.5) for _ in range(60)]).frames)
    assert row(varied, "between_subs").median_s == pytest.approx(5.0, rel=0.05)
    told = row(varied, "dither").unknown
    assert told is not None
    assert told.endswith("it cannot be told from nothing")


def test_the_order_of_the_files_makes_no_difference() -> None:
    camera = Camera(begins="2026-11-14T17:30:00.25")
    focused_run(camera, 5, 11, 180.0)
    request = rig_request(focus={"every_min": 60})
    shuffled = list(camera.frames)
    random.Random(1).shuffle(shuffled)
    assert learned(request, shuffled) == learned(request, camera.frames)


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


def test_gaps_with_and_without_a_dither_have_no_common_middle() -> None:
    """A dither is asked for after each 2 subs and comes after each 6: most gaps that are due hold none."""
    rng = random.Random(1)
    gaps = [(21.0 if each % 6 == 0 else 5.0) * (1 + 0.01 * rng.gauss(0, 1)) for each in range(1, 81)]
    found = learned(rig_request(camera={"dither_every": 2}), Camera().run(*gaps).frames)
    assert row(found, "between_subs").median_s == pytest.approx(5.0, rel=0.02)
    assert row(found, "dither").unknown == "no gap holds it"


def test_a_dither_that_is_asked_for_in_each_gap_and_comes_in_a_few_is_not_measured_with_them() -> None:
    found = learned(rig_request(camera={"dither_every": 1}), Camera().run(*dithered(81, 5.0, 19.0)).frames)
    assert not [each for each in (*found.acts, *found.sums) if each.known]
    assert aside(found)[NOT_EACH] == 80


def test_autofocus_beside_dithers_that_nobody_asked_for_is_not_known() -> None:
    """A dither may lie in the same gap as the autofocus."""
    camera = Camera()
    for _ in range(6):
        camera.run(*dithered(14, 5.0, 19.0)).rest(5.0 + 160.0 + 14.0)
    without = rig_request(camera={"dither_every": 0}, focus={"every_min": 30})
    found = learned(without, camera.frames)
    assert row(found, "between_subs").median_s == 5.0
    assert row(found, "focus").unknown == "no gap holds it"
    assert aside(found)[UNASKED] >= 5


def test_every_second_file_missing_is_not_taken_for_a_long_overhead() -> None:
    frames = Camera().run(*dithered(81, 5.0, 19.0)).frames
    for every in (2, 3):
        found = learned(rig_request(), frames[::every])
        assert not [each for each in (*found.acts, *found.sums) if each.known]
        assert set(aside(found)) == {ROOM_FOR_SUB}


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


def test_gaps_that_each_hold_a_lost_sub_do_not_outvote_one_that_does_not() -> None:
    """Three gaps of an autofocus with a lost sub, about 524 s, and a sound one of 202 s: neither is sure."""
    for lost, known in ((3, False), (0, True)):
        camera = Camera(begins="2026-11-14T18:00:00.25")
        camera.exposure_s = 300.0
        for segment in range(5):
            if segment:
                camera.rest(4.0 + 180.0 + 14.0 + (304.0 if segment <= lost else 0.0))
            camera.run(*dithered(11 - (0 < segment <= lost), 4.0, 18.0))
        found = learned(rig_request(focus={"every_min": 60}), camera.frames)
        assert row(found, "focus").known is known, row(found, "focus")
        assert row(found, "focus").median_s == (180.0 if known else None)
        assert aside(found) == ({} if known else {LONG: 4})


def test_without_a_cadence_no_gap_of_a_run_is_an_autofocus() -> None:
    camera = Camera(begins="2026-11-14T18:00:00.25")
    focused_run(camera, 5, 11, 180.0)
    found = learned(rig_request(), camera.frames)
    assert row(found, "focus").unknown == "no gap holds it"
    assert aside(found) == {LONG: 4}


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
    assert aside(found)[BEFORE_OVER] == 14
    assert [(each.count, each.reason) for each in found.others] == [
        (20, 'EXPTIME = 30 s, and the goals of target "Cradle Nebula" ask for 120 or 300 s')
    ]
