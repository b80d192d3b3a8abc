"""The edits: each breaks one fact of a clean list; `CASES` names the rule under which that must be found."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from tests.support.recheck.broken import Broken, moved
from tests.support.recheck.facts import SIDEREAL, Facts
from tests.support.recheck.motion import changes, must_leave

# -- rows and their order -------------------------------------------------------------------------


def number(b: Broken) -> None:
    b.rows[7]["step"] += 1


def gap(b: Broken) -> None:
    b.rows[b.west()]["start_utc"] = moved(b.rows[b.west()]["start_utc"], -1)


def no_park(b: Broken) -> None:
    b.rows.pop()


def no_focus_after_slew(b: Broken) -> None:
    b.remove(b.kind("focus"))


def no_focus_after_flip(b: Broken) -> None:
    b.remove(next(i for i in range(b.flip, len(b.rows)) if b.rows[i]["kind"] == "focus"))


def no_focus_after_filter(b: Broken) -> None:
    between = [
        i
        for i in range(1, len(b.rows) - 1)
        if [r["kind"] for r in b.rows[i - 1 : i + 2]] == ["filter", "focus", "expose"]
    ]
    b.remove(next(i for i in between if b.rows[i - 2]["kind"] == "expose"))


def old_focus(b: Broken) -> None:
    b.request["focus"]["every_min"] = 20.0


def no_dither(b: Broken) -> None:
    b.remove(b.kind("dither"))


def one_dither_more(b: Broken) -> None:
    first = b.kind("expose")
    shot = b.rows[first]
    extra = shot | {"kind": "dither", "start_utc": shot["end_utc"], "exposure_s": None, "binning": None}
    b.rows.insert(first + 1, extra)
    b.number()


def no_filter_between_runs(b: Broken) -> None:
    b.remove(b.find(lambda row: row["kind"] == "filter" and b.rows[row["step"] - 2]["kind"] == "expose"))


def no_filter_after_slew(b: Broken) -> None:
    b.remove(b.kind("filter"))


def other_filter(b: Broken) -> None:
    row = b.rows[b.kind("filter")]
    row["filter"] = "Ha" if row["filter"] == "L" else "L"


def no_settle(b: Broken) -> None:
    b.remove(b.kind("settle"))


def no_rotate(b: Broken) -> None:
    b.request["mount"]["turn_rotator_after_flip"] = True


def second_run(b: Broken) -> None:
    """One exposure amid a run becomes another goal's, so that the run goes on behind it."""
    index = [i for i in range(b.flip) if b.rows[i]["kind"] == "expose"][1]
    goals = b.target(index)["goals"]
    other = next(goal for goal in goals if goal["filter"] != b.rows[index]["filter"])
    b.rows[index] |= {key: other[key] for key in ("filter", "exposure_s")}


def no_goal(b: Broken) -> None:
    b.rows[b.west()]["exposure_s"] -= 1.0


def one_frame_more(b: Broken) -> None:
    taken = [r for r in b.rows if r["kind"] == "expose" and r["target"] == "Rising"]
    b.request["targets"][1]["goals"][0]["frames"] = len(taken) - 1


def short_visit(b: Broken) -> None:
    taken = [r for r in b.rows if r["kind"] == "expose" and r["target"] == "Rising"]
    b.request["targets"][1]["least_min"] = len(taken) * 200 / 60 + 0.01


def third_visit(b: Broken) -> None:
    west = [i for i in range(b.flip) if b.rows[i]["kind"] == "dither"]
    for index in west[:2]:
        b.rows[index]["kind"] = "slew"


def wrong_place(b: Broken) -> None:
    b.rows[b.west()]["ra_deg"] += 360.0


def untracked(b: Broken) -> None:
    b.rows[b.west()]["tracking"] = False


def only_before(b: Broken) -> None:
    b.request["targets"][0]["sides"] = "before"


def never(b: Broken) -> None:
    b.request["mount"]["flip_by"] = "never"


def straight_back(b: Broken) -> None:
    """A slew amid the first visit, back to where the telescope is."""
    b.rows[b.kind("dither")]["kind"] = "slew"


# -- lengths -----------------------------------------------------------------------------------------


def short_centre(b: Broken) -> None:
    b.request["mount"]["centre_s"] += 0.2


def short_download(b: Broken) -> None:
    b.request["camera"]["download_s"] += 0.1


def short_overhead(b: Broken) -> None:
    b.request["camera"]["overhead_s"] = b.request["camera"].get("overhead_s", 0.0) + 1.0


def slow_axes(b: Broken) -> None:
    b.request["mount"]["slew_deg_s"] -= 0.05


def more_slew(b: Broken) -> None:
    b.request["mount"]["slew_extra_s"] += 1.1


def short_dither(b: Broken) -> None:
    b.request["camera"]["dither_s"] = 0.5


# -- the mount ---------------------------------------------------------------------------------------


def past_contact(b: Broken) -> None:
    """The last exposure before the flip closes 3 s after the first side must be left."""
    index = b.west()
    b.shift(index, b.leave() + 3 - b.clean.closes(index), index)


def contact_nearer(b: Broken) -> None:
    """The same with the mount's number: the shutter closes 3 s of hour angle too late."""
    index = b.west()
    at = float(b.clean.star("Crossing").hour_angle_s[b.clean.closes(index)])
    b.request["mount"]["contact_min"] = 10.0 + (at - 3) / 60 + 10 / 60


def flip_too_soon(b: Broken) -> None:
    at = float(b.clean.star("Crossing").hour_angle_s[b.clean.start[b.flip]])
    b.request["mount"]["flip_from_min"] = (at + 3 - 10) / 60


def swapped_side(b: Broken) -> None:
    b.rows[b.kind("expose")]["pier_side"] = "east"


def open_in_flip(b: Broken) -> None:
    ends, flips = (
        dt.datetime.fromisoformat(text) for text in (b.rows[b.west()]["end_utc"], b.rows[b.flip]["start_utc"])
    )
    b.shift(b.west(), 20 + round((flips - ends).total_seconds()), b.west())


def quiet(b: Broken) -> None:
    index = next(i for i, row in enumerate(b.rows) if row["kind"] == "slew")
    star = b.clean.star(b.rows[index]["target"])
    ahead = -float(star.hour_angle_s[b.clean.end[index]])
    assert 0 < ahead < 360 * 60
    b.request["mount"]["quiet_min"] = (ahead + 3) / 60


def put_off(b: Broken) -> None:
    b.wait_before_flip(30, tracking=True)


def standing(b: Broken) -> None:
    b.wait_before_flip(30, tracking=False)


def tracks_before_slew(b: Broken) -> None:
    second = b.kind("slew", last=True)
    before = next(i for i in range(second - 1, 0, -1) if b.rows[i]["kind"] == "expose")
    if before + 1 == second:
        b.rows[before]["end_utc"] = moved(b.rows[before]["end_utc"], -30)
    for index in range(before + 1, second):
        b.rows[index] |= {key: b.rows[before][key] for key in ("target", "pier_side", "ra_deg", "dec_deg")}
        b.rows[index]["tracking"] = True


# -- the sky -----------------------------------------------------------------------------------------


def under_floor(b: Broken) -> None:
    """The first exposure of a rising target opens 2 s too soon, its floor by the numbers."""
    index = b.kind("expose")
    b.target(index)["floor_deg"] = b.altitude(index, b.clean.start[index] + 2)
    assert b.altitude(index, b.clean.start[index] + 9) > b.target(index)["floor_deg"]


def under_skyline(b: Broken) -> None:
    index = b.kind("expose")
    b.request["site"]["skyline"] = [[0.0, b.altitude(index, b.clean.start[index] + 2)]]


def acquired_too_low(b: Broken) -> None:
    index = b.kind("centre")
    low = b.altitude(index, b.clean.start[index] + 3)
    b.request["site"]["floor_deg"] = b.target(index)["floor_deg"] = low


def above_ceiling(b: Broken) -> None:
    index = b.west()
    b.request["site"]["ceiling_deg"] = b.altitude(index, b.clean.closes(index) - 2) - 2 / 3600


def too_bright(b: Broken) -> None:
    index = b.kind("expose")
    b.filter_of(index)["darkness"] = float(b.clean.sky.sun.altitude_deg[b.clean.start[index] + 2])


def by_day(b: Broken) -> None:
    b.rows[0]["start_utc"] = moved(b.rows[0]["start_utc"], -3 * 3600)


def near_moon(b: Broken) -> None:
    index = b.kind("expose")
    gap = b.clean.moon_gap_deg(b.rows[index]["target"])[b.clean.start[index] + 100]
    b.filter_of(index)["moon_gap_deg"] = float(gap) + 40 / 3600


def moonlit(b: Broken) -> None:
    b.filter_of(b.kind("expose"))["moonlight_mag"] = 0.01


def blocked(b: Broken) -> None:
    index = b.west()
    closes = b.clean.closes(index)
    b.request["night"]["blocked"] = [[b.at(closes - 1), b.at(closes)]]


def not_clear(b: Broken) -> None:
    index = b.west()
    b.request["night"]["clear"] = [
        [b.at(0), b.at(b.clean.closes(index) - 1)],
        [b.at(b.clean.closes(index)), b.at(86400)],
    ]


def misplaced(b: Broken) -> None:
    b.rows[b.west()]["hour_angle_h"] += 0.0006


# -- latest starts -----------------------------------------------------------------------------------


def late_flip(b: Broken) -> None:
    b.rows[b.flip]["latest_start_utc"] = b.at(b.leave() + 3)


def late_flip_of_the_mount(b: Broken) -> None:
    b.request["mount"]["flip_by"] = "mount"
    b.rows[b.flip]["latest_start_utc"] = moved(b.rows[b.flip]["start_utc"], 1)


def late_exposure(b: Broken) -> None:
    row = b.rows[b.west()]
    row["latest_start_utc"] = moved(row["latest_start_utc"], 3)


def early_exposure(b: Broken) -> None:
    row = b.rows[b.kind("expose")]
    row["latest_start_utc"] = moved(row["latest_start_utc"], -65)


def before_itself(b: Broken) -> None:
    row = b.rows[b.west()]
    row["latest_start_utc"] = moved(row["start_utc"], -1)


def no_latest(b: Broken) -> None:
    b.rows[b.west()]["latest_start_utc"] = None


def late_park(b: Broken) -> None:
    b.rows[-1]["latest_start_utc"] = moved(b.rows[-1]["latest_start_utc"], 3)


def late_reaching(b: Broken, contact_s: float) -> None:
    """A mount that flips by itself, 30 s of tracking after the last exposure; contact so many seconds after that."""
    at = float(b.clean.star("Crossing").hour_angle_s[b.clean.start[b.flip]])
    b.request["mount"] |= {"flip_by": "mount", "flip_from_min": ((at + 28) / SIDEREAL - 10) / 60}
    b.request["mount"]["contact_min"] = 10 + (at + contact_s + 10) / 60
    wait = b.wait_before_flip(30, tracking=True)
    b.rows[wait]["latest_start_utc"] = b.rows[wait]["start_utc"]
    b.rows[b.flip]["latest_start_utc"] = b.rows[b.flip]["start_utc"]


def reaches_past_contact(b: Broken) -> None:
    late_reaching(b, 15)


def between_the_sides(b: Broken) -> None:
    """Sides that do not meet, and a mount that rightly stands for 30 s between them."""
    at = float(b.clean.star("Crossing").hour_angle_s[b.clean.start[b.flip]])
    flip_from_min = ((at + 29) / SIDEREAL - 10) / 60
    b.request["mount"] |= {"flip_from_min": flip_from_min, "contact_min": 10 + (at + 5 + 10) / 60}
    wait = b.wait_before_flip(30, tracking=False)
    changed = Facts(b.shots, b.clean.sky)
    b.rows[wait]["latest_start_utc"] = b.at(must_leave(changed, changes(changed)[0]))


def late_wait(b: Broken) -> None:
    between_the_sides(b)
    row = b.rows[b.kind("wait")]
    row["latest_start_utc"] = moved(row["latest_start_utc"], 3)


def waits_without_end(b: Broken) -> None:
    between_the_sides(b)
    b.rows[b.kind("wait")]["latest_start_utc"] = None


CASES: list[tuple[Callable[[Broken], None], str]] = [
    (number, "numbering"),
    (gap, "contiguity"),
    (no_park, "park"),
    (no_focus_after_slew, "focus_new_target"),
    (no_focus_after_flip, "focus_after_flip"),
    (no_focus_after_filter, "focus_filter"),
    (old_focus, "focus_every"),
    (no_dither, "dither"),
    (one_dither_more, "dither"),
    (no_filter_between_runs, "run_change"),
    (no_filter_after_slew, "arrival"),
    (other_filter, "light_path"),
    (no_settle, "arrival"),
    (no_rotate, "arrival"),
    (second_run, "one_run"),
    (no_goal, "goal"),
    (one_frame_more, "frames"),
    (short_visit, "least_visit"),
    (third_visit, "visits"),
    (wrong_place, "columns"),
    (untracked, "tracking"),
    (only_before, "sides"),
    (never, "flip"),
    (straight_back, "straight_back"),
    (short_centre, "step_length"),
    (short_download, "step_length"),
    (short_overhead, "step_length"),
    (short_dither, "step_length"),
    (slow_axes, "motion_length"),
    (more_slew, "motion_length"),
    (past_contact, "zone"),
    (contact_nearer, "zone"),
    (flip_too_soon, "zone"),
    (swapped_side, "zone"),
    (open_in_flip, "shutter_in_motion"),
    (quiet, "quiet"),
    (put_off, "flip_put_off"),
    (standing, "standing_wait"),
    (tracks_before_slew, "wait"),
    (under_floor, "floor"),
    (under_skyline, "skyline"),
    (acquired_too_low, "acquisition"),
    (above_ceiling, "ceiling"),
    (too_bright, "darkness"),
    (by_day, "sun_down"),
    (near_moon, "moon_gap"),
    (moonlit, "moonlight"),
    (blocked, "blocked"),
    (not_clear, "clear"),
    (misplaced, "places"),
    (late_flip, "latest_flip"),
    (late_flip_of_the_mount, "latest_flip"),
    (late_exposure, "latest_start"),
    (early_exposure, "latest_early"),
    (before_itself, "latest_start"),
    (no_latest, "latest_missing"),
    (late_park, "latest_wait"),
    (late_wait, "latest_wait"),
    (waits_without_end, "latest_missing"),
    (reaches_past_contact, "zone"),
]
