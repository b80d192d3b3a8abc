"""Requests of several rigs: what they must agree in, what each has in hand, and what is worth a second look."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.reading.load import LoadedRequest, load_request
from optimizer.season.agreeing import Agreed, rigs_given
from tests.support.rig_cases import TARGET, rig

HEAD = "target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source\n"


@pytest.fixture(autouse=True)
def _in_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def agreed(*paths: Path) -> Agreed:
    return rigs_given([load_request(path) for path in paths], "season()")


def refused(*paths: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        agreed(*paths)
    return str(caught.value).split("\n")


def here(name: str, *changes: tuple[str, str], top: str = "", more: str = TARGET) -> Path:
    return rig(Path(), name, *changes, top=top, more=more)


def done_of(found: Agreed) -> list[tuple[int, int]]:
    """What each rig has in hand of its first goal, and what all rigs have."""
    return [
        (each.request.targets[0].goals[0].done, each.in_all.targets[0].goals[0].done) for each in found.rigs
    ]


# --- names, and what holds for all --------------------------------------------------------------------------


def test_rigs_are_named_by_their_request_or_its_file() -> None:
    found = agreed(here("north"), here("second", top='rig = "wide"'))
    assert [each.name for each in found.rigs] == ["north", "wide"]
    assert found.lines == ()
    assert agreed(here("north")).rigs[0].name == "north"


def test_two_rigs_of_one_name_are_refused() -> None:
    assert refused(here("north"), here("other/north")) == [
        'other/north.toml: rig: north.toml is that of the rig "north" too; give each its own name, like rig = '
        '"north" above its first [table]'
    ]


def test_a_request_without_a_file_must_name_its_rig() -> None:
    request = load_request(here("north")).request
    with pytest.raises(InputError, match=r"season\(\), request 2: rig: several rigs .*, and this one has no"):
        rigs_given([load_request(here("north")), request], "season()")
    named = request.model_copy(update={"rig": "wide"})
    assert [each.name for each in rigs_given([load_request(here("north")), named], "x").rigs] == [
        "north",
        "wide",
    ]
    with pytest.raises(InputError, match=r"season\(\): request: there is none; give a request"):
        rigs_given([], "season()")
    with pytest.raises(TypeError, match="takes a request, not text"):
        rigs_given([request, "wide.toml"], "season()")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (
            ('value = "hours"', 'value = "depth"'),
            'wide.toml:18: aim.value = "depth": north.toml:18 has "hours", and all rigs of a season count value '
            "alike; give both the same",
        ),
        (
            ('value = "hours"', 'value = "hours"\nbalance = 0.5'),
            "wide.toml:19: aim.balance = 0.5: north.toml leaves it at 0.3, and all rigs of a season count value "
            "alike; give both the same",
        ),
        (
            ("frames = 50", "frames = 60"),
            'wide.toml:26: targets[0].goals[0].frames = 60 (1st goal of target "Cradle"): north.toml:26 wants 50 '
            "subs, and both gather for this goal together; give both the same, or another exposure if these are "
            "two goals",
        ),
        (
            ("frames = 50", "hours = 4.0"),
            'wide.toml:26: targets[0].goals[0].hours = 4.0 (1st goal of target "Cradle"): north.toml:26 wants 50 '
            "subs, and both gather for this goal together; give both the same, or another exposure if these are "
            "two goals",
        ),
        (
            ("frames = 50", "frames = 50\n  in_set = false"),
            'wide.toml:27: targets[0].goals[0].in_set = false (1st goal of target "Cradle"): north.toml leaves it '
            "at true, and both gather for this goal together; give both the same",
        ),
        (
            ("frames = 50", "frames = 50\n  done = 7"),
            'wide.toml:27: targets[0].goals[0].done = 7 (1st goal of target "Cradle"): north.toml leaves it at 0, '
            "and done is what all rigs together have in hand of a goal, beside their tallies; give both the same",
        ),
        (
            ('name = "Cradle"', 'name = "Cradle"\nweight = 2'),
            'wide.toml:21: targets[0].weight = 2 (target "Cradle"): north.toml leaves it at 1.0, and both are the '
            'project "Cradle"; give both the same',
        ),
        (
            ("dec_deg = 31.31", "dec_deg = 31.42"),
            'wide.toml:20: targets[0].name = "Cradle" (1st target): north.toml:19 has a target of this name 0.11 '
            "degrees away; give each target its own name, or both the same place",
        ),
    ],
)
def test_what_is_shared_must_agree(change: tuple[str, str], told: str) -> None:
    assert refused(here("north"), here("wide", change)) == [told]


def test_all_problems_are_told_by_file_and_line() -> None:
    frames, weight = ("frames = 50", "frames = 60"), ('name = "Cradle"', 'name = "Cradle"\nweight = 2')
    value = ('value = "hours"', 'value = "depth"')
    found = refused(here("north"), here("wide", value, frames, weight), here("far", frames))
    assert [line.split(" ")[0] for line in found] == [
        "wide.toml:18:",
        "wide.toml:21:",
        "wide.toml:27:",
        "far.toml:26:",
    ]


def test_another_exposure_is_another_goal_and_a_near_place_the_same_target() -> None:
    north = here("north")
    agreed(north, here("wide", ("exposure_s = 300", "exposure_s = 120"), ("frames = 50", "frames = 9")))
    agreed(north, here("wide", ("dec_deg = 31.31", "dec_deg = 31.40")))


def test_settings_of_a_camera_make_no_other_goal() -> None:
    gained = ("frames = 50", "frames = 60\n  gain = 100")
    assert len(refused(here("north"), here("wide", gained))) == 1


# --- nights and weather -------------------------------------------------------------------------------------

SEASON = "[season]\nnights = 4\nclear_odds = 0.4\n[mount]\n"


@pytest.mark.parametrize(
    ("season", "told"),
    [
        ("[season]\nnights = 5\nclear_odds = 0.4\n", "season.nights = 5: north.toml:12 has 4"),
        ("[season]\nclear_odds = 0.4\n", "season.nights: not given, so 90, and north.toml:12 has 4"),
        (
            "[season]\nnights = 4\nclear_odds = 0.4\npersistence = 0.2\n",
            "season.persistence = 0.2: north.toml leaves it at 0.0",
        ),
        (
            "[season]\nfirst = 2026-12-01\nnights = 4\nclear_odds = 0.4\n",
            "season.first = 2026-12-01: the season of north.toml begins on 2026-11-14",
        ),
    ],
)
def test_nights_must_agree(season: str, told: str) -> None:
    north = here("north", ("[mount]\n", SEASON))
    (line,) = refused(north, here("wide", ("[mount]\n", f"{season}[mount]\n")))
    assert (
        f"{told}, and this is the same for all rigs of a season; give both the same, or leave [season] out"
        in line
    )


def test_a_rig_without_a_season_has_that_of_the_first() -> None:
    north = here("north", ("[mount]\n", SEASON))
    wide = here("wide", ("evening = 2026-11-14", "evening = 2026-12-24"))
    first, second = (each.request.season for each in agreed(north, wide).rigs)
    assert first is not None
    assert second is not None
    assert second == first.model_copy(update={"first": dt.date(2026, 11, 14)})


def test_rigs_at_one_place_have_one_weather() -> None:
    north = here("north", ("[mount]\n", SEASON))
    other = ("[mount]\n", SEASON.replace("0.4", "0.6"))
    assert refused(north, here("wide", other, ("latitude_deg = 38.92", "latitude_deg = 38.82"))) == [
        "wide.toml:13: season.clear_odds = 0.6: this site is 11 km from that of north.toml, so both have the same "
        "weather, and for 2026-11-14 the odds are 0.6 here and 0.4 there; give both the same"
    ]
    apart = agreed(north, here("wide", other, ("latitude_deg = 38.92", "latitude_deg = 38.72")))
    assert [each.request.season and each.request.season.clear_odds for each in apart.rigs] == [0.4, 0.6]


# --- worth a second look ------------------------------------------------------------------------------------


def test_one_place_by_two_names_is_told() -> None:
    north = here("north")
    wide = here("wide", ('name = "Cradle"', 'name = "Reflection"'), ("dec_deg = 31.31", "dec_deg = 31.35"))
    assert agreed(north, wide).lines == (
        'wide.toml:20: targets[0].name = "Reflection" (1st target): "Cradle" of north.toml:20 is within 0.1 '
        "degrees of it: two projects; give both the same name if they are one",
    )
    both = here("wide", more=TARGET + TARGET.replace("Cradle", "Panel 2"))
    assert agreed(north, both).lines == ()


def test_nearly_the_same_exposure_is_told() -> None:
    wide = here("wide", ("exposure_s = 300", "exposure_s = 302"))
    assert agreed(here("north"), wide).lines == (
        'wide.toml:25: targets[0].goals[0].exposure_s = 302 [seconds] (1st goal of target "Cradle"): north.toml:25 '
        "has 300 s for this target and filter: two goals; give both the same if they are one",
    )
    assert agreed(here("north"), here("wide", ("exposure_s = 300", "exposure_s = 304"))).lines == ()


def test_hours_of_another_exposure_are_told_as_wanted_twice() -> None:
    north = here("north", ("frames = 50", "hours = 4"))
    wide = here("wide", ("frames = 50", "hours = 4"), ("exposure_s = 300", "exposure_s = 600"))
    (line,) = agreed(north, wide).lines
    assert "north.toml:25 has 300 s for this target and filter: two goals; give both the same" in line
    assert agreed(north, here("wide", ("exposure_s = 300", "exposure_s = 600"))).lines == ()


def test_alias_that_is_another_rigs_target_is_told() -> None:
    north = here("north", ('name = "Cradle"', 'name = "Cradle"\naliases = ["heart"]'))
    other = TARGET.replace("Cradle", "Heart").replace("31.31", "61.5")
    assert agreed(north, here("wide", more=other)).lines == (
        'north.toml:21: targets[0].aliases = ["heart"] (target "Cradle"): wide.toml:20 has a target "Heart": subs '
        "of this name count for both; give both the same name if they are one, or take the alias out",
    )
    assert agreed(north, here("wide")).lines == ()


def test_tally_that_is_a_copy_of_another_is_told() -> None:
    row = "Cradle,L,300,,,,,10,,"
    north, wide = (here(name, top=tally(f"{name}.csv", row)) for name in ("north", "wide"))
    assert agreed(north, wide).lines == (
        'wide.toml:1: tally = "wide.csv": it has the same rows as the tally of north.toml, and both count; name one '
        "file in both requests if these are the same subs",
    )
    more = here("wide", top=tally("wide.csv", row, "Cradle,L,300,,,,,1,,"))
    assert agreed(north, more).lines == ()


# --- in hand ------------------------------------------------------------------------------------------------


def tally(name: str, *rows: str) -> str:
    Path(name).write_text(HEAD + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return f'tally = "{name}"'


def test_subs_of_two_tallies_are_added_and_what_is_written_counts_once() -> None:
    done = ("frames = 50", "frames = 50\n  done = 4")
    north = here("north", done, top=tally("north.csv", "Cradle,L,300,,,,,10,,"))
    wide = here("wide", done, top=tally("wide.csv", "Cradle,L,300,,,,,20,,"))
    found = agreed(north, wide)
    assert done_of(found) == [(14, 34), (24, 34)]
    assert [each.elsewhere for each in found.rigs] == [(20,), (10,)]


def test_one_tally_that_both_name_counts_once() -> None:
    top = tally("in-hand.csv", "Cradle,L,300,,,,,10,,", "Cradle,L,301,,,,,5,2,")
    found = agreed(here("north", top=top), here("wide", top=top))
    assert done_of(found) == [(13, 13), (13, 13)]
    assert [each.elsewhere for each in found.rigs] == [(), ()]


def test_one_tally_under_two_names_counts_once() -> None:
    top = tally("in-hand.csv", "Cradle,L,300,,,,,10,,")
    Path("link.csv").symlink_to("in-hand.csv")
    found = agreed(here("north", top=top), here("wide", top='tally = "link.csv"'))
    assert done_of(found) == [(10, 10), (10, 10)]


def test_rows_that_a_person_takes_off_are_off_for_all() -> None:
    north = here("north", top=tally("north.csv", "Cradle,L,300,,,,,10,,"))
    wide = here("wide", top=tally("wide.csv", "Cradle,L,300,,,,,2,6,"))
    found = agreed(north, wide)
    assert done_of(found) == [(10, 6), (0, 6)]
    assert [each.elsewhere for each in found.rigs] == [(-4,), (6,)]


def test_seconds_of_goals_in_hours_are_added_before_they_make_whole_subs() -> None:
    """Three subs of 200 s are 10 min: one whole sub of 300 s in each tally, four in both together."""
    hours = ("frames = 50", "hours = 4.0")
    north = here("north", hours, top=tally("north.csv", "Cradle,L,200,,,,,3,,"))
    wide = here("wide", hours, top=tally("wide.csv", "Cradle,L,100,,,,,8,,"))
    assert done_of(agreed(north, wide)) == [(2, 4), (2, 4)]


def test_rows_that_count_for_another_rig_are_no_warning() -> None:
    top = tally("in-hand.csv", "Cradle,L,300,,,,,10,,", "Heart,L,300,,,,,5,,", "Nobody,L,300,,,,,5,,")
    north = here("north", top=top)
    wide = here("wide", top=top, more=TARGET.replace("Cradle", "Heart").replace("31.31", "61.5"))
    loaded = [load_request(path) for path in (north, wide)]
    found = rigs_given(loaded, "season()")
    left = [[line for line in each.warnings if line not in found.answered] for each in loaded]
    assert [len(each.warnings) for each in loaded] == [2, 2]
    assert [[line.split(":")[1] for line in own] for own in left] == [["4"], ["4"]]


def test_a_request_changed_after_it_was_loaded_counts_as_it_is() -> None:
    loaded = load_request(here("north", top=tally("north.csv", "Cradle,L,300,,,,,10,,")))
    target = loaded.request.targets[0]
    goal = target.goals[0].model_copy(update={"done": 3})
    changed = loaded.request.model_copy(
        update={"targets": (target.model_copy(update={"goals": (goal,)}),), "rig": "wide"}
    )
    other = load_request(here("other", ("frames = 50", "frames = 50\n  done = 3")))
    given: list[LoadedRequest] = [replace(loaded, request=changed), other]
    assert done_of(rigs_given(given, "season()")) == [(3, 3), (3, 3)]
