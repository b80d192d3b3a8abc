"""The flip's numbers in words and on their ruler."""

from __future__ import annotations

import io
from typing import Any

import pytest
from rich.console import Console

from optimizer.report.flip_facts import FlipReport, flip_report
from optimizer.report.flip_view import flip_view, ruler
from tests.support.report_cases import a_request, joined

LABEL = 16  # cells before the ruler


def facts(exposure_s: float | None = 600.0, slack_s: int = 0, **mount: Any) -> FlipReport:
    measured = {"contact_min": 30.0, "clearance_min": 10.0, "flip_from_min": 10.0}
    request = a_request(mount={**measured, **mount}, targets=target())
    return flip_report(request.with_aim(slack_s=slack_s), exposure_s)


def target() -> list[dict[str, Any]]:
    goals = [{"filter": "L", "exposure_s": 600.0, "frames": 1}]
    return [{"name": "Cradle", "ra_deg": 52.297, "dec_deg": 31.31, "goals": goals}]


def words(report: FlipReport) -> str:
    return joined(flip_view(report, "Europe/Madrid"))


def lines(report: FlipReport) -> dict[str, str]:
    rows = [line.plain for line in ruler(report)]
    return {row[:LABEL].strip() or str(number): row[LABEL:] for number, row in enumerate(rows)}


def test_ruler_shows_that_it_just_fits() -> None:
    """The worst exposure's bar ends where the first side's does, and clearance fills the rest to contact."""
    rows = lines(facts())
    worst = rows["begun when due"].index(" shutter")
    assert worst == rows["pier side west"].rindex("━") + 1
    clearance = rows["clearance"]
    assert clearance.index("░") == worst - 1
    assert clearance[: clearance.index("X")].strip("░ ") == ""
    assert rows["begun when due"].index("█") == rows["pier side east"].index("━")


def test_ruler_shows_that_it_does_not_fit() -> None:
    rows = lines(facts(exposure_s=900.0))
    assert rows["begun when due"].index(" shutter") > rows["pier side west"].rindex("━") + 1


def test_ruler_orders_contact_after_everything() -> None:
    for contact_min, flip_from_min in ((30.0, 10.0), (-5.0, -30.0), (120.0, 0.0), (10.0, 10.0)):
        rows = lines(facts(contact_min=contact_min, flip_from_min=flip_from_min, contact_before_min=60.0))
        assert rows["clearance"].index("X") >= rows["pier side west"].rindex("━")
        assert all(len(row) <= 90 for row in rows.values())


def test_numbers_are_told_in_minutes_past_the_meridian() -> None:
    told = words(facts(clock_error_s=20.0))
    assert "Equipment touches 30 min past the meridian." in told
    assert "Keeping 10 min of clearance and 20 s of clock error" in told
    assert "must be left 19 min 40 s past the meridian" in told
    assert "no sooner than 10 min past the meridian" in told
    # 10 min and 20 s, read by the clock: 620 x 1.0027379 = 621.7 s
    assert "used from 10 min 22 s past the meridian" in told


def test_before_and_at_the_meridian_have_their_words() -> None:
    told = words(facts(contact_min=10.0, flip_from_min=-5.0, contact_before_min=60.0))
    assert "must be left at the meridian" in told
    assert "no sooner than 5 min before the meridian" in told


def test_beyond_contact_is_said_loudly() -> None:
    """25 min of exposure begun at 10 min past end at 35 min, 5 min beyond where it touches."""
    told = words(facts(exposure_s=1500.0))
    assert "It does not fit" in told
    assert "15.0 min too late" in told
    assert "5.0 min BEYOND contact" in told
    assert "expose 600 s at most" in told
    assert "let the mount flip from 5 min before the meridian" in told


def test_a_mount_that_flips_by_itself_has_no_exposure_drawn_across_its_flip() -> None:
    """Contact 30, flip at 10: 10 min of exposure begun just before would straddle it, and are not drawn so."""
    report = facts(flip_by="mount")
    assert report.fits is False
    rows = lines(report)
    assert rows["last sub"].rindex("█") == rows["pier side west"].rindex("━")
    assert "begun when due" not in rows
    told = words(report)
    assert "The last sub of 600 s on pier side west begins at the meridian at the latest" in told
    assert "closed 10 min past the meridian, before the mount flips by itself" in told
    assert "must be left" not in told


def test_mount_that_could_not_reach_its_own_flip_carries_nothing_across() -> None:
    """Contact 14 min, 12 kept: pier side west is left at 2 min, and the mount would flip at 5."""
    told = words(facts(contact_min=14.0, clearance_min=12.0, flip_from_min=5.0, flip_by="mount"))
    assert "No target is carried across" in told
    assert "waits for" not in told


def test_advice_is_right_when_it_is_followed() -> None:
    """A flip before the meridian needs the other side clear there: both numbers as told make it fit."""
    tight = {"contact_min": 14.0, "clearance_min": 12.0, "flip_from_min": 5.0}
    told = words(facts(exposure_s=300.0, **tight))
    assert "flip_from_min = -3" in told
    assert "clear of contact from 15 min before (contact_before_min)" in told
    followed = facts(exposure_s=300.0, **{**tight, "flip_from_min": -3.0, "contact_before_min": 15.0})
    assert followed.fits
    assert followed.standstill_min == 0
    half = facts(exposure_s=300.0, **{**tight, "flip_from_min": -3.0})
    assert half.fits is False


def test_exposure_that_would_end_at_contact_is_not_said_to_end_beyond_it() -> None:
    told = words(facts(exposure_s=1200.0))
    assert "It would end at contact." in told
    assert "BEYOND" not in told


@pytest.mark.parametrize("width", [60, 80])
def test_ruler_has_room_for_its_words(width: int) -> None:
    out = io.StringIO()
    Console(file=out, width=width, highlight=False).print(flip_view(facts(), "Europe/Madrid"))
    for words_behind in ("must be left", "shutter closes", "X contact"):
        (line,) = [each for each in out.getvalue().splitlines() if each.endswith(words_behind)]
        assert line.startswith(("pier side west", "begun when due", "clearance"))


def test_a_mount_that_never_flips_is_not_told_to_flip_sooner() -> None:
    told = words(facts(exposure_s=900.0, flip_by="never"))
    assert "flip from" not in told
    assert "fit" not in told
    assert "the last sub of 900 s begins 5 min past the meridian at the latest" in told
    assert "10.0 min before contact" in told


def test_gap_between_the_sides_has_its_words_and_its_columns() -> None:
    """Left at 2 min, flipped from 5 on: the table tells from when the mount stands, not a latest flip."""
    report = facts(contact_min=14.0, clearance_min=12.0, flip_from_min=5.0)
    told = words(report)
    assert "the mount stands still, tracking off, for 3 min" in told
    assert "stand still from" in told
    assert "flip by" not in told.split("Tonight")[1]


def test_contact_that_was_never_measured_is_not_told() -> None:
    report = facts(contact_min=None)
    told = words(report)
    assert "Where the equipment touches was never measured" in told
    assert "before contact" not in told
    assert "touches 10 min" not in told
    assert "clearance" not in lines(report)


@pytest.mark.parametrize("mode", ["plan", "mount", "never"])
def test_mode_is_explained(mode: str) -> None:
    assert f"flip_by = {mode}: " in words(facts(flip_by=mode))


def test_cautions_are_always_there() -> None:
    for report in (facts(), facts(exposure_s=1500.0), facts(flip_by="never")):
        assert "by hand and by day" in words(report)
        assert "Watch the first one" in words(report)


def test_where_no_sub_fits_none_is_said_to() -> None:
    """Nothing is wanted any more and the flip falls due only after pier side west must be left."""
    report = facts().model_copy(
        update={"longest_exposure_s": None, "worst_end_min": None, "longest_fitting_s": 0.0}
    )
    told = words(report)
    assert "No sub may be open when the flip falls due." in told
    assert "sub of 0 s" not in told
    told = words(report.model_copy(update={"longest_fitting_s": 300.0}))
    assert "a sub of 300 s at most fits." in told


def test_minutes_before_the_meridian_have_a_minus_sign() -> None:
    rows = lines(facts(contact_min=-5.0, flip_from_min=-30.0, contact_before_min=60.0))
    assert "−" in rows["0"]
    assert "-" not in rows["0"]


# --- slack -----------------------------------------------------------------------------------------------


def test_slack_stands_beside_the_verdict() -> None:
    """Begun at 10 min past, 570 s of exposure close 30 s before pier side west must be left at 20 min."""
    report = facts(exposure_s=570.0)
    assert (report.fits, report.slack_s, report.spare_s) == (True, 0, 30.0)
    assert "It fits" in words(report)
    assert "Slack: it may end 30 s later." in words(report)
    assert "aim.slack_s" not in words(report)
    assert "it may end no second later." in words(facts())


def test_slack_that_is_asked_for_is_compared_to_the_second() -> None:
    """The limit stays that of the mount, and so does the verdict."""
    enough, short = facts(exposure_s=570.0, slack_s=30), facts(exposure_s=570.0, slack_s=31)
    assert (enough.fits, short.fits) == (True, True)
    assert enough.latest_track_min == short.latest_track_min == facts().latest_track_min
    assert "Slack: it may end 30 s later; 30 s are asked for (aim.slack_s)." in words(enough)
    told = words(short)
    assert "Slack: it may end 30 s later, less than the 31 s of aim.slack_s: the plan ends it sooner." in told
    assert "keeps shutters open until 19 min 29 s past the meridian at the latest, 31 s sooner than" in told


def test_remedies_for_what_does_not_fit_leave_the_slack() -> None:
    told = words(facts(exposure_s=900.0, slack_s=60))
    assert "closes the shutter earlier, 60 s before it must (aim.slack_s), and waits" in told
    assert "expose 540 s at most" in told
    assert "flip_from_min = 4)" in told
    assert "no sooner than 36 min past the meridian" in told


def test_slack_of_a_mount_that_flips_by_itself_or_never() -> None:
    for flip_by in ("mount", "never"):
        assert "The plan closes that last shutter at least 60 s sooner (aim.slack_s)" in words(
            facts(slack_s=60, flip_by=flip_by)
        )
        assert "aim.slack_s" not in words(facts(flip_by=flip_by))


def test_flip_without_room_for_its_slack_waits_until_pier_side_west_had_to_be_left() -> None:
    """Contact at 21 min less 10 of clearance: a minute, less what the clock's reading takes, from 10 min on."""
    tight = facts(exposure_s=30.0, slack_s=60, contact_min=21.0)
    assert "There are only 58 s in which a flip may begin" in words(tight)
    assert "There are only" not in words(facts(exposure_s=30.0, slack_s=50, contact_min=21.0))
    assert "There are only" not in words(facts(slack_s=60))
