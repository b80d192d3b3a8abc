"""The process in which a user's template is rendered: it holds that template and plain data, nothing else.

It is started as a file with `python -I -S`, so it imports nothing of this package. It reads one JSON object
from stdin: `packages` (the folder in which the template engine lies), `template`, `escape` ("html", "json" or
null), `data`, and `fuel`, `most_bytes` and `most_cpu_s` (limits of steps, memory and processor time). What is
rendered goes to stdout as UTF-8 and the exit code is 0. Where the template is at fault, the exit code is
`FAULT` and stdout holds a JSON object with `kind`, `line` (from 1, or null) and `detail`. `NO_ENGINE` says
that the engine cannot be loaded. Whatever else goes wrong ends the process in its own way; the parent has one
sentence for it.
"""

from __future__ import annotations

import contextlib
import json
import re
import sys
from collections.abc import Iterable
from typing import Any

FAULT, NO_ENGINE = 3, 4  # exit codes
# These take a key as quoted text and pass over one that is not there: a slip would go unseen.
NAMES_UNCHECKED = ("groupby", "map", "rejectattr", "selectattr", "sort", "sum", "unique")


def main() -> int:
    """Render what stdin holds; returns the exit code."""
    asked = json.loads(sys.stdin.buffer.read())
    sys.path.append(asked["packages"])
    try:
        from minijinja import Environment, TemplateError
    except ImportError:
        return NO_ENGINE
    _limit(asked["most_bytes"], asked["most_cpu_s"])
    escape = asked["escape"]
    environment = Environment(
        undefined_behavior="strict",
        fuel=asked["fuel"],
        debug=True,  # a fault then names what is not there
        pycompat=False,
        keep_trailing_newline=True,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_escape_callback=lambda name: escape,
        finalizer=None if escape == "json" else written,
        filters={"join": join},
    )
    for name in NAMES_UNCHECKED:
        environment.remove_filter(name)
    environment.remove_global("debug")
    # The data come as literals of the template's own language, on a line before its first: objects of Python
    # would be live in it, with attributes to walk along.
    data = "".join(f"{{% set {name} = {literal(value)} %}}" for name, value in asked["data"].items())
    try:  # the remark, as any tag, takes the line end behind it away
        text = environment.render_str(f"{data}{{##}}\n{asked['template']}", "template")
    except TemplateError as error:
        if error.message.startswith("panic"):  # the engine itself is at its end
            raise
        line = None if error.line is None else max(1, error.line - 1)
        detail = error.detail or re.sub(r" \(in template:\d+\)$", "", error.message)
        return _told({"kind": error.kind, "line": line, "detail": detail})
    except (TypeError, ValueError) as error:  # a value that cannot be passed on to be printed
        return _told({"kind": type(error).__name__, "line": None, "detail": str(error)})
    sys.stdout.buffer.write(text.encode())
    return 0


def _told(fault: dict[str, Any]) -> int:
    sys.stdout.buffer.write(json.dumps(fault).encode())
    return FAULT


def literal(value: Any) -> str:
    """Write plain data in the template's language, whole numbers without `.0`, text with ASCII alone."""
    if value is None:
        return "none"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(key)}: {literal(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(literal, value)) + "]"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return json.dumps(value)


def written(value: Any) -> Any:
    """Turn a value into what a template prints for it: null as nothing, truth in small letters, 5.0 as 5."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    return value


def join(values: Iterable[Any], between: str = "") -> str:
    """Join values with a text between, each as a template prints it."""
    return str(between).join(str(written(value)) for value in values)


def _limit(most_bytes: int, most_cpu_s: int) -> None:
    """Limit what the system lets limit: memory, processor time; no file written, no process, no core file."""
    if sys.platform == "win32":
        return
    import resource

    limits = {"AS": most_bytes, "CPU": most_cpu_s, "FSIZE": 0, "NPROC": 0, "CORE": 0}
    for name, most in limits.items():
        which = getattr(resource, f"RLIMIT_{name}", None)
        if which is not None:
            with contextlib.suppress(OSError, ValueError):  # macOS refuses some
                resource.setrlimit(which, (most, most))


if __name__ == "__main__":
    sys.exit(main())
