"""How failures reach people: words on stderr, a distinct exit code, never a traceback."""

from __future__ import annotations

import functools
import os
import sys
from collections.abc import Callable
from enum import IntEnum
from typing import Any


class ExitCode(IntEnum):
    """What the process's exit code says."""

    DONE = 0
    BAD_INPUT = 2
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
    from optimizer.models.base import InputError

    try:
        return int(command(*args, **kwargs))
    except InputError as error:
        say(str(error))
        return ExitCode.BAD_INPUT
    except KeyboardInterrupt:
        say("stopped; nothing was written")
        return ExitCode.INTERRUPTED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # whoever read the output has gone; so do we, quietly
        return ExitCode.DONE
    except OSError as error:
        say(f"the system refused: {error}")
        return ExitCode.INTERNAL
    except Exception as error:
        if os.environ.get("DARKFILL_TRACEBACK"):
            raise
        say(f"internal failure: {type(error).__name__}: {error}")
        say("this is a defect of darkfill, not of your request; DARKFILL_TRACEBACK=1 shows where it happened")
        return ExitCode.INTERNAL
