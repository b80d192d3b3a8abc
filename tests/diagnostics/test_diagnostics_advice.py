"""What is legal but worth a second look: the exact words, and when they are not said."""

from __future__ import annotations

import datetime as dt
import math
import textwrap
from pathlib import Path

import pytest
from astropy.coordinates import angular_separation
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.diagnostics.object_places import separation_deg
from optimizer.models.site import Night, Site, night_span
from optimizer.mount.zones import first_side_until_s
from optimizer.reading.load import load_request
from optimizer.sky.clock import night_clock

REQUEST = """\
schema = "darkfill-request/1"
[night]
evening = 2026-11-14
clear = []
blocked = []
[site]
latitude_deg = 38.92
longitude_deg = -3.11
time_zone = "Europe/Madrid"
floor_deg = 25
[mount]
contact_min = 40
clearance_min = 12
clock_error_s = 20
[[filters]]
name = "L"
[[targets]]
name = "T"
ra_deg = 52
dec_deg = 31
least_min = 20
[[targets.goals]]
filter = "L"
exposure_s = 120
frames = 90
done = 0
"""


def warned(folder: Path, *swaps: tuple[str, str]) -> list[str]:
    text = REQUEST
    for old, new in swaps:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / "request.toml"
    path.write_text(text)
    return [line.removeprefix(f"{folder}/") for line in load_request(path).warnings]


def told(text: str) -> str:
    return " ".join(textwrap.dedent(text).split())


def test_a_good_request_has_no_warnings(tmp_path: Path) -> None:
    assert warned(tmp_path) == []


def test_contact_not_measured(tmp_path: Path) -> None:
    assert warned(tmp_path, ("contact_min = 40\n", "")) == [
        told("""
            request.toml:11: mount.contact_min: not given, so nothing tracks past the meridian
            on pier side west (telescope west of the pier, looking east); measure by hand how many minutes past the meridian the
            equipment touches, and write it down
        """)
    ]
    assert warned(tmp_path, ("contact_min = 40\n", 'kind = "fork"\n')) == []


@pytest.mark.parametrize(
    "clearance", ["", "clearance_min = 0\n", "clearance_min = 3\n", "clearance_min = 30\n"]
)
def test_without_a_measured_contact_nothing_tracks_past_the_meridian(tmp_path: Path, clearance: str) -> None:
    """A small clearance must not be taken off a contact that nobody has measured."""
    path = tmp_path / "request.toml"
    path.write_text(REQUEST.replace("contact_min = 40\nclearance_min = 12\n", clearance))
    mount = load_request(path).request.mount
    assert mount.contact_min is None
    assert -20.1 < first_side_until_s(mount) <= -20  # 20 s of clock error


def test_longest_exposure_at_the_flip(tmp_path: Path) -> None:
    """Due 5 min past, tracking ends 40 - 12 - 1/3 = 27.67 min past: 1360 s fit, 1361 s do not."""
    assert warned(tmp_path, ("exposure_s = 120", "exposure_s = 1360")) == []
    assert warned(tmp_path, ("exposure_s = 120", "exposure_s = 1420")) == [
        told("""
            request.toml:24: targets[0].goals[0].exposure_s = 1420 [seconds] (1st goal of target
            "T"): begun just before the flip is due (5 min past the meridian), this longest
            exposure would end 1.0 min after tracking must have ended (27.67 min past the
            meridian); the plan places it elsewhere, at the cost of some waiting; shorter
            exposures lose less
        """)
    ]
    assert len(warned(tmp_path, ("exposure_s = 120", "exposure_s = 1361"))) == 1


CAMERA = "[camera]\ndownload_s = 3\noverhead_s = 7.5\n[[filters]]"


def test_download_and_overhead_that_may_run_into_contact(tmp_path: Path) -> None:
    """Without slack only the shutter closes before tracking must have ended: 0.17 min of clearance are 10.2 s."""
    swaps = (("clearance_min = 12", "clearance_min = 0.17"), ("[[filters]]", f"[aim]\nslack_s = 0\n{CAMERA}"))
    assert warned(tmp_path, *swaps) == [
        told("""
            request.toml:19: camera.overhead_s = 7.5 [seconds]: a sub that ends as tracking must have ended
            (39.5 min past the meridian) is tracked on for download and overhead, 10.5 s, and contact may come
            10.2 s later; raise mount.clearance_min, or set aim.slack_s: with it both are over by the time
            tracking must end
        """)
    ]
    for old, new in (
        ("clearance_min = 12", "clearance_min = 0.175"),  # 10.5 s
        ("contact_min = 40\nclearance_min = 12\n", 'kind = "fork"\nclearance_min = 0.17\n'),
        (
            "contact_min = 40\nclearance_min = 12\n",
            'flip_by = "mount"\ncontact_min = 40\nclearance_min = 0.17\n',
        ),
    ):
        assert warned(tmp_path, (old, new), swaps[1]) == []
    assert warned(tmp_path, swaps[0], ("[[filters]]", f"[aim]\nslack_s = 1\n{CAMERA}")) == []


@pytest.mark.parametrize("mount", ['kind = "fork"', 'flip_by = "never"', 'flip_by = "mount"'])
def test_longest_exposure_is_not_told_where_no_flip_falls_due_to_the_plan(tmp_path: Path, mount: str) -> None:
    swaps = [("exposure_s = 120", "exposure_s = 1420"), ("contact_min = 40", f"contact_min = 40\n{mount}")]
    assert warned(tmp_path, *swaps) == []


def test_longest_exposure_counts_only_what_is_left(tmp_path: Path) -> None:
    done = '{filter = "L", exposure_s = 3000, frames = 5, done = 5}'
    left = '{filter = "L", exposure_s = 120, frames = 9}'
    goals = REQUEST[REQUEST.index("[[targets.goals]]") :]
    (line,) = warned(tmp_path, (goals, f"goals = [{done}, {left}]\n"), ("least_min = 20", "least_min = 1"))
    assert "all 5 subs" in line


def test_spans_outside_the_night(tmp_path: Path) -> None:
    inside, outside = (
        '["2026-11-14T20:30:00Z", "2026-11-15T01:00:00Z"]',
        '["2026-11-13T20:30:00Z", "2026-11-14T01:00:00Z"]',
    )
    night = "the night of 2026-11-14, which lasts from 2026-11-14T12:12Z to 2026-11-15T12:12Z"
    place = f"night.clear[1] = {outside} (2nd span): the span lies outside {night}"
    assert warned(tmp_path, ("clear = []", f"clear = [{inside}, {outside}]")) == [
        f"request.toml:4: {place}; it changes nothing; check its dates"
    ]
    (only,) = warned(tmp_path, ("clear = []", f"clear = [{outside}]"))
    assert only.endswith("; nothing can be scheduled; check its dates")
    (blocked,) = warned(tmp_path, ("blocked = []", f"blocked = [{outside}]"))
    assert blocked.startswith("request.toml:5: night.blocked[0] = ")
    assert blocked.endswith("; it changes nothing; check its dates")


def test_spans_that_touch_the_edge_of_the_night(tmp_path: Path) -> None:
    """Noon at 3.11 degrees west is 12:12:26 UTC; a span of one second inside is not outside."""
    edge = 'clear = [["2026-11-14T08:00:00Z", "2026-11-14T12:12:{}Z"]]'
    assert len(warned(tmp_path, ("clear = []", edge.format(26)))) == 1
    assert warned(tmp_path, ("clear = []", edge.format(27))) == []


@settings(max_examples=200, deadline=None)
@given(
    longitude=st.floats(-180, 180),
    zone=st.sampled_from(
        ["UTC", "Europe/Madrid", "Pacific/Kiritimati", "Pacific/Pago_Pago", "Asia/Kathmandu"]
    ),
    evening=st.dates(dt.date(1973, 1, 2), dt.date(2100, 12, 30)),
)
def test_night_is_the_one_that_the_planner_uses(longitude: float, zone: str, evening: dt.date) -> None:
    night, site = (
        Night(evening=evening),
        Site(latitude_deg=0.0, longitude_deg=longitude, floor_deg=0.0, time_zone=zone),
    )
    start, end = night_span(night, longitude, zone)
    assert start == night_clock(night, site).origin
    assert end - start == dt.timedelta(days=1)


def test_a_target_that_never_rises_high_enough(tmp_path: Path) -> None:
    assert warned(tmp_path, ("dec_deg = 31", "dec_deg = -60")) == [
        told("""
            request.toml:17: targets[0] (target "T"): from latitude 38.92 it never rises above
            -8.8 degrees, and its floor is 25; it will not be scheduled; lower floor_deg or check
            dec
        """)
    ]
    (own,) = warned(tmp_path, ("dec_deg = 31", "dec_deg = 31\nfloor_deg = 85"))
    assert "its floor is 85" in own


@pytest.mark.parametrize(("dec", "count"), [("-26.1", 0), ("-26.3", 1)])
def test_the_highest_altitude_counts_precession(tmp_path: Path, dec: str, count: int) -> None:
    """90 - 38.92 - 25 = 26.08 degrees south of date; since 2000 this target moved 0.09 degrees north."""
    assert len(warned(tmp_path, ("dec_deg = 31", f"dec_deg = {dec}"))) == count


def with_object(folder: Path, name: str, ra: str, dec: str) -> list[str]:
    place = f'object = "{name}"\n{ra}\n{dec}'
    return warned(folder, ("ra_deg = 52\ndec_deg = 31", place))


def test_coordinates_far_from_what_the_object_is(tmp_path: Path) -> None:
    """M 33 lies at 23.46, +30.66; ten degrees of declination away is no other framing."""
    assert with_object(tmp_path, "M 33", "ra_deg = 23.5", "dec_deg = 40.66") == [
        told("""
            request.toml:20: targets[0].ra_deg = 23.5 [degrees] (target "T"): the place given is
            01h34m00s +40d39m36s, 10.0 degrees from that of its object (M 33 is NGC 598: 01h33m51s
            +30d39m37s); check the coordinates and the name; leave them so if that is the place you
            mean
        """)
    ]


def test_right_ascension_that_looks_like_hours(tmp_path: Path) -> None:
    assert with_object(tmp_path, "IC 5070", "ra_deg = 20.85", "dec_deg = 44.4") == [
        told("""
            request.toml:20: targets[0].ra_deg = 20.85 [degrees] (target "T"): these degrees look like
            hours: the place given is 01h23m24s +44d24m00s, 47.2 degrees from that of its object (IC 5070:
            20h51m01s +44d24m05s); write ra_deg = 312.753 or ra = "20h51m01s"
        """)
    ]


@pytest.mark.parametrize(
    ("ra", "hours"),
    [
        ("ra_deg = 20.5101", True),  # 20h51m01s with a point
        ("ra_deg = 20.51", True),
        ('ra = "20d51m01s"', True),
        ("ra_deg = 21.2", False),  # neither way the hour of the catalogue
    ],
)
def test_hours_may_be_written_in_several_ways(tmp_path: Path, ra: str, hours: bool) -> None:
    (line,) = with_object(tmp_path, "IC 5070", ra, "dec_deg = 44.4")
    assert ("look like hours" in line) == hours


@pytest.mark.parametrize(
    ("name", "ra", "dec"),
    [
        ("IC 5070", "ra_deg = 312.75", "dec_deg = 44.4"),
        ("IC 5070", "ra_deg = 312.75", "dec_deg = 43.41"),  # 0.99 degrees: another part of the nebula
        ("IC 5070", 'ra = "20h51m"', 'dec = "44d24m"'),
        ("my comet", "ra_deg = 20.85", "dec_deg = 44.4"),  # in no catalogue, so nothing is known of it
        ("NGC 40", "ra_deg = 3.25", "dec_deg = 72.52"),  # 00h13m01s
    ],
)
def test_coordinates_that_agree_with_the_object_are_not_told(
    tmp_path: Path, name: str, ra: str, dec: str
) -> None:
    assert with_object(tmp_path, name, ra, dec) == []


@pytest.mark.parametrize(("dec", "count"), [("43.402", 0), ("43.4", 1)])
def test_a_degree_is_the_edge(tmp_path: Path, dec: str, count: int) -> None:
    """IC 5070 is at +44.4014."""
    assert len(with_object(tmp_path, "IC 5070", "ra_deg = 312.754", f"dec_deg = {dec}")) == count


@pytest.mark.parametrize(("dec", "count"), [("-24.871", 0), ("-24.870", 1)])
def test_a_place_within_a_large_object_is_not_told(tmp_path: Path, dec: str, count: int) -> None:
    """Sh2-1 is 150' across, and its middle at -26.1205."""
    assert len(with_object(tmp_path, "Sh2-1", "ra_deg = 239.7134", f"dec_deg = {dec}")) == count


@settings(max_examples=200, deadline=None)
@given(places=st.tuples(st.floats(0, 359.999), st.floats(-90, 90), st.floats(0, 359.999), st.floats(-90, 90)))
def test_distance_agrees_with_astropy(places: tuple[float, float, float, float]) -> None:
    expected = angular_separation(*(math.radians(value) for value in places))
    assert separation_deg(*places) == pytest.approx(math.degrees(expected), abs=1e-5)


def test_goals_that_are_done(tmp_path: Path) -> None:
    assert warned(tmp_path, ("done = 0", "done = 95")) == [
        told("""
            request.toml:26: targets[0].goals[0].done = 95 (1st goal of target "T"): all 90 subs
            of this goal are in hand; it gets no time; raise frames to take more
        """)
    ]


def test_visits_that_can_never_be_filled(tmp_path: Path) -> None:
    """Ten frames of 120 s are 20 min, as long as the shortest visit; nine are not."""
    assert warned(tmp_path, ("done = 0", "done = 80")) == []
    assert warned(tmp_path, ("done = 0", "done = 81")) == [
        told("""
            request.toml:21: targets[0].least_min = 20 [minutes] (target "T"): its goals have only
            18.0 min of open shutter left and can never fill a visit; it will not be scheduled; lower
            least_min or ask for more frames
        """)
    ]


@pytest.mark.parametrize(("ceiling", "count"), [("25", 1), ("25.5", 0)])
def test_a_floor_that_is_no_lower_than_the_ceiling(tmp_path: Path, ceiling: str, count: int) -> None:
    lines = warned(tmp_path, ("floor_deg = 25", f"floor_deg = 25\nceiling_deg = {ceiling}"))
    assert lines == count * [
        told("""
            request.toml:18: targets[0] (target "T"): its floor of 25 degrees is no lower than
            site.ceiling_deg, 25; it will not be scheduled; lower floor_deg or raise ceiling_deg
        """)
    ]


SET = """\
exposure_s = 120
frames = 90
done = 0
[[targets.goals]]
filter = "L"
exposure_s = 60
frames = 90
"""
WHOLE = "exposure_s = 120\nframes = 90\ndone = 0\n"


@pytest.mark.parametrize(
    ("first", "second", "left"), [("false", "false", "no goal"), ("false", "true", "one goal")]
)
def test_filter_set_taken_apart(tmp_path: Path, first: str, second: str, left: str) -> None:
    goals = f"in_set = {first}\n{SET}in_set = {second}\n"
    assert warned(tmp_path, (WHOLE, f"{goals}[aim]\nbalance = 0.3\n")) == [
        told(f"""
            request.toml:24: targets[0].goals[0].in_set = false (1st goal of target "T"): that leaves {left} in
            the filter set of this target, and a set needs two: its goals count by their sums alone; leave
            in_set out of the goals that belong together
        """)
    ]
    assert warned(tmp_path, (WHOLE, f"{goals}[aim]\nbalance = 0\n")) == []


def test_goal_beside_a_set_and_a_target_of_one_goal_are_not_told(tmp_path: Path) -> None:
    third = '[[targets.goals]]\nfilter = "L"\nexposure_s = 30\nframes = 90\nin_set = false\n'
    assert warned(tmp_path, (WHOLE, f"{SET}{third}[aim]\nbalance = 0.3\n")) == []
    assert warned(tmp_path, (WHOLE, f"in_set = false\n{WHOLE}[aim]\nbalance = 0.3\n")) == []


def test_scarcity_without_nights_ahead(tmp_path: Path) -> None:
    aim = "{0}[aim]\nscarcity = {1}\nlook_ahead_nights = {2}\n".format
    assert warned(tmp_path, (WHOLE, aim(WHOLE, 0.5, 1))) == [
        told("""
            request.toml:29: aim.look_ahead_nights = 1: scarcity then goes by tonight's hours alone and knows
            nothing of the nights to come; give 28 for a whole month of the Moon, or scarcity = 0
        """)
    ]
    assert warned(tmp_path, (WHOLE, aim(WHOLE, 0, 1))) == []
    assert warned(tmp_path, (WHOLE, aim(WHOLE, 0.5, 2))) == []


# --- goals beside those of a set ---------------------------------------------------------------------------

SHARED = (
    "least_min = 20",
    'set = "shared"\n[sets.shared]\nframes = 9\ngoals = [{ filter = "L", exposure_s = 60 }]',
)


def test_goal_beside_the_same_filter_of_its_set_is_told_to_count_as_well(tmp_path: Path) -> None:
    assert warned(tmp_path, SHARED) == [
        'request.toml:25: targets[0].goals[0] (1st goal of target "T"): sets.shared.goals[0] on line 24, which '
        "this target takes too, is for the same filter: both count; leave one of the two out, unless you want "
        "the subs of both"
    ]


def test_stars_beside_a_set_and_other_filters_are_not_told(tmp_path: Path) -> None:
    assert [line for line in warned(tmp_path, SHARED, ("done = 0", "in_set = false")) if "both" in line] == []
    other = ('name = "L"\n', 'name = "L"\n[[filters]]\nname = "R"\n')
    assert warned(tmp_path, other, (SHARED[0], SHARED[1].replace('"L"', '"R"'))) == []


# --- the season ------------------------------------------------------------------------------------------


def warned_of_season(folder: Path, lines: str) -> list[str]:
    return warned(folder, ("done = 0\n", f"done = 0\n[season]\n{lines}\n"))


def test_a_usual_season_is_not_warned_of(tmp_path: Path) -> None:
    assert warned_of_season(tmp_path, "nights = 366") == []
    assert warned_of_season(tmp_path, "nights = 1\nclear_odds_by_evening = [[2026-11-14, 0.4]]") == []
    assert warned_of_season(tmp_path, "clear_odds = 0\nclear_odds_by_evening = [[2027-02-11, 0.4]]") == []


def test_a_season_longer_than_a_year(tmp_path: Path) -> None:
    assert warned_of_season(tmp_path, "nights = 367") == [
        "request.toml:28: season.nights = 367: the season is longer than a year; give fewer nights: each of them "
        "is planned, and nothing is known of the weather in a year"
    ]


def test_odds_of_evenings_that_the_season_has_not(tmp_path: Path) -> None:
    assert warned_of_season(tmp_path, "clear_odds_by_evening = [[2027-02-12, 0.4]]") == [
        "request.toml:28: season.clear_odds_by_evening = [[2027-02-12, 0.4]]: none of these evenings is in the "
        "season, from 2026-11-14 to 2027-02-11; they change nothing; check their dates"
    ]


def test_a_season_without_any_odds_of_clear_sky(tmp_path: Path) -> None:
    assert warned_of_season(tmp_path, "first = 2026-11-20\nnights = 2\nclear_odds = 0.0") == [
        "request.toml:30: season.clear_odds = 0.0: no night of the season, from 2026-11-20 to 2026-11-21, has any "
        "odds of clear sky; nothing is planned for it; give shares above 0"
    ]
    monthly = "clear_odds = [0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0, 0.5]"
    assert len(warned_of_season(tmp_path, f"nights = 10\n{monthly}")) == 1  # all of them in November
    assert warned_of_season(tmp_path, f"nights = 18\n{monthly}") == []  # the last one in December
