"""`darkfill plan --relief`: what is shown and written, and that the plan is safe before anything is asked."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import optimizer.relief
from optimizer.export.json_file import read_json, shots_from_data
from optimizer.models.shots import ShotList
from optimizer.night import Night
from tests.support.cli_cases import CLEAR, FILES, NEVER, content, darkfill, request

SETTING = (
    (CLEAR, "clear = [[2026-11-15T03:00:00Z, 2026-11-15T06:00:00Z]]"),
    ("floor_deg = 25", "floor_deg = 40"),
)


def test_step_that_helps_is_shown_and_written(tmp_path: Path) -> None:
    ran = darkfill("plan", request(tmp_path, *SETTING), "--relief")
    assert ran.code == 0
    assert sorted(content(tmp_path)) == FILES
    (entry,) = read_json(tmp_path / "request.2026-11-14.shots.json").unplanned
    (step,) = entry.relief or ()
    assert (step.key, step.old, step.new, step.certain) == ("floor_deg", 40.0, 38.0, True)
    part = ran.stdout[ran.stdout.index("\nWhat one easier setting would give, best first\n") :]
    (row,) = [line for line in part.splitlines() if line.startswith("floor 38° instead of 40°")]
    minutes = f"+{round(step.open_s / 60)} min"
    assert row.split("Cradle")[1].split("  ")[-1].strip() == "certain"
    assert row.count(minutes) == 3
    assert ran.stdout.index("Left out tonight") < ran.stdout.index("What one easier setting")


def test_page_tells_it_too(tmp_path: Path) -> None:
    ran = darkfill("plan", request(tmp_path, *SETTING), "--relief", "--page")
    assert ran.code == 0
    page = (tmp_path / "request.2026-11-14.html").read_text(encoding="utf-8")
    assert "What one easier setting would give" in page
    assert "floor 38° instead of 40°" in page


def test_nobody_asks_unless_told_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Night, "ask", None)
    ran = darkfill("plan", request(tmp_path, *SETTING))
    assert ran.code == 0
    assert "What one easier setting" not in ran.stdout
    assert read_json(tmp_path / "request.2026-11-14.shots.json").unplanned[0].relief is None


def test_json_on_stdout_has_what_the_file_has(tmp_path: Path) -> None:
    ran = darkfill("plan", request(tmp_path, *SETTING), "--relief", "--json")
    assert ran.code == 0
    shots = shots_from_data(ran.json, "stdout")
    assert shots == read_json(tmp_path / "request.2026-11-14.shots.json")
    assert shots.unplanned[0].relief
    assert darkfill("check", tmp_path / "request.2026-11-14.shots.json").code == 0


def test_no_step_that_helps_is_said(tmp_path: Path) -> None:
    """Clear for 40 minutes in the middle of the night: neither floor nor twilight closes anything."""
    ran = darkfill("plan", request(tmp_path), "--relief")
    assert ran.code == 0
    assert "No single easier setting was found to help: Cradle L." in ran.stdout
    assert read_json(tmp_path / "request.2026-11-14.shots.json").unplanned[0].relief == ()


def test_empty_night_is_asked_too_and_nothing_is_written(tmp_path: Path) -> None:
    """It culminates at 82.5 degrees: with a floor of 83 nothing can be shot, with 81 something."""
    swaps = (
        (CLEAR, "clear = [[2026-11-14T23:00:00Z, 2026-11-15T01:00:00Z]]"),
        ("floor_deg = 25", "floor_deg = 83"),
    )
    ran = darkfill("plan", request(tmp_path, *swaps), "--relief")
    assert ran.code == 3
    assert "floor 81° instead of 83°" in ran.stdout
    assert sorted(content(tmp_path)) == ["request.toml"]
    hopeless = darkfill("plan", request(tmp_path, (CLEAR, NEVER)), "--relief")
    assert hopeless.code == 3
    assert "No single easier setting was found to help" in hopeless.stdout


def test_plan_is_written_before_anything_is_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C then keeps it, and shows it; a failure cannot lose it either."""
    written: list[dict[str, bytes]] = []

    def stopped(*args: Any) -> None:
        written.append(content(tmp_path))
        raise KeyboardInterrupt

    monkeypatch.setattr(optimizer.relief, "relieve", stopped)
    ran = darkfill("plan", request(tmp_path, *SETTING), "--relief")
    assert ran.code == 0
    assert ran.stdout.startswith("Night of ")
    assert "What one easier setting" not in ran.stdout
    assert [line for line in ran.stderr.splitlines() if line.startswith("wrote ")]
    assert written == [content(tmp_path)]
    assert read_json(tmp_path / "request.2026-11-14.shots.json").steps

    def broken(*args: Any) -> None:
        raise RuntimeError("the sky fell")

    monkeypatch.setattr(optimizer.relief, "relieve", broken)
    ran = darkfill("plan", tmp_path / "request.toml", "--relief")
    assert ran.code == 5
    assert sorted(content(tmp_path)) == sorted([*FILES, *(f"{name}.old" for name in FILES[:2])])
    assert [line.split()[0] for line in ran.stderr.splitlines()[:3]] == ["renamed", "wrote", "wrote"]


def test_search_stopped_by_hand_is_followed_by_no_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    right = Night.plan

    def early(*args: Any) -> ShotList:
        shots = right(*args)
        return shots.model_copy(update={"proof": shots.proof.model_copy(update={"status": "stopped"})})

    monkeypatch.setattr(Night, "plan", early)
    monkeypatch.setattr(Night, "ask", None)
    ran = darkfill("plan", request(tmp_path, *SETTING), "--relief")
    assert ran.code == 0
    assert "no relief was looked for" in ran.stderr
    assert sorted(content(tmp_path)) == FILES
