"""What no row of a typed plan says, and its safety hangs on, is said in the verdict."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.audit import audit_steps
from optimizer.errors import InputError
from optimizer.findings import checked
from optimizer.report.check_view import verdict
from tests.support.typed_cases import FEW, made, read, request_of

PELICAN, HYADES = "Pelican at the shore", "Hyades dust"
WITH_KIND = "start,kind,target,filter,exposure_s,count\n"
WITH_END = "start,end_utc,kind,target,filter,exposure_s,count,tracking\n"
ZONE = "Europe/Paris"

# In first-night, pier side west must be left at 21:48 (Pelican) and at 04:26 (Hyades), local time.
PROVIDED = [
    ("a flip", FEW + f"20:20,{PELICAN},Ha,300,14\n21:40,{PELICAN},Ha,300,5\n", "the mount flips at 21:31"),
    (
        "hours until the next target, and the end",
        FEW + f"20:20,{PELICAN},Ha,300,15\n02:30,{HYADES},L,120,10\n",
        "tracking is off from 21:48 at the latest until 02:26 (Pelican at the shore) "
        "and the mount is parked by 04:25 (Hyades dust)",
    ),
    (
        "a flip typed too late for a mount that tracks on",
        WITH_KIND + f"20:20,,{PELICAN},Ha,300,5\n22:15,flip,{PELICAN},,,\n22:25,,{PELICAN},Ha,300,5\n",
        "tracking is off from 21:48 at the latest until 22:15 (Pelican at the shore)",
    ),
    (
        "a park typed too late for it",
        WITH_KIND + f"20:20,,{PELICAN},Ha,300,5\n23:00,park,,,,\n",
        "tracking is off from 21:48 at the latest until 23:00 (Pelican at the shore)",
    ),
    (
        "a wait among whole steps that says nothing of tracking",
        "start,end_utc,kind,target,filter,exposure_s\n"
        f"20:10,2026-10-10T18:11:00Z,slew,{PELICAN},,\n20:11,2026-10-10T18:11:45Z,centre,{PELICAN},,\n"
        f"20:11:45,2026-10-10T18:12:00Z,settle,{PELICAN},,\n"
        f"20:12,2026-10-10T18:12:08Z,filter,{PELICAN},Ha,\n"
        f"20:12:08,2026-10-10T18:14:38Z,focus,{PELICAN},Ha,\n"
        f"20:14:38,2026-10-10T18:19:41Z,expose,{PELICAN},Ha,300\n"
        "20:19:41,2026-10-10T21:00:00Z,wait,,,\n23:00,2026-10-10T21:01:00Z,park,,,\n",
        "tracking is off from 21:48 at the latest until 23:00 (Pelican at the shore)",
    ),
    ("a park in time", WITH_KIND + f"20:20,,{PELICAN},Ha,300,5\n21:30,park,,,,\n", ""),
    ("a short gap", FEW + f"22:30,{PELICAN},Ha,300,3\n23:00,{PELICAN},Ha,300,3\n", ""),
]


@pytest.mark.parametrize(("text", "provided"), [each[1:] for each in PROVIDED], ids=[e[0] for e in PROVIDED])
def test_the_verdict_says_what_the_safety_of_a_plan_hangs_on(
    text: str, provided: str, tmp_path: Path
) -> None:
    typed = made(tmp_path, text)
    assert typed.inferred.provided(ZONE) == provided
    report = checked(request_of(), typed.steps, audit_steps(request_of(), typed.steps))
    told = verdict(report, typed.inferred.provided(ZONE))
    only = f", provided that {provided}" if provided else ""
    assert told.startswith(f"Safe and within the rules{only}: ")


def test_a_wait_that_is_said_to_track_is_not_passed_over(tmp_path: Path) -> None:
    """It would lead past contact, and nothing of it would be judged."""
    text = WITH_END + f"20:20,,,{PELICAN},Ha,300,5,\n20:50,2026-10-10T21:00:00Z,wait,{PELICAN},,,,true\n"
    with pytest.raises(InputError, match="whether a wait tracks is inferred"):
        read(tmp_path, text)


def test_a_row_that_ends_before_it_starts_is_refused(tmp_path: Path) -> None:
    text = f"start,end_utc,target,filter,exposure_s\n20:20,2026-10-10T17:00:00Z,{PELICAN},Ha,300\n"
    with pytest.raises(InputError, match="before the row starts"):
        read(tmp_path, text)


def test_a_row_that_tracks_on_to_a_late_end_is_not_safe(tmp_path: Path) -> None:
    """The shutter closes at 20:25, but the row ends at 23:00 with the tube past contact since 22:00."""
    text = f"start,end_utc,target,filter,exposure_s\n20:20,2026-10-10T21:00:00Z,{PELICAN},Ha,300\n"
    typed = made(tmp_path, text)
    report = checked(request_of(), typed.steps, audit_steps(request_of(), typed.steps))
    assert not report.safe
    assert report.findings[0].sentence.startswith("From 21:48 the tube is up to 71.8 min")


def test_coordinates_of_a_row_are_those_of_all_its_subs(tmp_path: Path) -> None:
    text = f"start,target,filter,exposure_s,count,ra_deg,dec_deg\n20:20,{PELICAN},Ha,300,4,309.7,44.4\n"
    subs = [step for step in made(tmp_path, text).steps if step.kind == "expose"]
    assert {step.ra_deg for step in subs} == {309.7}


def test_a_wait_that_says_nothing_of_tracking_is_taken_to_track(tmp_path: Path) -> None:
    """Nobody says that the mount stands: it may well go on to contact."""
    typed = made(tmp_path, FEW + f"20:20,{PELICAN},Ha,300,15\n02:30,{HYADES},L,120,10\n")
    steps = [step.model_copy(update={"tracking": None}) for step in typed.steps]
    report = checked(request_of(), steps, audit_steps(request_of(), steps))
    assert not report.safe
    assert report.findings[0].rule == "contact"
