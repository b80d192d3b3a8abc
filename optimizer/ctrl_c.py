"""Ctrl-C by count: thrown while there is nothing to keep, looked at where it suits afterwards.

An exception between any two instructions can break what it hits: a lock of the standard library is then
released twice, a plan is lost between two lines that hold it. So the one handler counts. It also throws
KeyboardInterrupt, but only until `keep` is called; from then on long work calls `heed` where it can be left.
"""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from types import FrameType

POLL_S = 0.1  # how often a wait looks whether Ctrl-C has come; one without end is deaf to it on Windows


@dataclass
class Heard:
    """What became of Ctrl-C in one command."""

    presses: int = 0
    throws: bool = False
    thrown: bool = False
    kept: bool = False

    def hear(self, number: int, frame: FrameType | None) -> None:
        """Handle the signal: runs between two instructions of the main thread, so it does next to nothing."""
        del number, frame
        self.presses += 1
        if self.throws:
            self.thrown = True
            raise KeyboardInterrupt


_now: Heard | None = None  # of the handler that is set; signals are the process's, and so is this


def install() -> bool:
    """Set the handler for the rest of the process, counting only; whether that is possible here.

    It is not where another one is set already, outside the main thread, and where the process was started
    deaf to Ctrl-C (as shells start what runs in the background).
    """
    global _now
    if _now is not None or threading.current_thread() is not threading.main_thread():
        return False
    if signal.getsignal(signal.SIGINT) in (signal.SIG_IGN, None):
        return False
    _now = Heard()
    signal.signal(signal.SIGINT, _now.hear)
    return True


@contextlib.contextmanager
def handled() -> Iterator[Heard]:
    """Within the block Ctrl-C raises KeyboardInterrupt until `keep` is called, and is counted afterwards.

    The handler that was set before is set again at the end, unless `install` set this one for good.
    """
    global _now
    before = signal.getsignal(signal.SIGINT)
    own = install()
    heard = Heard() if _now is None else _now
    try:
        heard.throws = True
        if heard.presses:  # it came before the block
            heard.thrown = True
            raise KeyboardInterrupt
        yield heard
    finally:
        heard.throws = False
        if own:
            signal.signal(signal.SIGINT, before)
            _now = None


@contextlib.contextmanager
def counted() -> Iterator[None]:
    """Within the block Ctrl-C is only counted; at its end it is thrown, unless `keep` was called meanwhile.

    Where no handler of ours is set, one is for the block alone, and nothing is thrown at its end: what was
    done in the block has heeded it.
    """
    global _now
    before = signal.getsignal(signal.SIGINT)
    own = install()
    heard = Heard() if _now is None else _now
    throws, heard.throws = heard.throws, False
    try:
        yield
    finally:
        heard.throws = throws and not heard.kept
        if own:
            signal.signal(signal.SIGINT, before)
            _now = None
    if heard.throws and heard.presses:
        heard.thrown = True
        raise KeyboardInterrupt


def keep() -> None:
    """Say that from now on there is something to keep: Ctrl-C is counted and no longer thrown."""
    if _now is not None:
        _now.throws, _now.kept = False, True


def presses() -> int:
    """How often Ctrl-C came so far."""
    return 0 if _now is None else _now.presses


def heed() -> None:
    """Raise KeyboardInterrupt where Ctrl-C has come; for the main thread, at a place that can be left."""
    if presses():
        raise KeyboardInterrupt


def ignore() -> None:
    """Be deaf to Ctrl-C for what is left of the process; only in the main thread."""
    if _now is not None:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
