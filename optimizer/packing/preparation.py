"""The compiled loops made ready: loaded from the disk, or compiled in processes of their own the first time.

    with Preparation(by_time=False) as preparation:
        while preparation.is_going_on:      # this process is free for something else
            ...
        preparation.finish()

The first plan after an installation so need not wait for the compiler, and Ctrl-C need not either. Where
machine code cannot be kept on disk, or no process can be started, `finish` compiles in this one.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any, Self

from numba.core import event

from optimizer import ctrl_c
from optimizer.packing import compiled, warming
from optimizer.packing.compiling import COMPILING
from optimizer.packing.warming import PARTS, run_loops

PACKAGE = __name__.partition(".")[0]
LONGEST_S = 180.0  # that other processes are waited for; then this one compiles
_ready: set[bool] = set()  # by depth, by hours: for which of the two the loops are here


class _MissingError(Exception):
    """A loop is not on the disk; nothing has been compiled yet."""


class _Refusal(event.Listener):
    """Lets nothing of this package be compiled in the thread in which it was made."""

    def __init__(self) -> None:
        self._thread = threading.get_ident()

    def on_start(self, event: Any) -> None:
        """Hear that the compiler is about to begin."""
        ours = event.data["dispatcher"].py_func.__module__.startswith(f"{PACKAGE}.")
        if ours and threading.get_ident() == self._thread:
            raise _MissingError

    def on_end(self, event: Any) -> None:
        """Hear that it has ended."""


class Preparation:
    """Loops on their way to be ready for nights of one aim. Raises nothing where other processes fail."""

    def __init__(self, *, by_time: bool) -> None:
        """Load what is there; begin with the rest as the block is entered."""
        self._by_depth = by_time
        self._children: list[subprocess.Popen[bytes]] = []
        self._until = time.monotonic() + LONGEST_S

    @property
    def is_going_on(self) -> bool:
        """Whether other processes are compiling."""
        going = [child for child in self._children if child.poll() is None]
        return bool(going) and time.monotonic() < self._until

    def __enter__(self) -> Self:
        """Start the processes, where a loop is missing."""
        if not (self._by_depth in _ready or self._loaded()):
            kept = compiled.kept_in() is not None
            COMPILING.begin(kept=kept)
            if kept and is_python(sys.executable):
                self._start()
        return self

    def __exit__(self, *error: object) -> None:
        """End the processes, whatever they have done."""
        for child in self._children:
            child.kill()
            child.wait()
            if child.stdin is not None:
                child.stdin.close()
        self._children.clear()
        COMPILING.end()

    def finish(self) -> None:
        """Wait for the processes, then load what they compiled, and compile here what they did not.

        Ctrl-C ends the waiting at once, the compiling after one part; it raises KeyboardInterrupt.
        """
        while self.is_going_on:
            ctrl_c.heed()
            time.sleep(ctrl_c.POLL_S)
        for part in PARTS if self._by_depth not in _ready else ():
            ctrl_c.heed()
            run_loops(part, by_time=self._by_depth)
        _ready.add(self._by_depth)

    def _loaded(self) -> bool:
        """Whether all is there."""
        try:
            with event.install_listener("numba:compile", _Refusal()):
                for part in PARTS:
                    run_loops(part, by_time=self._by_depth)
        except _MissingError:
            return False
        _ready.add(self._by_depth)
        return True

    def _start(self) -> None:
        root = str(Path(ctrl_c.__file__).parents[1])
        paths = [root, *filter(None, [os.environ.get("PYTHONPATH")])]
        for part in PARTS:
            try:
                child = subprocess.Popen(
                    _command(part, by_time=self._by_depth),
                    stdin=subprocess.PIPE,  # it ends when this is closed, so with this process at the latest
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                    env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
                    creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
                )
            except OSError:
                return
            self._children.append(child)


def _command(part: str, *, by_time: bool) -> list[str]:
    return [sys.executable, "-m", warming.__name__, part, "depth" if by_time else "hours"]


def is_python(program: str | None) -> bool:
    """Whether a program is an interpreter: within another application it may be that application itself."""
    return bool(program) and Path(str(program)).name.lower().startswith(("python", "pypy"))
