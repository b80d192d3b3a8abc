"""The progress line tells compiling and searching apart, and no percentage that says nothing."""

from __future__ import annotations

import io
import os
import sys
import termios
import time

import pytest

from optimizer.cli import progress
from optimizer.cli.progress import Step, Teller
from optimizer.packing.compiling import COMPILING


@pytest.mark.parametrize(
    ("value_h", "bound_h", "told"),
    [
        (8.0, 8.2, "3/20 s: value 8.00 h of at most 8.20 h, gap 2.5 %; Ctrl-C keeps it"),
        (4.0, 8.0, "3/20 s: value 4.00 h of at most 8.00 h, gap 100.0 %; Ctrl-C keeps it"),
        (0.5, 8.0, "3/20 s: value 0.50 h of at most 8.00 h; Ctrl-C keeps it"),
        (0.0, 8.0, "3/20 s: value 0.00 h of at most 8.00 h; Ctrl-C keeps it"),
    ],
)
def test_hours_are_told_and_a_gap_that_means_something(value_h: float, bound_h: float, told: str) -> None:
    teller = Teller(20)
    teller.tell(3.0, value_h * 3600, bound_h * 3600)
    assert teller.text(3.2) == told


def test_compiling_is_told_apart_and_does_not_count(monkeypatch: pytest.MonkeyPatch) -> None:
    """Forty seconds of compiling under a limit of 20 are none of the search's; the plan at hand is told."""
    clock = [1000.0]
    monkeypatch.setattr(time, "monotonic", lambda: clock[0])
    teller = Teller(20, 998.0)  # the command began two seconds ago
    COMPILING.begin(kept=True)
    clock[0] += 20.0
    assert teller.text(22.0) == "compiling: looking for a first plan"
    teller.tell(22.0, 8.0 * 3600, 8.2 * 3600)
    assert teller.text(22.0) == "compiling: value 8.00 h of at most 8.20 h, gap 2.5 %; Ctrl-C keeps it"
    clock[0] += 20.0
    COMPILING.end()
    assert teller.text(42.0) == "2/20 s: value 8.00 h of at most 8.20 h, gap 2.5 %; Ctrl-C keeps it"


@pytest.mark.parametrize(("kept", "words"), [(True, progress.FIRST_RUN), (False, progress.EVERY_RUN)])
def test_why_it_takes_longer_is_said_once_and_stays(
    kept: bool, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(progress, "TICK_S", 0.01)
    told = _Told()
    monkeypatch.setattr(sys, "stderr", told)
    teller = Teller(20)
    COMPILING.begin(kept=kept)
    try:
        with teller:
            while told.getvalue().count("looking for") < 3:
                time.sleep(0.01)
    finally:
        COMPILING.end()
    assert told.getvalue().count(f"\r{words}\n") == told.getvalue().count("\n") == 1
    assert ("once" in words) is kept
    assert ("which the time limit does not count" in words) is kept


def test_nothing_is_said_where_nothing_is_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress, "TICK_S", 0.01)
    told = _Told()
    monkeypatch.setattr(sys, "stderr", told)
    with Teller(20):
        while told.getvalue().count("looking for") < 3:
            time.sleep(0.01)
    assert "\n" not in told.getvalue()


class _Told(io.StringIO):
    """A terminal that keeps what it is told."""

    def isatty(self) -> bool:
        return True


class _Terminal(io.StringIO):
    def __init__(self, handle: int) -> None:
        super().__init__()
        self.handle = handle

    def isatty(self) -> bool:
        return True

    def fileno(self) -> int:
        return self.handle


@pytest.mark.parametrize(("columns", "width"), [(40, 39), (200, 78), (0, 78)])
def test_line_stays_on_one_row_of_the_terminal(
    monkeypatch: pytest.MonkeyPatch, columns: int, width: int
) -> None:
    """On a narrow one it would begin a new row every half second; one that does not know its width says 0."""
    ours, theirs = os.openpty()
    termios.tcsetwinsize(theirs, (24, columns))
    terminal = _Terminal(theirs)
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setattr(progress, "TICK_S", 0.001)
    step = Step(3, "Ctrl-C keeps the plan")
    step.tell("a name that is much longer than any terminal of forty columns could ever show at once")
    with step:
        while terminal.getvalue().count("\r") < 3:
            time.sleep(0.001)
    os.close(ours)
    os.close(theirs)
    *rows, last = terminal.getvalue().split("\r")[1:]
    assert {len(row) for row in rows} == {width}
    assert rows[0].startswith("0 s: 1 of 3, Ctrl-C keeps the plan: a")
    assert rows[-1].strip() == last == ""  # wiped, and the cursor is back at the edge


def test_nothing_is_shown_where_stderr_is_no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(progress, "TICK_S", 0.001)
    with Step(3) as step:
        step.tell("this")
        time.sleep(0.02)
    assert stream.getvalue() == ""
