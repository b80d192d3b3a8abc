"""Ctrl-C at every stage of `darkfill plan`: before there is a plan it ends all, afterwards the plan is kept."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from optimizer import ctrl_c, night
from optimizer.cli.plan_files import PlanFiles
from optimizer.export import atomic, shot_files
from optimizer.export.shot_files import read_shots
from optimizer.models.shots import ShotList
from optimizer.night import Night
from optimizer.packing import phases
from optimizer.packing import solve as packing
from optimizer.packing.background import Background
from optimizer.packing.model import search as model_search
from optimizer.packing.parameters import DEFAULT
from optimizer.packing.search.multi_start import MultiStart
from optimizer.report import plan_view, window_facts
from optimizer.report.picture import files
from optimizer.timeline import shot_list
from tests.support.cli_cases import FILES, Ran, content, darkfill, request

MORE = """
[[targets]]
name = "T{}"
ra_deg = {}
dec_deg = 30
  [[targets.goals]]
  filter = "L"
  exposure_s = 170
  frames = 50
  [[targets.goals]]
  filter = "L"
  exposure_s = 230
  frames = 50
"""
# Wanted is far more than fits and no proof is near enough, so that every stage of the search is reached.
MUCH = (
    ("clear = [[2026-11-14T22:00:00Z, 2026-11-14T22:40:00Z]]", ""),
    ("frames = 50", "frames = 60\n" + "".join(MORE.format(number, 25 * number) for number in range(5))),
    ("workers = 1\ntime_limit_s = 3", "workers = 0\ntime_limit_s = 0.6\ngap = 0"),
)


@pytest.fixture(autouse=True)
def heeded() -> Iterator[None]:
    """Ctrl-C is heard (a shell's background jobs are started deaf to it), and the handler is as it was."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    assert ctrl_c.presses() == 0
    signal.signal(signal.SIGINT, before)


def press() -> None:
    """As a terminal does it: the handler runs before the next instruction."""
    signal.raise_signal(signal.SIGINT)


def pressed_at(monkeypatch: pytest.MonkeyPatch, holder: Any, name: str, times: int = 1) -> list[int]:
    """Let Ctrl-C come as something is first called; what is returned fills then."""
    came: list[int] = []
    right: Callable[..., Any] = getattr(holder, name)

    def hooked(*args: Any, **kwargs: Any) -> Any:
        if not came:
            came.append(times)
            for _ in range(times):
                press()
        return right(*args, **kwargs)

    monkeypatch.setattr(holder, name, hooked)
    return came


def kept(ran: Ran, folder: Path) -> ShotList:
    """The list, if it is whole and told of."""
    assert ran.code == 0
    for name in FILES[:2]:
        assert f"wrote {folder / name}\n" in ran.stderr
    assert "nothing was written" not in ran.stderr
    shots = read_shots(folder / "request.2026-11-14.shots.json").shots
    assert shots is not None
    assert shots.steps == read_shots(folder / "request.2026-11-14.shots.csv").steps != ()
    assert shots.audit_report.violations == ()
    assert [name for name in content(folder) if name.startswith(".")] == []
    return shots


SEARCH = [
    (phases, "constructed"),
    (phases, "first_bounds"),
    (phases, "tighter_bounds"),
    (MultiStart, "improve"),
    (Background, "wait"),
    (model_search, "build_model"),
    (model_search, "run_solver"),
    (model_search.Watch, "on_solution_callback"),
]


@pytest.mark.parametrize(("holder", "name"), SEARCH, ids=[name for _, name in SEARCH])
def test_interrupt_of_the_search_ends_it_and_keeps_its_plan(
    holder: Any, name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The last one comes while the solver's own thread is at work, and not to the thread that waits for it."""
    parameters = DEFAULT
    if holder in (model_search, model_search.Watch):  # at once, and however many runs there are
        parameters = replace(DEFAULT, few_runs=10**6, opening=False, column_generation=False, few_share=1.0)
    elif name == "tighter_bounds":  # which a first bound may leave nothing to do
        parameters = replace(DEFAULT, opening=False, constraint_model=False, bound_share=0.0)
    monkeypatch.setattr(night, "solve", partial(packing.solve, parameters=parameters))
    came = pressed_at(monkeypatch, holder, name)
    limit = ["--time-limit", "20"] if holder is model_search.Watch else []  # a large model takes its time
    shots = kept(darkfill("plan", request(tmp_path, *MUCH), *limit), tmp_path)
    assert came
    assert shots.proof.status == "stopped"


def test_interrupt_as_a_thread_is_waited_for_is_no_failure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Thrown there, it could make a wait let go of a lock twice: `release unlocked lock`."""
    came = pressed_at(monkeypatch, threading.Thread, "join")
    kept(darkfill("plan", request(tmp_path, *MUCH)), tmp_path)
    assert came


def test_interrupt_of_the_choice_among_equals_costs_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    came = pressed_at(monkeypatch, phases, "break_ties")
    shots = kept(darkfill("plan", request(tmp_path), "--relief"), tmp_path)
    assert came
    assert shots.proof.status == "optimal"


FINISHING = [
    (packing, "toward_transits"),
    (shot_list, "build_steps"),
    (night, "audit_shot_list"),
    (atomic, "_write_new"),
    (atomic, "_sync_folder"),
    (files, "page_text"),
    (plan_view, "plan_view"),
    (PlanFiles, "tell"),
]


@pytest.mark.parametrize(("holder", "name"), FINISHING, ids=[name for _, name in FINISHING])
@pytest.mark.parametrize("times", [1, 2])
def test_interrupt_after_the_search_loses_nothing(
    holder: Any, name: str, times: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    came = pressed_at(monkeypatch, holder, name, times)
    ran = darkfill("plan", request(tmp_path), "--page")
    kept(ran, tmp_path)
    assert came
    assert ran.stdout.startswith("Night of ")


WRITING = ["write_beside_older", "_keep", "write_group", "_write_new", "_sync_folder"]


@pytest.mark.parametrize("name", WRITING)
@pytest.mark.parametrize("times", [1, 2])
def test_interrupt_while_an_older_plan_is_renamed_loses_neither(
    name: str, times: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert darkfill("plan", request(tmp_path), "--page").code == 0
    first = content(tmp_path)
    path = request(tmp_path, ("frames = 50", "frames = 3"))
    came = pressed_at(monkeypatch, shot_files if name == "write_beside_older" else atomic, name, times)
    kept(darkfill("plan", path, "--page"), tmp_path)
    assert came
    after = content(tmp_path)
    for each in (*FILES[:2], "request.2026-11-14.html"):
        assert after[f"{each}.old"] == first[each]
        assert after.get(each) != first[each]


def test_interrupt_while_finishing_leaves_out_page_and_relief(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An older page is not left in the place of the one that was not drawn, nor is it lost."""
    pressed_at(monkeypatch, shot_list, "build_steps")
    monkeypatch.setattr(Night, "ask", None)
    path = request(tmp_path)
    (tmp_path / "request.2026-11-14.html").write_text("old")
    ran = darkfill("plan", path, "--page", "--relief")
    kept(ran, tmp_path)
    assert "stopped by Ctrl-C: the page was left out\n" in ran.stderr
    assert "stopped by Ctrl-C: no relief was looked for\n" in ran.stderr
    assert content(tmp_path)["request.2026-11-14.html.old"] == b"old"
    assert "request.2026-11-14.html" not in content(tmp_path)


def test_interrupt_of_the_search_alone_still_draws_the_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One Ctrl-C means: this plan is good enough. The second means: be quick."""
    pressed_at(monkeypatch, phases, "first_bounds")
    kept(darkfill("plan", request(tmp_path, *MUCH), "--page"), tmp_path)
    assert "request.2026-11-14.html" in content(tmp_path)


def test_interrupt_while_relief_is_asked_for_ends_the_asking(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    came = pressed_at(monkeypatch, Night, "ask")
    swaps = (("floor_deg = 25", "floor_deg = 40"), (MUCH[0][0], ""), ("frames = 50", "frames = 500"))
    shots = kept(darkfill("plan", request(tmp_path, *swaps), "--relief"), tmp_path)
    assert came
    assert [entry.relief for entry in shots.unplanned if not entry.relief] == [None]


# --- before there is a plan ------------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["plan", "windows", "sides"])
def test_interrupt_before_there_is_a_plan_says_that_nothing_was_written(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in (night, window_facts):
        pressed_at(monkeypatch, module, "night_sky")
    ran = darkfill(command, request(tmp_path))
    assert (ran.code, ran.stdout, ran.stderr) == (130, "", "stopped; nothing was written\n")
    assert sorted(content(tmp_path)) == ["request.toml"]


def test_what_fails_because_of_it_is_not_called_a_defect(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Thrown into the waiting for a lock it comes out as `release unlocked lock`."""

    def broken(*_: object) -> None:
        with contextlib.suppress(KeyboardInterrupt):
            press()
        raise RuntimeError("release unlocked lock")

    monkeypatch.setattr(night, "night_sky", broken)
    ran = darkfill("plan", request(tmp_path))
    assert (ran.code, ran.stderr) == (130, "stopped; nothing was written\n")


def test_interrupt_of_a_search_that_leaves_nothing_ends_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`sides` has nothing to keep: its first search must not swallow Ctrl-C and the rest go on."""
    came = pressed_at(monkeypatch, phases, "first_bounds")
    ran = darkfill("sides", request(tmp_path))
    assert came
    assert (ran.code, ran.stdout, ran.stderr) == (130, "", "stopped; nothing was written\n")


# --- the handler -----------------------------------------------------------------------------------------


def test_it_is_thrown_until_there_is_something_to_keep() -> None:
    with pytest.raises(KeyboardInterrupt), ctrl_c.handled():
        press()
    with ctrl_c.handled():
        ctrl_c.heed()
        ctrl_c.keep()
        press()
        press()
        assert ctrl_c.presses() == 2
        with pytest.raises(KeyboardInterrupt):
            ctrl_c.heed()


def test_it_is_thrown_at_the_end_of_what_only_counts() -> None:
    def pressed() -> int:
        press()
        return ctrl_c.presses()

    with pytest.raises(KeyboardInterrupt), ctrl_c.handled(), ctrl_c.counted():
        assert pressed() == 1
    with ctrl_c.counted():  # alone: whoever counts has heeded it
        press()
    with ctrl_c.handled(), ctrl_c.counted():
        ctrl_c.keep()
        press()


def test_a_process_deaf_to_it_stays_so_and_other_threads_set_no_handler() -> None:
    found = []

    def look() -> None:
        with ctrl_c.handled():
            found.append(signal.getsignal(signal.SIGINT))

    thread = threading.Thread(target=look)
    thread.start()
    thread.join()
    assert found == [signal.default_int_handler]
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    look()
    press()
    assert found[1:] == [signal.SIG_IGN]
    signal.signal(signal.SIGINT, signal.default_int_handler)
