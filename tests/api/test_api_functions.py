"""The public functions do what the commands do, and refuse what they refuse, in words of their own."""

from __future__ import annotations

import datetime as dt
import json
import sys
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
    windows,
)
from optimizer.errors import OutputError, PrintingMissingError, UnauditedError
from optimizer.export.json_file import json_text, read_json
from optimizer.models.base import as_json_data
from optimizer.models.shots import Violation
from tests.support.cli_cases import CLEAR, NEVER, content, darkfill, request
from tests.support.timeline_nights import a_request


@lru_cache
def small() -> ShotList:
    """A night planned in a moment."""
    return plan(a_request(), time_limit_s=3)


def with_violation(shots: ShotList) -> ShotList:
    told = Violation(rule="contact", step=3, amount=12.0, unit="s", message="too near to contact")
    report = shots.audit_report.model_copy(update={"violations": (told,)})
    return shots.model_copy(update={"audit": report})


# --- loading -----------------------------------------------------------------------------------------------


def test_load_tells_its_warnings_and_takes_another_evening(tmp_path: Path) -> None:
    path = request(tmp_path, ("contact_min = 40", ""))
    (warning,) = load(path).warnings
    assert "contact_min" in warning
    for evening in ("2026-12-01", dt.date(2026, 12, 1)):
        assert load(str(path), evening=evening).request.night.evening == dt.date(2026, 12, 1)
    with pytest.raises(
        InputError, match=r"^load\(\): evening = soon: is no date; write it like 2026-11-14, or tonight$"
    ):
        load(path, evening="soon")
    with pytest.raises(InputError, match=r"request\.toml:\d+: site\.floor_deg = 95"):
        load(request(tmp_path, ("floor_deg = 25", "floor_deg = 95")))


def test_whole_lists_come_from_json_and_steps_from_both(tmp_path: Path) -> None:
    written, table = save(small(), tmp_path)
    assert load_shots(written) == small()
    assert load_shots(table, steps_only=True) == load_shots(written, steps_only=True) == small().steps
    with pytest.raises(InputError, match=r"holds the steps alone.*steps_only=True"):
        load_shots(table)


# --- planning ----------------------------------------------------------------------------------------------


def test_plan_gives_what_the_command_writes(tmp_path: Path) -> None:
    path = request(tmp_path)
    told: list[tuple[float, float, float]] = []
    shots = plan(load(path), tell=lambda *figures: told.append(figures))
    assert darkfill("plan", path).code == 0
    assert shots.steps == read_json(tmp_path / "request.2026-11-14.shots.json").steps != ()
    assert shots.request_sha256 == load(path).sha256
    assert shots.audit is not None
    assert shots.audit_report.violations == ()
    assert told
    assert told[-1][1] == shots.proof.objective


@pytest.mark.parametrize("limit_s", [0, -1, float("nan"), float("inf"), 86401])
def test_time_limits_out_of_range_are_refused(limit_s: float) -> None:
    for ask in (plan, sides):
        with pytest.raises(
            InputError, match=r"time_limit_s = .*out of range; give seconds above 0, at most 86400"
        ):
            ask(a_request(), time_limit_s=limit_s)
    with pytest.raises(InputError, match=r"^flip\(\): exposure_s = "):
        flip(a_request(), exposure_s=limit_s)


def test_time_limit_is_kept_in_the_list() -> None:
    assert small().request.aim.time_limit_s == 3.0
    assert json.loads(json_text(small()))["request"]["aim"]["time_limit_s"] == 3.0


def test_ctrl_c_before_there_is_a_plan_is_raised(monkeypatch: pytest.MonkeyPatch) -> None:
    nothing = small().model_copy(
        update={"steps": (), "proof": small().proof.model_copy(update={"status": "stopped"})}
    )
    monkeypatch.setattr(Night, "plan", lambda *_: nothing)
    with pytest.raises(KeyboardInterrupt):
        plan(a_request())


# --- facts and audit ---------------------------------------------------------------------------------------


def test_facts_are_those_that_the_commands_print(tmp_path: Path) -> None:
    path = request(tmp_path)
    loaded = load(path)
    assert as_json_data(windows(loaded)) == darkfill("windows", path, "--json").json
    assert (
        as_json_data(flip(loaded.request, exposure_s=600))
        == darkfill("flip", path, "--exposure", "600", "--json").json
    )
    told: list[str] = []
    compared = sides(loaded, tell=told.append)
    assert told == ["the whole night", "Cradle"]
    assert compared.night_value == darkfill("sides", path, "--json").json["night_value"]


def test_flip_needs_no_targets(tmp_path: Path) -> None:
    path = request(tmp_path)
    path.write_text(path.read_text().split("[[targets]]")[0], encoding="utf-8")
    with pytest.raises(InputError, match="targets"):
        load(path)
    assert flip(load(path, targets_needed=False), exposure_s=60).tonight == ()


def test_audit_takes_a_list_or_steps_with_a_request() -> None:
    shots = small()
    assert audit(shots) == shots.audit
    assert audit(shots.steps, shots.request).violations == ()
    higher = a_request(site={"floor_deg": 89.0})
    assert {found.rule for found in audit(shots, higher).violations} >= {"floor"}
    with pytest.raises(TypeError, match=r"audit\(steps, request\)"):
        audit(shots.steps)  # type: ignore[call-overload]


# --- drawing -----------------------------------------------------------------------------------------------


def test_chart_is_the_page_and_the_picture_of_the_command(tmp_path: Path) -> None:
    path, _ = save(small(), tmp_path)
    for form in ("html", "svg"):
        out = tmp_path / f"night.{form}"
        assert darkfill("chart", path, "-o", out, "--theme", "red").code == 0
        assert chart(small(), form=form, theme="red") == out.read_text(encoding="utf-8")
    assert chart(small().steps, small().request).startswith("<!doctype html>")


def test_chart_refuses_what_it_does_not_know(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(TypeError, match=r"chart\(steps, request\)"):
        chart(small().steps)
    with pytest.raises(ValueError, match="there is no form 'gif'"):
        chart(small(), form="gif")  # type: ignore[call-overload]
    with pytest.raises(ValueError, match="there is no theme 'green'"):
        chart(small(), theme="green")  # type: ignore[call-overload]
    monkeypatch.setitem(sys.modules, "vl_convert", None)
    with pytest.raises(PrintingMissingError, match="print"):
        chart(small(), form="png")


# --- saving ------------------------------------------------------------------------------------------------


def test_files_are_named_by_the_evening_or_as_asked_and_their_folder_is_made(tmp_path: Path) -> None:
    folder = tmp_path / "plans" / "autumn"
    evening = small().night.evening
    assert save(small(), folder) == (folder / f"{evening}.shots.json", folder / f"{evening}.shots.csv")
    named = save(small(), tmp_path / "tonight.v2.shots.json", page=True)
    assert [path.name for path in named] == [
        "tonight.v2.shots.json",
        "tonight.v2.shots.csv",
        "tonight.v2.html",
    ]
    assert named[0].read_bytes() == json_text(small()).encode()
    assert named[2].read_text(encoding="utf-8") == chart(small())
    with pytest.raises(OutputError, match=r"the ending \.toml is not known"):
        save(small(), tmp_path / "request.toml")
    (tmp_path / "file").write_text("mine")
    with pytest.raises(OutputError, match="the folder cannot be made"):
        save(small(), tmp_path / "file" / "night.json")


@pytest.mark.parametrize(
    "spoilt",
    [lambda shots: shots.model_copy(update={"audit": None}), with_violation],
    ids=["never audited", "with violations"],
)
def test_a_list_that_is_not_proven_safe_is_not_written(spoilt: Any, tmp_path: Path) -> None:
    shots = spoilt(small())
    with pytest.raises(UnauditedError) as caught:
        save(shots, tmp_path)
    assert caught.value.violations == (() if shots.audit is None else ("too near to contact",))
    assert content(tmp_path) == {}


def test_an_unaudited_list_has_no_json_and_no_report() -> None:
    unaudited = small().model_copy(update={"audit": None})
    with pytest.raises(UnauditedError, match="audit it first"):
        json_text(unaudited)
    with pytest.raises(UnauditedError):
        _ = unaudited.audit_report


@pytest.mark.parametrize("swap", [None, "leave out"])
def test_a_written_list_must_have_its_audit(swap: str | None, tmp_path: Path) -> None:
    data = as_json_data(small())
    if swap is None:
        data["audit"] = None
    else:
        del data["audit"]
    path = tmp_path / "night.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(InputError, match="audit"):
        load_shots(path)


def test_nothing_to_save_is_said(tmp_path: Path) -> None:
    empty = plan(load(request(tmp_path, (CLEAR, NEVER))))
    assert (empty.steps, [entry.reason for entry in empty.unplanned]) == ((), ["blocked"])
    with pytest.raises(OutputError, match="the list has no steps"):
        save(empty, tmp_path / "nights")
    assert not (tmp_path / "nights").exists()


def test_another_plan_of_the_same_night_keeps_the_older_one_and_its_page(tmp_path: Path) -> None:
    """The page is the older plan's even if none is drawn now."""
    path = tmp_path / "night.shots.json"
    save(small(), path, page=True)
    first = content(tmp_path)
    save(small(), path)  # the same list: there is nothing to keep
    save(small(), path, page=True)
    assert content(tmp_path) == first
    later = small().model_copy(update={"created_utc": small().created_utc + dt.timedelta(hours=1)})
    assert save(later, path) == (path, path.with_suffix(".csv"))
    kept = {name.removesuffix(".old"): held for name, held in content(tmp_path).items() if ".old" in name}
    assert kept == first
    assert load_shots(path).created_utc == later.created_utc
    assert not path.with_name("night.html").exists()
    save(small(), path, replace=True)
    assert sorted(content(tmp_path)) == sorted(
        [*(f"{name}.old" for name in first), path.name, "night.shots.csv"]
    )


def test_another_night_is_not_replaced(tmp_path: Path) -> None:
    path = tmp_path / "night.shots.json"
    save(small(), path)
    other = small().model_copy(update={"night": small().night.model_copy(update={"evening": "2026-11-15"})})
    before = content(tmp_path)
    with pytest.raises(OutputError, match=r"night\.shots\.json is there, and no shot list of this night"):
        save(other, path)
    assert content(tmp_path) == before
    assert save(other, path, replace=True) == (path, path.with_suffix(".csv"))
    assert load_shots(path).night.evening == "2026-11-15"


@pytest.mark.parametrize("name", ["night.shots.csv", "night.html"])
def test_files_of_somebody_else_are_not_replaced_silently(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text("mine")
    with pytest.raises(
        OutputError, match=rf"{name} is there, and no shot list of this night and site with it"
    ):
        save(small(), tmp_path / "night.shots.json", page=True)
    assert content(tmp_path) == {name: b"mine"}


def test_another_site_is_another_night(tmp_path: Path) -> None:
    save(small(), tmp_path)
    moved = small().request.site.model_copy(update={"longitude_deg": -4.0})
    other = small().model_copy(update={"request": small().request.model_copy(update={"site": moved})})
    with pytest.raises(OutputError, match="no shot list of this night and site"):
        save(other, tmp_path)
