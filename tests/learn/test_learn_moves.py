"""What changes of filter, slews and flips really take, from nights laid by hand whose answer is known."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from optimizer.learn.acts import learned
from optimizer.learn.pointing import FLIP_UNCLEAR, SIDE_UNKNOWN, WAITS_FOR_FLIP, WRONG_TIME
from optimizer.learn.rules import MAY_FOCUS
from optimizer.sky.bodies import night_sky
from optimizer.sky.transits import upper_transits
from tests.support.learn_frames import Camera, aside, dithered, focused_run, rig_request, row, sums


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
    """Without and with a change of the pier side, which adds half a turn or takes the way off it.

    The hour axis moves by 41.612 degrees, 180 + 41.612, 41.612 again and 180 - 41.612, each at 3 degrees a
    second with 8 s beside it, and 60 s follow: 82, 142, 82 and 115 s. Each takes 20 s more.
    """
    camera = Camera(begins="2026-11-14T18:30:00.25")
    places = [
        ("Cradle Nebula", "west"),
        ("Andromeda", "west"),
        ("Cradle Nebula", "east"),
        ("Andromeda", "east"),
    ]
    there_s = [115, 82, 142, 82]  # to each of them from the one before
    for place in range(9):
        camera.target, camera.side = places[place % 4]
        if place:
            camera.rest(4 + there_s[place % 4] + 20 + 8)
        camera.run(4.0, 4.0, 4.0).rest(4 + 8.0)
        camera.filter = "Ha" if camera.filter == "L" else "L"
        camera.exposure_s = 300.0 if camera.filter == "Ha" else 120.0
        camera.run(4.0, 4.0)
    slew = row(learned(rig_request(camera={"dither_every": 0}), camera.frames), "slew")
    assert slew.count == 8
    assert (slew.planned_s, slew.longer_s) == ((82 + 115) / 2, 20.0)
    assert slew.median_s == (82 + 115) / 2 + 20


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
    frames = [each for camera in flips(6, side=side) for each in camera.frames]
    found = learned(rig_request(camera={"dither_every": 0}), frames)
    flip = row(found, "flip")
    assert (flip.count, flip.planned_s, flip.median_s, flip.longer_s) == (6, 129, 150.0, 21.0)
    assert len(found.evenings) == 6


def test_few_flips_are_not_known_without_a_list_for_what_went_before_them() -> None:
    """A list that runs late skips subs, and then waits or dithers before each flip alike."""
    frames = [each for camera in flips(4, side=True) for each in camera.frames]
    flip = row(learned(rig_request(camera={"dither_every": 0}), frames), "flip")
    assert flip.unknown == "only 4 gaps hold it, and without a list waits before it cannot be told"
    assert flip.count == 4


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
