"""Jobs of a season for tests: other processes import them by the name of this module."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from optimizer.season.desk import Desk, NightRef


def told(desk: Desk, number: int, folder: Path) -> tuple[int, int]:
    """A number and how many targets there are; each time that this is asked leaves a file."""
    (folder / f"{number}-{time.monotonic_ns()}-{os.getpid()}").touch()
    return number, len(desk.rigs[0].request.targets)


def slowly(desk: Desk, number: int) -> int:
    """The number, the later the smaller it is."""
    del desk
    time.sleep(0.05 if number == 0 else 0.0)
    return number


def slots_of(desk: Desk, refs: Sequence[NightRef]) -> list[int]:
    """How many slots some nights have."""
    return [len(desk.night(ref).problem.slots) for ref in refs]


def pid_of(desk: Desk, ref: NightRef, turn: int) -> int:
    """Which process it is that works on a night, asked anew in each turn."""
    del turn
    desk.night(ref)
    return os.getpid()


def fails(desk: Desk, number: int) -> int:
    """Raise ValueError."""
    del desk
    raise ValueError(f"no answer to {number}")


def fails_once(desk: Desk, number: int, mark: Path) -> int:
    """Raise OSError the first time, then the number."""
    del desk
    if not list(mark.iterdir()):
        (mark / "failed").touch()
        raise OSError(f"no room for {number}")
    return number


def naps(desk: Desk, number: int, seconds: float, mark: Path) -> int:
    """The number, after a while; each time that this is asked leaves a file."""
    del desk
    (mark / f"{number}-{time.monotonic_ns()}").touch()
    time.sleep(seconds)
    return number


def dies(desk: Desk, number: int, mark: Path, times: int) -> int:
    """Kill the process that works, so many times; then the number."""
    del desk
    if len(list(mark.iterdir())) < times:
        (mark / str(time.monotonic_ns())).touch()
        os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))
    return number


def sleeps(desk: Desk, seconds: float, mark: Path) -> int:
    """Say which process it is, then sleep."""
    del desk
    (mark / str(os.getpid())).touch()
    time.sleep(seconds)
    return os.getpid()


def unstorable(desk: Desk) -> Any:
    """An answer that cannot be kept."""
    return lambda: desk
