"""What a caller easily gives instead of the right thing is refused with the call that helps."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from optimizer import (
    InputError,
    Night,
    ShotList,
    audit,
    chart,
    flip,
    load,
    load_shots,
    plan,
    save,
    sides,
    tally,
    windows,
)
from tests.support.cli_cases import request
from tests.support.timeline_nights import a_request

STORED = Path(__file__).parents[2] / "plans" / "first-night" / "stored" / "request.2026-10-10.shots.json"
FILE = "plans/first-night/request.toml"
READ_FIRST = "load(path) reads a request first"


@lru_cache
def stored() -> ShotList:
    return load_shots(STORED)


# --- not a request -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "ask", [plan, windows, sides, flip, Night, lambda given: Night(a_request()).ask(given)]
)
def test_anything_but_a_request_is_refused_with_the_call_that_reads_one(ask: Callable[[Any], object]) -> None:
    for given, kind in (
        (FILE, "text"),
        (Path(FILE), "a path"),
        (None, "None"),
        ({}, "an object of the type dict"),
    ):
        with pytest.raises(TypeError, match=rf"\(\) takes a request, not {kind}: {re.escape(READ_FIRST)}$"):
            ask(given)
    with pytest.raises(TypeError, match=r"not an object of the type ShotList: .* as shots\.request$"):
        ask(stored())


def test_a_tally_takes_paths_and_a_list_of_folders() -> None:
    loaded: Any = a_request()
    with pytest.raises(
        TypeError, match=r"^tally\(\): request takes the path of a file or folder, not an object"
    ):
        tally("images", loaded)
    with pytest.raises(
        TypeError, match=r"^tally\(\): skip_folders takes a list of names, not text: \['bad'\]$"
    ):
        tally("images", FILE, skip_folders="bad")


@pytest.mark.parametrize("make", [audit, chart])
def test_steps_are_checked_and_drawn_with_a_request_alone(make: Callable[..., object]) -> None:
    with pytest.raises(TypeError, match=re.escape(READ_FIRST)):
        make(stored().steps, FILE)
    with pytest.raises(
        TypeError, match=r"takes a shot list, not text: load_shots\(path\) reads a list first"
    ):
        make(str(STORED), stored().request)


# --- not a list --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("use", [audit, chart, lambda given: save(given, "nights")])
def test_anything_but_a_list_is_refused_with_the_call_that_makes_one(
    use: Callable[[Any], object], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    read_first = r"load_shots\(path\) reads a list first$"
    for given, kind in ((str(STORED), "text"), (STORED, "a path"), ([{"kind": "slew"}], ".* list")):
        with pytest.raises(TypeError, match=rf"\(\) takes a shot list, not {kind}: {read_first}"):
            use(given)
    with pytest.raises(TypeError, match=r"of the type Request: plan\(request\) makes one first$"):
        use(stored().request)
    with pytest.raises(TypeError, match="bare steps"):
        use(stored().steps)
    assert list(tmp_path.iterdir()) == []


def test_steps_are_not_saved_and_the_error_says_what_is() -> None:
    with pytest.raises(
        TypeError, match=r"^save\(\) takes a shot list, not bare steps: plan\(request\) makes"
    ):
        save(stored().steps, "nights")  # type: ignore[arg-type]


# --- a request without targets -----------------------------------------------------------------------------


def without_targets(folder: Path) -> list[Any]:
    """One that was loaded so, and one made in Python."""
    path = request(folder)
    path.write_text(path.read_text().split("[[targets]]")[0], encoding="utf-8")
    return [load(path, targets_needed=False), a_request().model_copy(update={"targets": ()})]


@pytest.mark.parametrize(
    "ask",
    [
        plan,
        windows,
        sides,
        lambda given: Night(given).plan(),
        lambda given: Night(given).windows,
        lambda given: Night(a_request()).ask(given),
    ],
)
def test_a_night_without_targets_is_refused_in_words(ask: Callable[[Any], object], tmp_path: Path) -> None:
    for given in without_targets(tmp_path):
        with pytest.raises(
            InputError, match=r": targets: needs at least one target; add one to the request$"
        ):
            ask(given)
        assert flip(given).tonight == ()


# --- numbers and dates -------------------------------------------------------------------------------------


@pytest.mark.parametrize("wrong", ["3", True, [3], 1j])
def test_what_is_no_number_of_seconds_is_a_type_error(wrong: Any) -> None:
    for ask in (plan, sides):
        with pytest.raises(TypeError, match=rf"^{ask.__name__}\(\): time_limit_s takes a number, not "):
            ask(a_request(), time_limit_s=wrong)
    with pytest.raises(TypeError, match=r"^flip\(\): exposure_s takes a number, not "):
        flip(a_request(), exposure_s=wrong)


def test_evenings_that_are_none_are_blamed_on_the_call(tmp_path: Path) -> None:
    """No option of the command line is spoken of: there is none."""
    path = request(tmp_path)
    instant = dt.datetime(2026, 11, 14, 20, tzinfo=dt.UTC)
    with pytest.raises(
        InputError, match=r"^load\(\): evening = 2026-11-14 20:.*: is an instant, not a date; "
    ):
        load(path, evening=instant)
    with pytest.raises(InputError, match=r"^load\(\): night\.evening = 1950-01-01: the year is out of reach"):
        load(path, evening="1950-01-01")
    with pytest.raises(TypeError, match=r"evening takes a date or text like 2026-11-14, not int$"):
        load(path, evening=20261114)  # type: ignore[arg-type]


# --- what a notebook shows ---------------------------------------------------------------------------------


def test_a_list_is_shown_in_a_line() -> None:
    shots = stored()
    value_s = shots.proof.objective
    told = f"evening='{shots.night.evening}', site='Heron Flat', steps={len(shots.steps)}, value_s={value_s}"
    assert repr(shots).endswith(f"ShotList({told})")
    assert str(shots) == told.replace(",", "")
