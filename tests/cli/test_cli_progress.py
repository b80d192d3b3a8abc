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
from optimizer.packing import warming


@pytest.mark.parametrize(
    ("value_h", "bound_h", "told"),
    [
        (8.0, 8.2, "3/20 s: 8.00 h of at most 8.20 h, gap 2.5 %; Ctrl-C keeps it"),
        (4.0, 8.0, "3/20 s: 4.00 h of at most 8.00 h, gap 100.0 %; Ctrl-C keeps it"),
        (0.5, 8.0, "3/20 s: 0.50 h of at most 8.00 h; Ctrl-C keeps it"),
        (0.0, 8.0, "3/20 s: 0.00 h of at most 8.00 h; Ctrl-C keeps it"),
    ],
)
def test_hours_are_told_and_a_gap_that_means_something(value_h: float, bound_h: float, told: str) -> None:
    teller = Teller(20)
    teller.tell(3.0, value_h * 3600, bound_h * 3600)
    assert teller.text(3.2) == told


def test_compiling_is_told_apart_and_does_not_count(monkeypatch: pytest.MonkeyPatch) -> None:
    """Forty seconds of compiling under a limit of 20 are none of the search's."""
    clock = [1000.0]
    monkeypatch.setattr(time, "monotonic", lambda: clock[0])
    teller = Teller(20, 998.0)  # the command began two seconds ago
    told: list[str] = []

    def compiling(*, by_depth: bool) -> None:
        assert by_depth
        clock[0] += 1.0
        told.append(teller.text(3.0))
        clock[0] += 39.0
        told.append(teller.text(42.0))

    monkeypatch.setattr(warming, "make_ready", compiling)
    assert teller.make_ready(by_depth=True) == 1038.0
    assert told == [
        "making the search ready",
        "40 s: compiling the search's loops, once after an installation",
    ]
    assert teller.text(clock[0] - teller.began) == "2/20 s: looking for a first plan"
    assert progress.LOADING_S < 40


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
