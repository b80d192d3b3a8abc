"""Lanes in text: as wide as the terminal, each sign over its time, names harmless."""

from __future__ import annotations

import io
import re

import pytest
from rich.console import Console

from optimizer.export.shot_files import read_shots
from optimizer.models.shots import NightFacts, ShotList
from optimizer.report.plan_lanes import filter_letters, plan_lanes
from optimizer.report.plan_view import plan_view
from optimizer.report.tables import show
from tests.support.docs_files import ROOT, stored_list

PLANS = ROOT / "plans"
WIDTHS = (80, 100, 140)


def stored(night: str) -> ShotList:
    shots = read_shots(stored_list(PLANS / night)).shots
    assert shots is not None
    return shots


def lines(shots: ShotList, width: int) -> list[str]:
    out = io.StringIO()
    Console(file=out, width=width, highlight=False, no_color=True).print(plan_lanes(shots))
    return [line.rstrip() for line in out.getvalue().splitlines()]


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("night", ["first-night", "long-winter-night", "short-summer-night"])
def test_no_line_is_folded_and_every_lane_is_there(night: str, width: int) -> None:
    shots = stored(night)
    found = lines(shots, width)
    assert max(len(line) for line in found) <= width - 1
    labels = ["sky", *(target.name[:14] for target in shots.request.targets), "pier side", "shutter closed"]
    for label in labels:
        assert sum(line.startswith(label) for line in found) == 1, label


@pytest.mark.parametrize("width", WIDTHS)
def test_signs_lie_over_their_times(width: int) -> None:
    """The first night's flip: its cell tells its time to within one cell."""
    shots = stored("first-night")
    flip = next(step for step in shots.steps if step.kind == "flip")
    label = 22 if width > 100 else 17
    (lane,) = [line for line in lines(shots, width) if "╫" in line and line.startswith("Pelican")]
    sunset, sunrise = shots.night.sunset_utc, shots.night.sunrise_utc
    assert sunset is not None
    assert sunrise is not None
    cell = (sunrise - sunset) / (width - 1 - label)
    at = sunset + (lane.index("╫") - label) * cell
    assert abs(at - flip.start_utc) <= cell
    assert set(lane[label:].strip()) == {"H", "╫", "·"}  # its transit falls within the exposures


def test_exposures_take_the_cells_of_their_time() -> None:
    shots = stored("first-night")
    (lane,) = [line for line in lines(shots, 140) if line.startswith("Hyades dust")]
    exposures = [step for step in shots.steps if step.kind == "expose" and step.target == "Hyades dust"]
    open_for = exposures[-1].end_utc - exposures[0].start_utc
    assert shots.night.sunset_utc is not None
    assert shots.night.sunrise_utc is not None
    cell = (shots.night.sunrise_utc - shots.night.sunset_utc) / (139 - 22)
    assert lane.count("L") == pytest.approx(open_for / cell, rel=0.1)


def test_every_filter_has_a_letter_of_its_own() -> None:
    names = ["L", "R", "G", "B", "Ha", "OIII", "SII", "H-beta", "ha", "Ω", "\u202e!", "S"]
    letters = filter_letters(names)
    assert list(letters) == names
    assert len(set(letters.values())) == len(names)
    assert [letters[each] for each in ("L", "Ha", "OIII", "SII", "H-beta")] == ["L", "H", "O", "S", "E"]
    assert not {"f", "s", "p", "╫"} & set(letters.values())
    assert all(len(letter) == 1 and letter.isascii() and letter.isalnum() for letter in letters.values())


def test_plain_ascii_where_the_stream_holds_no_more() -> None:
    out = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    show(plan_view(stored("long-winter-night")), out)
    out.flush()
    text = out.buffer.getvalue().decode("ascii")
    lanes = text[text.index("The night in lanes") : text.index("Progress")]
    assert "?" not in lanes
    assert re.search(r"^Rose of the Unicorn +[A-Z.]+#[A-Z.]+", lanes, re.MULTILINE)  # runs, the flip, runs
    assert "# flip" in lanes


def test_no_control_sequence_gets_through() -> None:
    shots = stored("first-night")
    name = "\u202eevil\u2066" + "\u4e2d" * 20
    targets = tuple(
        target.model_copy(update={"name": name}) if target.name == "Hyades dust" else target
        for target in shots.request.targets
    )
    steps = tuple(
        step.model_copy(update={"target": name}) if step.target == "Hyades dust" else step
        for step in shots.steps
    )
    request = shots.request.model_copy(update={"targets": targets})
    found = lines(shots.model_copy(update={"request": request, "steps": steps}), 100)
    assert not [char for line in found for char in line if char in "\x1b\u202e\u2066"]
    (lane,) = [line for line in found if line.startswith("\\u202eevil")]
    (other,) = [line for line in lines(shots, 100) if line.startswith("Hyades dust")]
    assert lane.count("L") == other.count("L")


def test_night_of_a_polar_summer_still_has_a_scale() -> None:
    shots = stored("short-summer-night")
    nothing = {key: None for key in NightFacts.model_fields if key.endswith("_utc") and key != "ut1_utc_s"}
    night = shots.night.model_copy(update=nothing)
    found = lines(shots.model_copy(update={"night": night, "steps": ()}), 80)
    assert re.search(r"\d\d +\d\d", found[0])
