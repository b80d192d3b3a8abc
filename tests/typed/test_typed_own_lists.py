"""Our own lists, cut down to what a person types, come back step for step; so do their latest starts."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from optimizer.audit import audit_steps
from optimizer.export.csv_file import csv_text, read_csv
from optimizer.models.shots import Step
from optimizer.reading.typed_file import read_typed
from optimizer.typed import typed_steps
from optimizer.typed.latest import told_or_worked_out, with_latest_starts
from tests.support.typed_cases import PLANS, made, request_of

NIGHTS = ("first-night", "long-winter-night", "short-summer-night")
LEFT_OUT = {
    "latest_start_utc": None,
    "hour_angle_h": None,
    "altitude_deg": None,
    "azimuth_deg": None,
    "airmass": None,
    "moon_separation_deg": None,
    "note": None,
}


def stored(night: str) -> tuple[Step, ...]:
    (path,) = (PLANS / night / "stored").glob("*.csv")
    return read_csv(path)


def few(steps: tuple[Step, ...]) -> str:
    """The subs of a list with as few columns as can be."""
    subs = (step for step in steps if step.kind == "expose")
    rows = (
        f"{sub.start_utc:%Y-%m-%dT%H:%M:%SZ},{sub.target},{sub.filter},{sub.exposure_s:g}" for sub in subs
    )
    return "\n".join(["start,target,filter,exposure_s", *rows]) + "\n"


@pytest.mark.parametrize("night", NIGHTS)
def test_subs_alone_give_the_whole_list_again(night: str, tmp_path: Path) -> None:
    """Every slew, flip, filter change, autofocus, dither, wait and the park, to the second."""
    steps, request = stored(night), request_of(night)
    typed = made(tmp_path, few(steps), request)
    assert [step.model_copy(update=LEFT_OUT) for step in steps] == list(typed.steps)
    assert audit_steps(request, typed.steps).violations == ()
    assert typed.short == ()


def test_what_is_inferred_of_our_list_is_told(tmp_path: Path) -> None:
    assert made(tmp_path, few(stored("first-night"))).inferred.sentence("Europe/Paris") == (
        "Inferred: 3 slews, 2 flips (21:35, 04:24), 3 filter changes, 9 autofocus, 49 dithers, 1 wait and "
        "park at the end; the pier side by the transit."
    )


@pytest.mark.parametrize("night", NIGHTS)
def test_latest_starts_are_worked_out_as_the_planner_has_them(night: str) -> None:
    steps, request = stored(night), request_of(night)
    bare = [step.model_copy(update={"latest_start_utc": None}) for step in steps]
    assert with_latest_starts(request, bare) == steps
    assert told_or_worked_out(request, bare) == steps  # the audit has nothing against any of them


@pytest.mark.parametrize("night", NIGHTS)
def test_a_list_saved_by_another_program_is_taken_as_the_steps_that_it_is(night: str, tmp_path: Path) -> None:
    """Columns turned round, semicolons, decimal commas, another encoding; nothing is inferred."""
    steps, request = stored(night), request_of(night)
    header, *lines = csv.reader(io.StringIO(csv_text(steps)))
    turned = [[cell if "; " in cell or ", " in cell else cell.replace(".", ",") for cell in reversed(line)]
              for line in lines]  # fmt: skip
    text = io.StringIO()
    csv.writer(text, delimiter=";").writerows([[*reversed(header)], *turned])
    path = tmp_path / "turned.csv"
    path.write_bytes(text.getvalue().encode("cp1252"))
    typed = typed_steps(request, read_typed(path, request))
    kept = {name: value for name, value in LEFT_OUT.items() if name != "note"}
    assert [step.model_copy(update=kept) for step in steps] == list(typed.steps)
    assert typed.inferred.counts == {}
    assert audit_steps(request, typed.steps).violations == ()
