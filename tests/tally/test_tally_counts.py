"""Counting: once each, in whatever order and folder, under the right evening; what has gone is told."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Iterable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.models.site import Night, Site, night_span
from optimizer.tally.counts import Counting, count_frames, rows_of_seen
from optimizer.tally.evenings import evening_of
from optimizer.tally.frames import Damaged, Frame
from optimizer.tally.in_hand import in_hand, with_counts
from optimizer.tally.rejects import Rejects
from optimizer.tally.seen_file import FileKey, Seen, read_seen, seen_text
from optimizer.tally.tally_file import Counts, Row, RowKey, TallyFile, read_tally, tally_text
from tests.support.tally_cases import FOLDER, frame, request_of

REQUEST = request_of()
START = dt.datetime(2026, 11, 10, tzinfo=dt.UTC)
PLACES = st.sampled_from(
    [
        f"{folder}{name}.fits"
        for folder in ("", "b/", "c/d/", "e/", "f/", "g/")
        for name in ("1", "=3", "ü, 4")
    ]
)


def _frame(path: str, hours: int) -> Frame:
    """A frame that is the same wherever a file of its name and time lies: such files are copies."""
    rng = random.Random(f"{Path(path).name} {hours}")
    return frame(
        path,
        (START + dt.timedelta(hours=hours)).replace(tzinfo=None).isoformat(),
        filter=rng.choice(["L", "L", "Ha", "none"]),
        exposure_s=rng.choice([120.0, 120.4, 300.0, 60.25]),
        object=rng.choice(["ngc1333", "Andromeda", "nobody"]),
        kind=rng.choice(["light", "light", "light", "dark", "other"]),
    )


FRAMES = st.lists(
    st.builds(_frame, PLACES, st.integers(0, 96)), max_size=30, unique_by=lambda each: each.path
)
NOTHING = TallyFile()


def count(
    found: Iterable[Frame | Damaged],
    seen: dict[FileKey, Seen] | None = None,
    source: str = "images",
    **more: object,
) -> Counting:
    return count_frames(REQUEST, found, FOLDER, source, seen=seen or {}, **more)  # type: ignore[arg-type]


def texts(counting: Counting, old: TallyFile = NOTHING) -> tuple[str, str]:
    """The tally and the list of files seen, as they would be written."""
    return tally_text(old, rows_of_seen(counting.seen.values())), seen_text(counting.seen.items())


@settings(max_examples=60)
@given(FRAMES, st.randoms(use_true_random=False))
def test_order_of_files_makes_no_difference(frames: list[Frame], rng: random.Random) -> None:
    shuffled = rng.sample(frames, len(frames))
    one, two = count(frames), count(shuffled)
    assert texts(one) == texts(two)
    assert {each: dict(getattr(one, each)) for each in ("copies", "unmatched")} == {
        each: dict(getattr(two, each)) for each in ("copies", "unmatched")
    }


@settings(max_examples=60)
@given(FRAMES)
def test_a_second_run_changes_nothing(frames: list[Frame]) -> None:
    """By way of the files, so that what is written is what is read."""
    first = count(frames)
    tally, seen = texts(first)
    again = count(frames, read_seen(seen, "seen"))
    assert texts(again, read_tally(tally, "tally")) == (tally, seen)
    assert not any(sub.is_new for sub in again.subs)
    assert again.vanished == []


@settings(max_examples=60)
@given(FRAMES, st.integers(0, 30))
def test_two_folders_add_up(frames: list[Frame], cut: int) -> None:
    """Counted in two parts, in either order, everything counts as when it lies in one folder."""

    def totals(counting: Counting) -> dict[RowKey, int]:
        found: dict[RowKey, int] = {}
        for key, counts in rows_of_seen(counting.seen.values()).items():
            bare = RowKey(
                "", key.evening, key.target, key.filter, key.exposure_s, key.gain, key.offset, key.binning
            )
            found[bare] = found.get(bare, 0) + counts.frames
        return found

    one, two = frames[:cut], frames[cut:]
    whole = totals(count(frames))
    assert totals(count(two, count(one, source="one").seen, "two")) == whole
    assert totals(count(one, count(two, source="two").seen, "one")) == whole


@given(FRAMES)
def test_every_light_frame_is_told_once(frames: list[Frame]) -> None:
    counting = count(frames)
    told = [sub.path for sub in counting.subs] + [path for path, _ in (*counting.unmatched, *counting.copies)]
    told += [path for paths in counting.calibration.values() for path in paths]
    assert sorted(told) == sorted(each.path for each in frames)


def test_a_copy_elsewhere_counts_once() -> None:
    frames = [frame("a.fits"), frame("backup/a.fits"), frame("b.fits", size_bytes=8640), frame("c/b.fits")]
    counting = count(frames)
    assert [str(sub.path.name) for sub in counting.subs] == ["a.fits", "b.fits", "b.fits"]
    assert [(path.as_posix(), other) for path, other in counting.copies] == [
        ("images/backup/a.fits", "a.fits")
    ]
    later = count([frame("b/a.fits")], counting.seen, "other")
    assert rows_of_seen(later.seen.values()) == rows_of_seen(counting.seen.values())
    assert later.subs[0].row.source == "images"


def test_a_sub_is_rejected_by_the_name_of_any_of_its_copies() -> None:
    rejects = Rejects(["bad/a.fits", "a.fits"])
    counting = count([frame("a.fits"), frame("bad/a.fits")], rejects=rejects)
    assert (len(counting.subs), counting.subs[0].rejected) == (1, True)
    assert rejects.hits == {"bad/a.fits": 1, "a.fits": 1}


def test_subs_begun_together_are_pointed_out() -> None:
    assert count([frame("a.fits"), frame("b.fits")]).alike == [(Path("images/b.fits"), "a.fits")]
    assert count([frame("a.fits"), frame("b.fits", object="Andromeda")]).alike == []


def test_calibration_frames_and_damaged_files_are_listed_and_not_counted() -> None:
    cut = Damaged(Path("images/cut.fits"), "it is cut short", "cut_short")
    counting = count(
        [frame("d.fits", kind="dark"), cut, frame("f.fits", kind="flat"), frame("e.fits", kind="bias")]
    )
    assert counting.calibration == {
        "dark": [Path("images/d.fits")], "flat": [Path("images/f.fits")], "bias": [Path("images/e.fits")]
    }  # fmt: skip
    assert (counting.damaged, counting.seen) == ([cut], {})


def test_vanished_subs_count_until_they_are_recounted() -> None:
    before = count([frame("a.fits"), frame("b.fits", "2026-11-14T23:20:00")])
    after = count([frame("a.fits")], before.seen)
    assert [key.name for key, _ in after.vanished] == ["b.fits"]
    assert after.seen == before.seen
    anew = count([frame("a.fits")], after.seen, recount=True)
    assert [key.name for key, _ in anew.vanished] == ["b.fits"]
    assert [key.name for key in anew.seen] == ["a.fits"]


@pytest.mark.parametrize(
    ("name", "size_bytes"), [("a.fits", 8640), ("a.fits.gz", 900), ("packed/a.fit.fz", 5760)]
)
def test_a_sub_that_is_saved_anew_counts_once(name: str, size_bytes: int) -> None:
    """Edited in its place, packed or renamed to another ending, it is the same sub, and as good as before."""
    later = frame("b.fits", "2026-11-14T23:20:00")
    before = count([frame("a.fits"), later], rejects=Rejects(["a"]))
    after = count([frame(name, size_bytes=size_bytes), later], before.seen)
    assert rows_of_seen(after.seen.values()) == rows_of_seen(before.seen.values())
    assert [key.name for key in after.anew] == ["a.fits"]
    assert (after.vanished, [sub.is_new for sub in after.subs]) == ([], [False, False])
    again = count([frame(name, size_bytes=size_bytes), later], after.seen)
    assert (again.seen, again.anew, again.vanished) == (after.seen, [], [])


def test_a_sub_of_another_time_or_folder_is_not_taken_for_one_saved_anew() -> None:
    before = count([frame("a.fits")])
    assert len(count([frame("a.fits", "2026-11-15T23:20:00", size_bytes=8640)], before.seen).seen) == 2
    assert len(count([frame("a.fits", size_bytes=8640)], before.seen, "other").seen) == 2
    there = count([frame("a.fits"), frame("b/a.fits", size_bytes=8640)], before.seen)
    assert (len(there.seen), there.anew) == (2, [])


def test_recounting_one_folder_leaves_the_others_alone() -> None:
    other = count([frame("a.fits")], source="elsewhere")
    assert count([], other.seen, recount=True).seen == other.seen


def test_subs_moved_to_a_folder_that_is_left_out_no_longer_count() -> None:
    before = count([frame("a.fits"), frame("b.fits", "2026-11-14T23:20:00")])
    after = count([frame("a.fits")], before.seen, left_out={("b.fits", 5760)})
    assert [key.name for key, _ in after.aside] == ["b.fits"]
    assert ([key.name for key in after.seen], after.vanished) == (["a.fits"], [])


def test_rejected_subs_stay_so_until_they_are_recounted() -> None:
    frames = [frame("a.fits"), frame("b.fits", "2026-11-14T23:20:00")]
    first = count(frames, rejects=Rejects(["b.fits"]))
    assert list(rows_of_seen(first.seen.values()).values()) == [Counts(2, 1)]
    assert list(rows_of_seen(count(frames, first.seen).seen.values()).values()) == [Counts(2, 1)]
    assert list(rows_of_seen(count(frames, first.seen, recount=True).seen.values()).values()) == [Counts(2)]


def test_a_sub_that_was_deleted_can_still_be_rejected() -> None:
    before = count([frame("a.fits")])
    after = count([], before.seen, rejects=Rejects(["a"]))
    assert list(rows_of_seen(after.seen.values()).values()) == [Counts(1, 1)]


@pytest.mark.parametrize(
    ("line", "named"),
    [
        ("one.fits", ["one.fits", "b/one.fits"]),
        ("one", ["one.fits", "b/one.fits", "one.fit.gz"]),
        ("b/one.fits", ["b/one.fits"]),
        ("images\\b\\one.fits", []),
        ("./one.fits", ["one.fits", "b/one.fits"]),
        ("# one.fits", []),
        ("ONE.fits", []),
    ],
)
def test_names_to_be_rejected_may_lack_ending_and_folders(line: str, named: list[str]) -> None:
    rejects = Rejects([line, ""])
    files = ["one.fits", "b/one.fits", "one.fit.gz", "two.fits"]
    assert [name for name in files if rejects.has(Path(name), name)] == named


def test_a_request_that_changed_moves_what_is_found_and_keeps_the_rest() -> None:
    """An alias that was lacking, and a target that another request shares the tally for."""
    before = count([frame("a.fits"), frame("b.fits", "2026-11-14T23:20:00")])
    row = {"name": "Renamed", "aliases": ["Cradle Nebula"], "ra_deg": 52.3, "dec_deg": 31.3}
    renamed = request_of({**row, "goals": [{"filter": "L", "exposure_s": 120, "frames": 9}]})
    after = count_frames(renamed, [frame("a.fits")], FOLDER, "images", seen=before.seen)
    assert sorted(entry.row.target for entry in after.seen.values()) == ["Cradle Nebula", "Renamed"]
    strange = request_of({**row, "aliases": [], "goals": [{"filter": "L", "exposure_s": 120, "frames": 9}]})
    kept = count_frames(strange, [frame("a.fits")], FOLDER, "images", seen=before.seen)
    assert (kept.seen, len(kept.unmatched)) == (before.seen, 1)


# --- evenings ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("taken", "zone", "longitude_deg", "evening"),
    [
        ("2026-11-14T23:10:00", "Europe/Madrid", -3.11, "2026-11-14"),
        ("2026-11-15T05:00:00", "Europe/Madrid", -3.11, "2026-11-14"),
        ("2026-11-15T12:12:25", "Europe/Madrid", -3.11, "2026-11-14"),  # mean solar noon at 12:12:26 UTC
        ("2026-11-15T12:12:27", "Europe/Madrid", -3.11, "2026-11-15"),
        ("2026-11-14T09:30:00", "Australia/Adelaide", 138.6, "2026-11-14"),
        ("2026-11-14T09:30:00", "UTC", 138.6, "2026-11-14"),
        ("2026-11-15T14:00:00", "UTC", -150.0, "2026-11-14"),  # four in the morning by the Sun
        ("2026-11-15T05:00:00", "Pacific/Honolulu", -155.5, "2026-11-14"),
        ("2026-11-15T07:00:00", "Pacific/Kiritimati", -157.4, "2026-11-15"),
    ],
)
def test_evening_is_the_date_on_which_the_night_began(
    taken: str, zone: str, longitude_deg: float, evening: str
) -> None:
    site = Site(latitude_deg=0.0, longitude_deg=longitude_deg, time_zone=zone, floor_deg=0.0)
    assert evening_of(dt.datetime.fromisoformat(taken + "+00:00"), site).isoformat() == evening


@given(
    st.integers(0, 4 * 366 * 86400),
    st.sampled_from(["UTC", "Europe/Madrid", "Pacific/Kiritimati", "America/St_Johns", "Asia/Kathmandu"]),
    st.floats(-180, 180),
)
def test_every_instant_lies_in_the_night_of_its_evening(
    seconds: int, zone: str, longitude_deg: float
) -> None:
    site = Site(latitude_deg=0.0, longitude_deg=longitude_deg, time_zone=zone, floor_deg=0.0)
    instant = START + dt.timedelta(seconds=seconds)
    begin, end = night_span(Night(evening=evening_of(instant, site)), longitude_deg, zone)
    assert begin <= instant < end


# --- what is in hand ---------------------------------------------------------------------------------------


def rows(text: str) -> tuple[Row, ...]:
    header = "target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source\n"
    return read_tally(header + text, "tally").rows


def done(text: str) -> list[int]:
    counted = in_hand(REQUEST, rows(text))
    return [goal.done for _, goal in with_counts(REQUEST, counted).goals()]


def test_rows_add_up_without_what_was_rejected() -> None:
    assert done("Cradle Nebula,L,120,,,1,2026-11-14,9,2,images\nngc 1333,lum,120.4,100,30,,,3,,\n") == [
        10,
        0,
        0,
        0,
    ]


def test_a_person_may_take_off_but_nothing_falls_below_none() -> None:
    assert done("Andromeda,L,120,,,,2026-11-14,9,2,images\nAndromeda,L,120,,,,,0,3,\n") == [0, 0, 0, 4]
    assert done("Andromeda,L,120,,,,,0,3,\n") == [0, 0, 0, 0]


def test_hours_are_whole_subs_of_the_seconds_rounded_down() -> None:
    """Ten of 59.9 s and one of 300 s are 899 s: two subs of 300 s; a second more makes three."""
    text = "Cradle Nebula,Ha,59.9,,,1,,10,0,\nCradle Nebula,Ha,300,,,1,,1,0,\n"
    assert done(text) == [0, 0, 2, 0]
    assert done(text + "Cradle Nebula,Ha,1,,,1,,1,0,\n") == [0, 0, 3, 0]


def test_rows_of_no_goal_are_kept_apart_with_the_reason() -> None:
    counted = in_hand(REQUEST, rows("Nobody,L,120,,,,,1,,\nCradle Nebula,L,90,,,,,1,,\n"))
    assert [why for _, why in counted.ignored] == [
        '"Nobody" is no name or alias of a target',
        'exposure_s = 90 s, and the goals of target "Cradle Nebula" ask for 120 or 300 s',
    ]
    assert counted.goals == {}


# --- the file ----------------------------------------------------------------------------------------------

HAND = (
    "\ufefftarget,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source\r\n"
    '"Cradle, the",L,120.0,,,1,2026-11-12,4,0,\r\n'
    "\r\n"
    "Andromeda,L,120,,,1,2026-11-13,2,0,images\r\n"
    "  Andromeda ,L,60,,,,,7,,"
)


def test_what_a_person_wrote_is_kept_to_the_byte_and_in_its_place() -> None:
    old = read_tally(HAND.removeprefix("\ufeff"), "tally")
    key = RowKey("images", "2026-11-13", "Andromeda", "L", 120.0)
    new = RowKey("images", "2026-11-14", "=Andromeda", 'a "b", c', 300.5, 100, 30, 2)
    text = tally_text(old, {key: Counts(3, 1), new: Counts(5)})
    assert (
        text
        == HAND.removeprefix("\ufeff").replace("2026-11-13,2,0,images\r\n", "2026-11-13,3,1,images\n")
        + '\n\'=Andromeda,"a ""b"", c",300.5,100,30,2,2026-11-14,5,0,images\n'
    )
    read = read_tally(text, "tally")
    assert {row.key: row.counts for row in read.rows if row.key.source} == {key: Counts(3, 1), new: Counts(5)}
    assert tally_text(old, {}) == HAND.removeprefix("\ufeff").replace(
        "Andromeda,L,120,,,1,2026-11-13,2,0,images\r\n", ""
    )


def test_nothing_counted_is_a_header() -> None:
    assert (
        tally_text(TallyFile(), {})
        == "target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source\n"
    )
