"""How failures reach people: words on stderr, a distinct exit code, never a traceback."""

from __future__ import annotations

import functools
import os
import sys
from collections.abc import Callable
from enum import IntEnum
from typing import Any

from optimizer import ctrl_c


class ExitCode(IntEnum):
    """What the process's exit code says."""

    DONE = 0
    BAD_INPUT = 2  # or output that its place refuses
    NOTHING_TO_SCHEDULE = 3
    VIOLATIONS = 4
    INTERNAL = 5
    INTERRUPTED = 130  # as shells have it for Ctrl-C


def say(text: str) -> None:
    """A message for people."""
    print(text, file=sys.stderr)


def told(command: Callable[..., ExitCode]) -> Callable[..., None]:
    """Wrap a command: its exit code ends the process, every failure is told in words."""

    @functools.wraps(command)
    def run(*args: Any, **kwargs: Any) -> None:
        sys.exit(_code(command, args, kwargs))

    run.__annotations__ = {**command.__annotations__, "return": None}
    return run


def _code(command: Callable[..., ExitCode], args: tuple[Any, ...], kwargs: dict[str, Any]) -> int:
    heard = ctrl_c.Heard()
    try:
        with ctrl_c.handled() as heard:
            return int(command(*args, **kwargs))
    except KeyboardInterrupt:
        return stopped()
    except Exception as error:
        if heard.thrown and not heard.kept:  # what it hit may have failed in its own words
            return stopped()
        return _failed(error)


def stopped() -> ExitCode:
    """Say that Ctrl-C came while there was nothing to keep."""
    say("stopped; nothing was written")
    return ExitCode.INTERRUPTED


def _failed(error: Exception) -> ExitCode:
    from optimizer.errors import ClusterError, InputError, OutputError, UnauditedError, WorkerLostError

    if isinstance(error, InputError | OutputError | ClusterError):
        say(str(error))
        return ExitCode.BAD_INPUT
    if isinstance(error, UnauditedError) and error.violations:
        say(str(error))
        return ExitCode.VIOLATIONS
    if isinstance(error, BrokenPipeError):
        return ExitCode.DONE  # whoever read the output has gone; so do we, quietly
    if isinstance(error, WorkerLostError):
        say(str(error))
        return ExitCode.INTERNAL
    if isinstance(error, OSError):
        say(f"the system refused: {error}")
        return ExitCode.INTERNAL
    if os.environ.get("DARKFILL_TRACEBACK"):
        raise error
    say(f"internal failure: {type(error).__name__}: {error}")
    say("this is a defect of darkfill, not of your request; DARKFILL_TRACEBACK=1 shows where it happened")
    return ExitCode.INTERNAL
