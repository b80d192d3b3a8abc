"""A sub finds its goal by names, then by place, by filter, exposure and settings, or is told why not."""

from __future__ import annotations

from typing import Any

import pytest

from optimizer.tally.counts import count_frames
from optimizer.tally.frames import Frame
from tests.support.tally_cases import FOLDER, GOALS, frame, request_of

CRADLE = {"name": "Cradle", "ra_deg": 52.297, "dec_deg": 31.31}


def told(found: Frame, *targets: dict[str, Any], **keys: Any) -> str:
    """What a frame counts for: target, filter and exposure of the row; or why it counts for nothing."""
    counting = count_frames(request_of(*targets, **keys), [found], FOLDER, "images", seen={})
    if counting.subs:
        row = counting.subs[0].row
        settings = "".join(
            f" {key}{value}" for key, value in (("g", row.gain), ("o", row.offset)) if value >= 0
        )
        binned = f" b{row.binning}" if row.binning != 1 else ""
        return f"{row.target} {row.filter} {row.exposure_s:g}{settings}{binned}"
    return counting.unmatched[0][1]


@pytest.mark.parametrize(
    "name", ["Cradle Nebula", "cradle  nebula", "CRADLENEBULA", "ngc1333", " NGC 1333 ", "ＮＧＣ 1333"]
)
def test_names_and_aliases_match_whatever_their_case_and_blanks(name: str) -> None:
    assert told(frame(object=name)) == "Cradle Nebula L 120"


def test_a_name_that_is_known_wins_over_the_place() -> None:
    assert told(frame(object="Andromeda", ra_deg=52.297, dec_deg=31.31)) == "Andromeda L 120"


def test_the_place_decides_where_the_name_says_nothing() -> None:
    assert told(frame(object="P1", ra_deg=52.297, dec_deg=31.81)) == "Cradle Nebula L 120"
    assert told(frame(object=None, ra_deg=52.297 + 0.58, dec_deg=31.31)) == "Cradle Nebula L 120"


def test_radius_is_kept_at_its_edge() -> None:
    """One arcsecond on either side."""
    request = {"tally_radius_deg": 0.25}
    assert told(frame(object="P1", ra_deg=52.297, dec_deg=31.31 + 0.2497), **request) == "Cradle Nebula L 120"
    assert told(frame(object="P1", ra_deg=52.297, dec_deg=31.31 + 0.2503), **request) == (
        'OBJECT = "P1" is no name or alias of a target, and no target lies within 0.25 degrees of its place '
        "(03h29m11s +31d33m37s)"
    )


def test_radius_is_kept_across_the_zero_of_right_ascension_and_at_the_pole() -> None:
    edge = {"name": "Edge", "ra_deg": 0.1, "dec_deg": 0.0, "goals": GOALS}
    pole = {"name": "Pole", "ra_deg": 10.0, "dec_deg": 89.9, "goals": GOALS}
    assert told(frame(object="?", ra_deg=359.8, dec_deg=0.0), edge, pole) == "Edge L 120"
    assert told(frame(object="?", ra_deg=190.0, dec_deg=89.9), edge, pole) == "Pole L 120"


def test_place_of_date_is_told_from_one_of_2000() -> None:
    """Precession moves the place by more than the radius: 0.38 degrees."""
    of_date: dict[str, Any] = {"object": "P1", "ra_deg": 52.297, "dec_deg": 31.31, "equinox": 2026.9}
    assert told(frame(**of_date), tally_radius_deg=0.3).startswith('OBJECT = "P1" is no name')
    assert told(frame(**{**of_date, "equinox": 2000.0}), tally_radius_deg=0.3) == "Cradle Nebula L 120"


def test_two_targets_at_hand_are_none() -> None:
    twin = {**CRADLE, "name": "Cradle east", "ra_deg": 52.6, "goals": GOALS}
    assert told(frame(object=None, ra_deg=52.4, dec_deg=31.31), {**CRADLE, "goals": GOALS}, twin) == (
        'the header names no object, and "Cradle" and "Cradle east" lie within 0.5 degrees of its place '
        "(03h29m36s +31d18m36s)"
    )


def test_names_that_differ_in_case_alone_are_told_apart_or_not_at_all() -> None:
    rows = [{**CRADLE, "name": name, "goals": GOALS} for name in ("Sh2-1", "SH2-1")]
    assert told(frame(object="SH2-1"), *rows) == "SH2-1 L 120"
    assert told(frame(object="sh2-1"), *rows) == 'OBJECT = "sh2-1" may mean "Sh2-1" and "SH2-1"'


def test_without_name_and_place_it_says_so() -> None:
    assert told(frame(object=None)) == "the header names no object, and the header tells no place"


@pytest.mark.parametrize(
    ("name", "told_as"),
    [
        ("lum", "Cradle Nebula L 120"),
        ("l", "Cradle Nebula L 120"),
        ("Clear", 'FILTER = "Clear" is no name or alias of a filter'),
        (None, "the header names no filter"),
    ],
)
def test_filters_match_by_name_and_alias(name: str | None, told_as: str) -> None:
    assert told(frame(filter=name)) == told_as


def test_without_a_filter_the_only_one_is_meant() -> None:
    """A camera without a wheel writes no such keyword."""
    row = {**CRADLE, "name": "Cradle Nebula", "goals": GOALS[:1]}
    assert told(frame(filter=None), row, filters=[{"name": "L"}]) == "Cradle Nebula L 120"


def test_a_filter_of_which_the_target_wants_nothing_is_told() -> None:
    assert (
        told(frame(object="Andromeda", filter="Ha")) == 'target "Andromeda" has no goal through filter "Ha"'
    )


@pytest.mark.parametrize(
    ("exposure_s", "told_as"),
    [
        (118.8, "Cradle Nebula L 120"),
        (121.2, "Cradle Nebula L 120"),
        (303.0, "Cradle Nebula L 300"),
        (121.3, 'EXPTIME = 121.3 s, and the goals of target "Cradle Nebula" ask for 120 or 300 s'),
        (None, "the header tells no time of exposure"),
    ],
)
def test_exposures_match_within_one_per_cent(exposure_s: float | None, told_as: str) -> None:
    assert told(frame(exposure_s=exposure_s)) == told_as


def test_short_exposures_match_within_half_a_second_and_the_nearest_wins() -> None:
    goals = [{"filter": "L", "exposure_s": seconds, "frames": 9} for seconds in (1, 1.6)]
    row = {**CRADLE, "goals": goals}
    assert told(frame(object="Cradle", exposure_s=0.5), row) == "Cradle L 1"
    assert told(frame(object="Cradle", exposure_s=1.29), row) == "Cradle L 1"
    assert told(frame(object="Cradle", exposure_s=1.31), row) == "Cradle L 1.6"
    assert "ask for 1 or 1.6 s" in told(frame(object="Cradle", exposure_s=0.49), row)


def test_a_goal_in_hours_counts_every_exposure() -> None:
    assert told(frame(filter="Ha", exposure_s=61.5)) == "Cradle Nebula Ha 61.5"


@pytest.mark.parametrize(("key", "letter"), [("gain", "g"), ("offset", "o"), ("binning", "b")])
def test_settings_decide_where_goals_differ_in_them(key: str, letter: str) -> None:
    row = {**CRADLE, "goals": [{**GOALS[0], key: value} for value in (2, 4)]}

    def with_setting(value: int | None) -> str:
        keys: dict[str, Any] = {"object": "Cradle", key: value}
        return told(frame(**keys), row)

    assert with_setting(2).endswith(f" {letter}2")
    assert with_setting(4).endswith(f" {letter}4")
    assert with_setting(3).endswith('= 3, and the goals of target "Cradle" ask for 2 or 4')
    assert with_setting(None) == f'the header tells no {key}, in which goals of target "Cradle" differ'


def test_settings_make_no_difference_where_goals_do_not_differ_in_them() -> None:
    row = {**CRADLE, "goals": [{**GOALS[0], "gain": 100}]}
    assert told(frame(object="Cradle", gain=0.0), row) == "Cradle L 120 g100"


def test_a_goal_that_leaves_the_gain_to_the_camera_takes_what_no_other_asks_for() -> None:
    row = {**CRADLE, "goals": [{**GOALS[0], "gain": 100}, GOALS[0]]}
    assert told(frame(object="Cradle", gain=100.0), row) == "Cradle L 120 g100"
    assert told(frame(object="Cradle", gain=0.0), row) == "Cradle L 120"


@pytest.mark.parametrize(
    ("keys", "told_as"),
    [
        ({"kind": "other"}, "IMAGETYP says that it is no light frame"),
        (
            {"taken": "1970-01-01T00:10:00"},
            "DATE-OBS = 1970-01-01T00:10:00 lies outside the years 1973 to 2100",
        ),
        ({"filter": "Ha", "exposure_s": 0.0}, "EXPTIME = 0 s is that of no sub"),
        ({"exposure_s": float("nan")}, "EXPTIME = nan s is that of no sub"),
        ({"filter": "Ha", "exposure_s": 86401.0}, "EXPTIME = 86401 s is that of no sub"),
        ({"taken": None}, "the header does not tell date and time of the exposure (no date)"),
    ],
)
def test_what_is_no_dated_light_frame_is_not_counted(keys: dict[str, Any], told_as: str) -> None:
    assert told(frame(**keys)) == told_as


def test_a_frame_of_no_kind_counts_as_a_light_frame() -> None:
    assert told(frame(kind="unknown")) == "Cradle Nebula L 120"


def test_keywords_that_decided_are_told() -> None:
    counting = count_frames(
        request_of(), [frame(object="?", ra_deg=52.3, dec_deg=31.3)], FOLDER, "images", seen={}
    )
    assert counting.subs[0].by == ("RA", "FILTER", "EXPTIME", "DATE-OBS")
