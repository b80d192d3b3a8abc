"""The sheet for paper: 80 columns, and all that a person needs at the mount."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from rich.cells import cell_len

from optimizer.export.sheet_file import WIDTH, sheet_text
from optimizer.models.shots import ShotList
from optimizer.reading.load import request_from_data
from optimizer.views.view import view_of, view_of_steps
from optimizer.words import safe
from tests.support.docs_files import PLANS
from tests.support.replan_nights import DATA, flipping_list, small_list
from tests.support.timeline_nights import by_itself, fork
from tests.support.view_cases import LISTS, begun, empty, renamed, stored

MAKERS = [pytest.param(maker, id=name) for name, maker in LISTS.items()]
FIRST = next(folder for folder in PLANS if folder.name == "first-night")


def unfolded(text: str) -> str:
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("maker", MAKERS)
def test_no_line_is_wider_than_the_paper(maker: Callable[[], ShotList]) -> None:
    text = sheet_text(view_of(maker()))
    assert all(cell_len(line) <= WIDTH for line in text.splitlines())
    assert all(line == line.rstrip() for line in text.splitlines())
    assert text.endswith("\n")
    assert not text.endswith("\n\n")


@pytest.mark.parametrize("maker", MAKERS)
def test_every_visit_block_flip_and_caution_is_on_it(maker: Callable[[], ShotList]) -> None:
    view = view_of(maker())
    text = unfolded(sheet_text(view))
    for visit in view.visits:
        assert f"[ ] {visit.start_local[11:19]} {visit.visit}. {safe(visit.target)[:40]}" in text
        for angle in (visit.ra_hms, visit.dec_dms):
            assert angle is None or angle in text
    for block in view.blocks:
        assert f"{block.start_local[11:19]} to {block.end_local[11:19]} {block.filter} {block.count}×" in text
    flips = [visit for visit in view.visits if visit.arrival == "flip"]
    assert text.count("FLIP to pier side east") == len(flips) == view.totals.flips
    assert ("NO FLIPS" in text) == (not flips)
    for caution in view.plan.cautions:
        assert unfolded(caution) in text


def test_the_sheet_of_the_demo_night() -> None:
    head, _, rest = sheet_text(view_of(stored(FIRST))).partition("\n\n")
    assert head.splitlines()[:4] == [
        "Night of 2026-10-10 at Heron Flat",
        "Times are local: Europe/Paris, UTC+02.",
        "From 20:09:43 to 06:19:11: 5 visits, 2 flips, 199 subs, 9 h 17 min of open",
        "shutter.",
    ]
    assert head.endswith("\nThe list may run late by 60 s as a whole: it breaks and loses nothing.")
    assert "\n[ ] 23:44:51  tracking OFF until 23:45:18\n[ ] 23:45:18  3. Whirl in Triangulum\n" in rest
    assert "FLIPS\n[ ] 21:35:18, latest 21:48:26  Pelican at the shore\n" in rest
    assert (
        "[ ] 21:35:18  2. Pelican at the shore\n"
        "    FLIP to pier side east, latest 21:48:26\n"
        "    20h51m00.72s +44d24m05.4s ICRS, position angle 180° (field turned by 180°);\n"
        "    off-axis guide star anew\n"
        "    21:39:57 to 23:44:51  Ha 24×300s, whole if begun by 01:11:32\n"
    ) in rest
    assert rest.endswith("\n[ ] 06:18:43  PARK, tracking OFF\n    06:19:11  end of the list\n")


def test_what_the_audit_says_is_told_first() -> None:
    shots = small_list()
    bare = sheet_text(view_of_steps(shots.steps, shots.request))
    assert "\nNOT AUDITED.\n" in bare
    assert "This list was not audited" in bare
    assert "none broken" in sheet_text(view_of(shots))


def test_a_flip_by_the_mount_has_no_latest_start() -> None:
    text = sheet_text(view_of(by_itself()))
    assert "FLIP to pier side east, by the mount itself\n" in text
    assert re.search(r"FLIPS\n\[ \] \d\d:\d\d:\d\d, by the mount itself  ", text)


def test_a_fork_has_no_pier_side() -> None:
    assert "pier side" not in sheet_text(view_of(fork()))


def test_a_list_that_goes_on_is_there_already() -> None:
    assert "there already, pier side west\n" in sheet_text(view_of(begun()))


def test_an_empty_list_says_so() -> None:
    assert "The list has no steps." in sheet_text(view_of(empty()))


def test_gain_offset_and_binning_are_told_where_given() -> None:
    shots = flipping_list()
    given = {"gain": 0, "offset": 30, "binning": 2}
    steps = tuple(step.model_copy(update=given) if step.kind == "expose" else step for step in shots.steps)
    text = unfolded(sheet_text(view_of(shots.model_copy(update={"steps": steps}))))
    assert "×120s, gain 0, offset 30, binning 2, whole if begun by " in text
    assert "gain" not in sheet_text(view_of(shots))


def test_times_carry_their_offset_where_the_clocks_change() -> None:
    """In the night to 25 October 2026 02:30 comes twice."""
    shots = flipping_list()
    shift = shots.request.night.evening.replace(month=10, day=24) - shots.request.night.evening
    steps = tuple(
        step.model_copy(update={"start_utc": step.start_utc + shift, "end_utc": step.end_utc + shift})
        for step in shots.steps
    )
    request = request_from_data({**DATA, "night": {"evening": "2026-10-24"}}, "night of two offsets")
    text = sheet_text(view_of_steps(steps, request))
    assert "Europe/Madrid, UTC+02, later UTC+01: the clocks change." in text
    order = text.partition("ORDER\n")[2]
    assert "+02:00" in order
    assert "+01:00" in order
    assert re.findall(r"\d\d:\d\d:\d\d(?![+\d])", order) == []


def test_a_long_name_is_cut_where_the_paper_ends() -> None:
    shots = renamed(flipping_list(), "銀" * 60)
    lines = [line for line in sheet_text(view_of(shots)).splitlines() if "銀" in line]
    assert lines
    assert all(line.endswith("…") for line in lines)


def test_a_long_word_is_parted_by_the_width_of_its_signs() -> None:
    """Signs that take two columns each, with no blank among them."""
    shots = flipping_list()
    site = shots.request.site.model_copy(update={"name": "銀" * 100})
    shots = shots.model_copy(update={"request": shots.request.model_copy(update={"site": site})})
    text = sheet_text(view_of(shots))
    assert all(cell_len(line) <= WIDTH for line in text.splitlines())
    assert text.count("銀") == 100


def test_controls_of_terminals_are_escaped() -> None:
    text = sheet_text(view_of(renamed(flipping_list(), "a\u202eb")))
    assert "\u202e" not in text
    assert "a\\u202eb" in text
