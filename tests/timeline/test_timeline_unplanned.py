"""Why a goal is left out: every reason by a night made for it, its number checked, its advice followed.

Whoever does what the sentence says must find the door open; a number must be true to its last digit.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, get_args

import pytest

from optimizer.models.request import Request
from optimizer.models.shots import UnplannedReason
from optimizer.packing.solve import solve
from optimizer.problem import build_problem
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows
from optimizer.timeline.held_back import held_back
from optimizer.timeline.unplanned import REASON_OF
from tests.support.timeline_nights import a_request, goal, instant
from tests.support.told_nights import cradle, told


def gets_frames(request: Request) -> bool:
    return bool(solve(build_problem(request, sky_windows(request, night_sky(request)))).plan)


def summer(latitude_deg: float, darkness: Any, **keys: Any) -> Request:
    """The shortest night of a northern summer."""
    return a_request(
        cradle(**keys),
        site={"latitude_deg": latitude_deg, "longitude_deg": 12.9},
        night={"evening": "2026-06-20"},
        filters=[{"name": "L", "darkness": darkness}],
        mount={"kind": "fork"},
    )


def moonlit(ra_deg: float = 0.0, **rules: Any) -> Request:
    """The night before the full Moon of 24 November 2026."""
    return a_request(
        cradle(ra_deg=ra_deg, dec_deg=10.0),
        night={"evening": "2026-11-23"},
        filters=[{"name": "L", **rules}],
        mount={"kind": "fork"},
    )


def around_transit(**mount: Any) -> Request:
    """Clear only from 4 min before to 7 min after the transit at 00:06 UTC."""
    return a_request(cradle(), clear=("00:02", "00:13"), mount=mount)


def red_never_dark(balance: float, *, red: int = 20, **light: Any) -> Request:
    """L is well ahead of R, for which no sky is dark enough; clear for an hour, with one target alone."""
    return a_request(
        cradle(goal(frames=20, done=16, **light), goal("R", frames=red)),
        clear=("22:00", "23:00"),
        filters=[{"name": "L"}, {"name": "R", "darkness": -80.0}],
        mount={"kind": "fork"},
        aim={"balance": balance},
    )


TIGHT = {"contact_min": 10.0, "clearance_min": 15.0, "flip_from_min": 8.0}
REASONS: dict[UnplannedReason, Callable[[], Request]] = {
    "never_dark": lambda: summer(55.0, "astronomical"),
    "too_low": lambda: a_request(cradle(dec_deg=-40.0)),
    "too_high": lambda: a_request(cradle(dec_deg=89.0), site={"ceiling_deg": 35.0}),
    "moon_too_near": lambda: moonlit(moon_gap_deg=60.0),
    "moonlight": lambda: moonlit(moonlight_mag=0.2),
    "blocked": lambda: a_request(cradle(), clear=("13:00", "14:00")),
    "wrong_side": lambda: a_request(cradle(ra_deg=300.0, dec_deg=40.0, sides="before")),
    "forbidden_zone": lambda: around_transit(**TIGHT),
    "clear_odds": lambda: a_request(cradle(), night={"clear_odds": [[instant("22:00"), 0.0]]}),
    "window_too_short": lambda: a_request(cradle(), clear=("22:00", "22:04"), mount={"kind": "fork"}),
    "least_visit": lambda: a_request(cradle(least_min=60.0), clear=("22:00", "22:30")),
    "set_held_back": lambda: red_never_dark(1.0),
    "night_full": lambda: a_request(
        cradle(goal(frames=4)),
        cradle(goal(frames=9), name="Other", weight=0.5),
        clear=("21:00", "21:40"),
    ),
}


@pytest.mark.parametrize("reason", get_args(UnplannedReason))
def test_every_reason_of_the_list_is_reached(reason: UnplannedReason) -> None:
    found = told(REASONS[reason]())
    others = {"never_dark"} if reason == "set_held_back" else set()  # what holds it back is short as well
    assert {entry.reason for entry in found.entries} == {reason} | others
    for entry in found.entries:
        assert not entry.sentence.endswith(".")  # whoever shows it ends it
        assert "  " not in entry.sentence


def test_list_of_reasons_is_closed() -> None:
    assert set(REASONS) == set(get_args(UnplannedReason))


# --- never dark ----------------------------------------------------------------------------------------


def test_sun_is_as_low_as_told() -> None:
    """On the solstice the Sun stands 90 - 55 - 23.44 = 11.56 degrees below the horizon at midnight."""
    found = told(summer(55.0, "astronomical"))
    assert found.number(r"sinks to −([0-9.]+)°") == 11.6
    assert found.number(r"asks for −([0-9.]+)°") == 18.0
    easier = found.number(r"darkness = (-[0-9]+) ")
    assert easier == -11
    assert told(summer(55.0, easier, dec_deg=50.0)).windows["Cradle"].shutter_causes["L"]["darkness"]


@pytest.mark.parametrize(
    ("latitude_deg", "darkness", "lowest"),
    [(66.0, 0.0, "-0.6"), (78.0, 0.0, None), (78.0, "civil", None), (66.3, -1.0, None), (65.0, -3.0, "-1.6")],
)
def test_advice_for_bright_nights_is_possible(latitude_deg: float, darkness: Any, lowest: str | None) -> None:
    """Where the Sun does not set by -50 arcmin no darkness opens anything: none may be advised."""
    found = told(summer(latitude_deg, darkness))
    assert found.only.reason == "never_dark"
    advised = re.search(r"darkness = (-?[0-9.]+)", found.only.sentence)
    if lowest is None or float(lowest) > -50 / 60:
        assert advised is None
        assert "another season would open it" in found.only.sentence
    else:
        assert f"sinks to {lowest}°".replace("-", "−") in found.only.sentence
        assert advised
        assert told(summer(latitude_deg, float(advised[1]))).windows["Cradle"].shutter_causes["L"]["darkness"]


# --- too low -------------------------------------------------------------------------------------------


def test_target_is_as_high_as_told() -> None:
    """It culminates at 90 - 38.92 - 40 = 11.1 degrees, 5 arcmin more by precession, at midnight."""
    found = told(a_request(cradle(dec_deg=-40.0)))
    highest = found.number(r"reaches ([0-9.]+)°")
    assert highest == pytest.approx(11.1, abs=0.2)
    assert found.number(r"its floor is ([0-9.]+)°") == 25.0
    for floor_deg, opens in ((highest - 0.5, True), (highest + 0.1, False)):
        low = cradle(goal(exposure_s=60.0), dec_deg=-40.0, floor_deg=floor_deg)
        assert gets_frames(a_request(low, mount={"kind": "fork"})) == opens


def test_height_is_taken_in_the_dark_alone() -> None:
    """A summer star in November: high at dusk of civil twilight, low when it is dark."""
    found = told(a_request(cradle(ra_deg=230.0, dec_deg=20.0)))
    assert found.only.reason == "too_low"
    assert found.number(r"reaches (-?[0-9.]+)°") < 25.0


def test_skyline_is_named_and_no_lower_floor_advised() -> None:
    found = told(a_request(cradle(), site={"skyline": [[0, 89], [359, 89]]}))
    assert found.only.reason == "too_low"
    assert "local horizon" in found.only.sentence
    assert "floor would" not in found.only.sentence


def test_dark_of_less_than_a_minute_is_explained() -> None:
    """36 s of dark between two whole minutes of the night once ended in a crash."""
    found = told(summer(55.0, -11.564858817755229, dec_deg=-40.0))
    assert found.only.reason == "too_low"
    assert found.number(r"reaches −([0-9.]+)°") > 0


def test_ceiling_is_named_and_gives_way() -> None:
    """A star near the pole stands between 37.9 and 39.9 degrees, all night long."""
    low, high = ({"ceiling_deg": ceiling_deg} for ceiling_deg in (37.5, 40.5))
    found = told(a_request(cradle(dec_deg=89.0), site=low))
    assert found.only.reason == "too_high"
    assert found.number(r"ceiling of ([0-9.]+)°") == 37.5
    assert gets_frames(a_request(cradle(dec_deg=89.0), site=high))


# --- the Moon ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ra_deg", [0.0, 30.0, 60.0])
def test_moon_is_as_far_as_told(ra_deg: float) -> None:
    """Below the limit always, and a limit just under it would open something."""
    found = told(moonlit(ra_deg, moon_gap_deg=60.0))
    widest = found.number(r"within ([0-9.]+)° all the while")
    assert widest <= found.number(r"a gap of ([0-9.]+)° is asked for") == 60.0
    assert "filter" not in found.only.sentence  # so that filters with the same gap share a row
    assert told(moonlit(ra_deg, moon_gap_deg=widest - 0.1)).windows["Cradle"].shutter["L"]
    assert not told(moonlit(ra_deg, moon_gap_deg=widest + 0.1)).windows["Cradle"].shutter["L"]


def test_no_limit_is_said_to_open_what_another_one_keeps_closed() -> None:
    """The gap alone leaves nothing, and without it moonlight leaves nothing either."""
    limits = {"moon_gap_deg": 60.0, "moonlight_mag": 0.2}
    assert not told(moonlit(moonlight_mag=0.2)).windows["Cradle"].shutter["L"]
    found = told(moonlit(**limits))
    assert found.only.reason == "moon_too_near"
    assert "would open it" not in found.only.sentence
    assert found.only.sentence.endswith("easing that alone would not help, moonlight_mag keeps it closed")
    assert "smaller moon_gap_deg would open it" in told(moonlit(moon_gap_deg=60.0)).only.sentence


@pytest.mark.parametrize(("kind", "advised"), [("broadband", True), ("narrowband", False)])
def test_no_narrower_filter_is_advised_where_the_band_is_narrow(kind: str, advised: bool) -> None:
    found = told(moonlit(moonlight_mag=0.1, kind=kind))
    assert found.only.reason == "moonlight"
    assert ("a narrower filter" in found.only.sentence) is advised
    assert "a larger moonlight_mag or a night with less Moon would open it" in found.only.sentence


def test_moonlight_names_the_limit() -> None:
    found = told(moonlit(moonlight_mag=0.2))
    assert found.number(r"by more than ([0-9.]+) mag") == 0.2
    assert gets_frames(moonlit(moonlight_mag=5.0))


# --- spans given by hand ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "night",
    [
        {"clear": [[instant("13:00"), instant("14:00")]]},
        {"blocked": [["2026-11-14T10:00:00Z", "2026-11-15T14:00:00Z"]]},
        {"clear": [["2026-12-14T20:00:00Z", "2026-12-14T22:00:00Z"]]},
    ],
)
def test_spans_given_by_hand_are_named(night: dict[str, Any]) -> None:
    found = told(a_request(cradle(), night=night))
    assert found.only.reason == "blocked"
    assert "night.clear" in found.only.sentence
    assert "night.blocked" in found.only.sentence


# --- the mount -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["german", "fork"])
def test_wrong_side_is_named_on_any_mount(kind: str) -> None:
    """Past its transit all the dark: nothing is left before it, on a fork as little as on a German mount."""
    wish = {"ra_deg": 300.0, "dec_deg": 40.0}
    found = told(a_request(cradle(**wish, sides="before"), mount={"kind": kind}))
    assert found.only.reason == "wrong_side"
    assert 'sides = "before"' in found.only.sentence
    assert gets_frames(a_request(cradle(**wish, sides="either"), mount={"kind": kind}))


def test_forbidden_zone_gives_way_to_what_is_advised() -> None:
    assert told(around_transit(**TIGHT)).only.reason == "forbidden_zone"
    assert gets_frames(around_transit(**{**TIGHT, "contact_min": 30.0}))


def test_zone_is_never_blamed_on_a_fork() -> None:
    """A window some fraction of a second longer than the exposure, yet with too few whole seconds."""
    for darkness in (-11.564858817755229, -11.5648, -11.5645):
        request = summer(55.0, darkness, dec_deg=85.0)
        (window,) = sky_windows(request, night_sky(request))["Cradle"].shutter["L"]
        exposure_s = float(int(window.seconds))
        entry = told(summer(55.0, darkness, dec_deg=85.0, goals=[goal("L", exposure_s, 3)])).only
        assert entry.reason == "window_too_short"
        assert "contact_min" not in entry.sentence


# --- windows and visits ----------------------------------------------------------------------------------


def test_longest_window_counts_not_their_sum() -> None:
    """4 min twice are no room for 5 min."""
    clear = [[instant("22:00"), instant("22:04")], [instant("23:00"), instant("23:04")]]
    found = told(a_request(cradle(), night={"clear": clear}, mount={"kind": "fork"}))
    assert found.only.reason == "window_too_short"
    assert found.number(r"lasts ([0-9.]+) min") == 4.0
    assert found.number(r"takes ([0-9.]+) s") == 300.0


def test_window_that_is_full_says_how_many_it_holds() -> None:
    found = told(a_request(cradle(goal(frames=30)), clear=("21:00", "22:00"), mount={"kind": "fork"}))
    assert found.only.reason == "window_too_short"
    # 3600 s less a slew (30 s or so), 45, 15, 8 and 150: 3352 / 303 = 11.06 -> 11 frames
    assert found.number(r"these ([0-9]+) subs") == 11
    assert found.only.frames == 19


def test_one_target_alone_never_competes() -> None:
    """A whole night for one goal: nothing else took its hours."""
    found = told(a_request(cradle(goal(frames=300))))
    assert found.only.reason == "window_too_short"


@pytest.mark.parametrize("goals", [[goal(frames=30)], [goal(frames=30), goal("L", 200.0, 30)]])
def test_least_visit_is_told_of_each_goal_of_the_target(goals: list[dict[str, Any]]) -> None:
    found = told(a_request(cradle(*goals, least_min=60.0), clear=("22:00", "22:30")))
    assert [entry.reason for entry in found.entries] == ["least_visit"] * len(goals)
    assert all("60 min" in entry.sentence for entry in found.entries)
    assert gets_frames(a_request(cradle(*goals, least_min=10.0), clear=("22:00", "22:30")))


def test_night_full_tells_what_would_fit_alone() -> None:
    """The Other gets none beside the Cradle; alone there is time for (2400 - 248) / 303 = 7 frames."""
    found = told(REASONS["night_full"]())
    (entry,) = [each for each in found.entries if each.target == "Other"]
    assert "7 of 9 subs" in entry.sentence
    alone = a_request(cradle(goal(frames=9), name="Other", weight=0.5), clear=("21:00", "21:40"))
    assert told(alone).only.frames == 2
    heavier = a_request(
        cradle(goal(frames=4)),
        cradle(goal(frames=9), name="Other", weight=2.0),
        clear=("21:00", "21:40"),
    )
    assert [each.target for each in told(heavier).entries] == ["Cradle", "Other"]


def test_goals_in_hand_are_not_left_out() -> None:
    assert told(a_request(cradle(goal(frames=5, done=5)))).entries == ()


def test_entries_come_in_the_order_of_the_file() -> None:
    found = told(
        a_request(
            cradle(goal("R"), goal("L"), name="Z", dec_deg=-60.0),
            cradle(goal("L"), name="A", dec_deg=-60.0),
        )
    )
    assert [(each.target, each.filter) for each in found.entries] == [("Z", "R"), ("Z", "L"), ("A", "L")]


def test_every_rule_that_can_close_the_sky_has_its_reason() -> None:
    """And none stands in the table that no rule ever gives."""
    request = a_request(
        cradle(),
        site={"skyline": [[0, 10], [359, 10]]},
        night={
            "clear": [[instant("20:00"), instant("23:00")]],
            "blocked": [[instant("21:00"), instant("21:30")]],
        },
        filters=[{"name": "L", "darkness": 0.0, "moon_gap_deg": 10.0, "moonlight_mag": 1.0}],
    )
    closing = sky_windows(request, night_sky(request))["Cradle"].shutter_causes["L"]
    ceiling = sky_windows(low := a_request(cradle(), site={"ceiling_deg": 60.0}), night_sky(low))
    assert {*closing, *ceiling["Cradle"].shutter_causes["L"]} == set(REASON_OF)
    assert set(REASON_OF.values()) <= set(get_args(UnplannedReason))


def test_target_that_never_rises_is_told_with_a_minus_sign() -> None:
    assert "it reaches −" in told(a_request(cradle(dec_deg=-60.0))).only.sentence


# --- held back by its filter set -----------------------------------------------------------------------


def held_back_in(request: Request, planned: dict[int, int]) -> set[int]:
    problem = build_problem(request, sky_windows(request, night_sky(request)))
    return held_back(problem, planned)


@pytest.mark.parametrize(
    ("request_", "idle"),
    [
        (red_never_dark(1.0), {0}),
        (red_never_dark(0.999), set()),  # each frame of L counts something
        (red_never_dark(1.0, in_set=False), set()),  # L counts by itself
        (red_never_dark(1.0, red=1), set()),  # L is more than half of its set
    ],
    ids=["R holds it back", "seconds count", "beside the set", "R is little"],
)
def test_goal_is_called_held_back_only_where_it_adds_nothing(request_: Request, idle: set[int]) -> None:
    assert held_back_in(request_, {}) == idle


def test_goals_that_count_together_are_not_held_back() -> None:
    """Of three alike none adds anything alone; but all of them may be shot."""
    goals = [goal(name, frames=6) for name in ("L", "R", "G")]
    filters = [{"name": name} for name in ("L", "R", "G")]
    request = a_request(cradle(*goals), clear=("22:00", "23:00"), filters=filters, aim={"balance": 1.0})
    assert held_back_in(request, {}) == set()


def test_advice_for_a_goal_held_back_makes_it_count() -> None:
    """An idle hour with L open: with sets alone it is not worth a frame, with a balance of 0.3 it is."""
    found = told(red_never_dark(1.0))
    entry = next(each for each in found.entries if each.filter == "L")
    assert "aim.balance = 1" in entry.sentence
    assert gets_frames(red_never_dark(0.3))
