"""`darkfill windows`, `flip` and `sides`: one JSON document each, words for people, exit codes."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from optimizer.audit.zone import Zone
from optimizer.models.site import iso_utc
from optimizer.mount.flip import flip_times
from optimizer.reading.load import load_request
from optimizer.report.flip_facts import FlipReport
from optimizer.report.sides_facts import SidesReport
from optimizer.report.window_facts import WindowsReport
from optimizer.sky.bodies import night_sky
from optimizer.sky.windows import sky_windows
from tests.support.checks import there
from tests.support.cli_cases import CLEAR, NEVER, SMALL, content, darkfill, request

MEASURED = ("contact_min = 40", "contact_min = 30\nclearance_min = 10\nflip_from_min = 10")
TEN_MINUTES = ("exposure_s = 300", "exposure_s = 600")
TWELVE_MINUTES = ("exposure_s = 300", "exposure_s = 720")
FORK = ("contact_min = 40", 'kind = "fork"')


# --- windows -------------------------------------------------------------------------------------------


def test_windows_as_json_and_in_words(tmp_path: Path) -> None:
    path = request(tmp_path)
    ran = darkfill("windows", path, "--json")
    assert (ran.code, ran.stderr) == (0, "")
    report = WindowsReport.model_validate(ran.json)
    (target,) = report.targets
    assert {entry.pier_side for entry in target.filters} == {"west", "east"}
    west, east = target.filters
    (window,) = west.windows
    assert (f"{window.start_utc:%H:%M:%S}", f"{window.end_utc:%H:%M:%S}") == ("22:00:00", "22:40:00")
    assert (window.opened_cause, window.closed_cause) == ("clear", "clear")
    assert east.windows == ()
    assert east.why_none
    words = darkfill("windows", path).stdout
    assert words.startswith("Open windows on the night of 2026-11-14\n")
    assert "23:00" in words  # local time: an hour ahead of UTC
    assert "clear span begins" in words
    assert content(tmp_path) == {"request.toml": SMALL.encode()}


def test_windows_that_never_open_say_why(tmp_path: Path) -> None:
    ran = darkfill("windows", request(tmp_path, (CLEAR, NEVER)))
    assert ran.code == 0
    assert "no clear, unblocked span" in ran.stdout.replace("\n", " ")


def test_windows_of_another_evening(tmp_path: Path) -> None:
    path = request(tmp_path, (CLEAR, ""))
    ran = darkfill("windows", path, "--evening", "2026-12-24", "--json")
    assert ran.json["night"]["evening"] == "2026-12-24"
    refused = darkfill("windows", path, "--evening", "x")
    assert (refused.code, refused.stdout) == (2, "")


# --- flip ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("exposure", "fits", "ends_min", "margin_min"),
    [(TEN_MINUTES, True, 20.0, 10.0), (TWELVE_MINUTES, False, 22.0, 8.0)],
)
def test_flip_arithmetic(
    exposure: tuple[str, str], fits: bool, ends_min: float, margin_min: float, tmp_path: Path
) -> None:
    """Contact 30 min, clearance 10, due at 10: 10-minute exposures just fit (common practice, no source)."""
    path = request(tmp_path, MEASURED, exposure)
    ran = darkfill("flip", path, "--json")
    assert ran.code == 0
    report = FlipReport.model_validate(ran.json)
    assert (report.contact_min, report.clearance_min, report.flip_from_min) == (30.0, 10.0, 10.0)
    assert (report.latest_track_min, report.longest_fitting_s) == (20.0, 600.0)
    assert (report.fits, report.worst_end_min, report.margin_min) == (fits, ends_min, margin_min)
    assert report.standstill_min == 0.0
    words = " ".join(darkfill("flip", path).stdout.split())  # lines are folded where they end
    assert ("It does not fit: " in words) is not fits
    assert ("It fits: " in words) is fits
    if fits:
        assert "10.0 min before contact" in words
    else:
        assert "2.0 min too late" in words


def test_flip_judges_another_exposure(tmp_path: Path) -> None:
    path = request(tmp_path, MEASURED)
    assert darkfill("flip", path, "--json").json["longest_exposure_s"] == 300.0
    assert darkfill("flip", path, "--json", "--exposure", "600").json["fits"] is True
    assert darkfill("flip", path, "--json", "--exposure", "600.5").json["fits"] is False
    for value in ("0", "-5", "nan", "x"):
        refused = darkfill("flip", path, "--exposure", value)
        assert (refused.code, refused.stdout) == (2, "")
        assert "--exposure" in refused.stderr


def test_flip_times_tonight_are_safe_whole_seconds(tmp_path: Path) -> None:
    """The earliest is rounded up, the latest down; due and transit to the nearest."""
    path = request(tmp_path, ("contact_min = 40", "contact_min = 40\nclock_error_s = 20"))
    (flip,) = FlipReport.model_validate(darkfill("flip", path, "--json").json).tonight
    loaded = load_request(path).request
    sky = night_sky(loaded)
    (times,) = flip_times(loaded.mount, sky_windows(loaded, sky)["Cradle"].track)
    assert flip.due_utc
    assert flip.earliest_flip_utc
    assert flip.latest_flip_utc
    assert times.latest_s
    assert times.due_s
    assert 0 <= sky.clock.seconds(flip.earliest_flip_utc) - times.flipped_s < 1
    assert 0 <= times.latest_s - sky.clock.seconds(flip.latest_flip_utc) < 1
    assert abs(sky.clock.seconds(flip.transit_utc) - times.transit_s) <= 0.5
    assert abs(sky.clock.seconds(flip.due_utc) - times.due_s) <= 0.5
    assert flip.transit_utc < flip.due_utc < flip.earliest_flip_utc < flip.latest_flip_utc
    assert (flip.first_side_until_utc, flip.flipped_side_from_utc) == (
        flip.latest_flip_utc,
        flip.earliest_flip_utc,
    )
    assert flip.in_dark is False  # the only clear span ends an hour and a half before


MOUNTS = {
    "plan": "contact_min = 40\nclock_error_s = 20",
    "gap": "contact_min = 14\nclearance_min = 12\nclock_error_s = 20",
    "mount": 'contact_min = 40\nclock_error_s = 20\nflip_by = "mount"',
    "never": 'contact_min = 40\nclock_error_s = 20\nflip_by = "never"',
    "unmeasured": "clearance_min = 12",
}


@pytest.mark.parametrize("mode", MOUNTS)
def test_flip_windows_and_law_have_the_same_numbers(mode: str, tmp_path: Path) -> None:
    """Where the first side ends and the second begins: as the flip tells, as the windows are cut."""
    clear = ("clear = [[2026-11-14T22:00:00Z, 2026-11-14T22:40:00Z]]\n", "")
    path = request(tmp_path, ("contact_min = 40", MOUNTS[mode]), clear)
    report = FlipReport.model_validate(darkfill("flip", path, "--json").json)
    zone = Zone.of(load_request(path).request.mount)  # the audit's own arithmetic
    assert report.latest_track_min * 60 == pytest.approx(zone.first_until, abs=1e-4)
    assert report.flipped_from_min * 60 == pytest.approx(zone.flipped_from, abs=1e-4)
    (flip,) = report.tonight
    windows = {
        each["pier_side"]: (each["windows"][0]["start_utc"], each["windows"][-1]["end_utc"])
        for target in darkfill("windows", path, "--json").json["targets"]
        for each in target["filters"]
    }
    assert windows["west"][1] == iso_utc(flip.first_side_until_utc)
    assert windows["east"][0] == iso_utc(flip.flipped_side_from_utc)
    fits = report.worst_end_min is not None and report.worst_end_min <= report.latest_track_min
    assert report.fits is fits
    assert (report.margin_min is None) == (mode == "unmeasured")
    instants = (flip.earliest_flip_utc, flip.latest_flip_utc)
    assert None in instants or there(instants[0]) <= there(instants[1])
    assert (instants[0] is None) == (mode == "never")
    assert (instants[1] is None) == (mode in ("never", "gap", "unmeasured"))


def test_flip_and_plan_agree_where_the_sides_meet_within_a_second(tmp_path: Path) -> None:
    """Left at the meridian, flipped from it on: no whole second lies in both, so the mount stands for one."""
    clear = (CLEAR, "clear = [[2026-11-14T22:20:00Z, 2026-11-15T00:40:00Z]]")
    path = request(tmp_path, ("contact_min = 40", "flip_from_min = 0"), clear)
    (flip,) = FlipReport.model_validate(darkfill("flip", path, "--json").json).tonight
    assert flip.latest_flip_utc is None
    assert flip.flipped_side_from_utc - flip.first_side_until_utc == dt.timedelta(seconds=1)
    words = " ".join(darkfill("flip", path).stdout.split())
    assert "tracking off, for a second" in words
    assert "sooner than the meridian" in words
    steps = darkfill("plan", path, "--json").json["steps"]
    (at,) = [number for number, step in enumerate(steps) if step["kind"] == "flip"]
    assert steps[at]["start_utc"] == iso_utc(flip.flipped_side_from_utc)
    assert (steps[at - 1]["kind"], steps[at - 1]["tracking"]) == ("wait", False)
    assert steps[at - 1]["latest_start_utc"] == iso_utc(flip.first_side_until_utc)
    assert "(stand still, tracking off, by" in darkfill("plan", path).stdout


def test_flip_says_where_the_sky_takes_a_part_of_its_times(tmp_path: Path) -> None:
    blocked = (CLEAR, 'blocked = [["2026-11-15T00:00:00Z", "2026-11-15T00:20:00Z"]]')
    path = request(tmp_path, blocked)
    (flip,) = FlipReport.model_validate(darkfill("flip", path, "--json").json).tonight
    assert "2026-11-15T00:00:00Z" < iso_utc(flip.flipped_side_from_utc) < "2026-11-15T00:20:00Z"
    assert (flip.in_dark, flip.in_dark_throughout) == (True, False)
    assert "partly by day, low or blocked" in darkfill("flip", path).stdout


def test_sides_says_what_the_request_allows(tmp_path: Path) -> None:
    path = request(tmp_path, ("dec_deg = 31.31", 'dec_deg = 31.31\nsides = "after"'))
    ran = darkfill("sides", path)
    assert 'The request allows only sides = "after"' in ran.stdout
    assert darkfill("sides", path, "--json").json["targets"][0]["allowed"] == "after"


def test_flip_needs_no_targets(tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_text(SMALL[: SMALL.index("[[targets]]")])
    ran = darkfill("flip", path, "--json")
    assert ran.code == 0
    report = FlipReport.model_validate(ran.json)
    assert (report.fits, report.worst_end_min, report.tonight) == (None, None, ())
    assert report.longest_fitting_s == (40 - 10 - 5) * 60
    assert "1500 s at most fits" in darkfill("flip", path).stdout
    assert darkfill("plan", path).code == 2


def test_flip_of_a_tight_zone_tells_the_standstill(tmp_path: Path) -> None:
    """Left 2 min before the meridian, flipped 6 min past it: 8 min of standing still."""
    path = request(tmp_path, ("contact_min = 40", "contact_min = 10\nclearance_min = 12\nflip_from_min = 6"))
    report = FlipReport.model_validate(darkfill("flip", path, "--json").json)
    # both readings of a minute on the safe side: (120 + 360) x 1.0027379 s
    assert report.standstill_min == pytest.approx(8 * 1.00273790935, abs=1e-6)
    words = " ".join(darkfill("flip", path).stdout.split())
    assert "the mount stands still, tracking off, for 8 min 1 s" in words


def test_flip_of_a_fork(tmp_path: Path) -> None:
    path = request(tmp_path, FORK)
    ran = darkfill("flip", path)
    assert ran.code == 0
    assert "never flips" in ran.stdout
    assert FlipReport.model_validate(darkfill("flip", path, "--json").json).tonight == ()


# --- sides ---------------------------------------------------------------------------------------------


def test_sides_as_json_and_in_words(tmp_path: Path) -> None:
    """Clear only before the transit: before is all that is possible, and the plan says so."""
    path = request(tmp_path)
    ran = darkfill("sides", path, "--json")
    assert (ran.code, ran.stderr) == (0, "")
    (target,) = SidesReport.model_validate(ran.json).targets
    assert set(target.choices) == {"before", "after", "across"}
    assert (target.best, target.taken) == ("before", "before")
    assert target.choices["after"].night is None
    assert target.choices["across"].night is None
    words = darkfill("sides", path).stdout
    assert "Best: before the transit" in words.replace("\n", " ")


def test_sides_agree_with_a_plan(tmp_path: Path) -> None:
    """Across the meridian in an hour and a half around it; the best choice is worth what the plan is."""
    clear = "clear = [[2026-11-14T23:20:00Z, 2026-11-15T00:50:00Z]]"
    path = request(tmp_path, (CLEAR, clear))
    (target,) = SidesReport.model_validate(darkfill("sides", path, "--json").json).targets
    plan = darkfill("plan", path, "--json").json
    best = target.choices[target.best or "before"].night
    assert best is not None
    assert best.value == pytest.approx(plan["proof"]["objective"])
    for choice, facts in target.choices.items():
        assert facts.night is not None, choice
        assert facts.alone is not None
        assert facts.night.value <= plan["proof"]["bound"] + 1e-6
        assert facts.night.flips == (1 if choice == "across" else 0)


def test_sides_of_a_night_without_any(tmp_path: Path) -> None:
    path = request(tmp_path, (CLEAR, NEVER))
    ran = darkfill("sides", path, "--json")
    assert ran.code == 3
    assert "nothing can be scheduled" in ran.stderr
    (target,) = SidesReport.model_validate(ran.json).targets
    assert (target.best, target.taken) == (None, None)
    assert darkfill("sides", path).code == 3


@pytest.mark.parametrize("command", ["windows", "flip", "sides"])
def test_commands_that_only_tell_write_nothing(command: str, tmp_path: Path) -> None:
    path = request(tmp_path)
    before = content(tmp_path)
    darkfill(command, path)
    darkfill(command, path, "--json")
    assert content(tmp_path) == before


@pytest.mark.parametrize("command", ["plan", "windows", "flip", "sides"])
def test_warnings_go_to_stderr(command: str, tmp_path: Path) -> None:
    ran = darkfill(command, request(tmp_path, ("contact_min = 40", "")), "--json")
    assert ran.code == 0
    assert ran.json
    assert "warning: " in ran.stderr
