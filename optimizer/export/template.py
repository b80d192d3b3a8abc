"""A user's own template filled with the views of a plan, in a process that can harm nobody.

A template is a program of a stranger. It is rendered by `template_child` with plain data, no loader, and
limits of steps, memory, output and time; whatever it does comes back as text or as one sentence.
"""

from __future__ import annotations

import contextlib
import importlib.util
import json
import os
import re
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from optimizer import ctrl_c
from optimizer.errors import InputError
from optimizer.export.template_child import FAULT, NAMES_UNCHECKED, NO_ENGINE
from optimizer.models.base import as_json_data
from optimizer.reading.files import read_text, refuse
from optimizer.views.models import PlanView
from optimizer.words import safe

MOST_BYTES: Final = 65_536  # of a template
MOST_OUTPUT_BYTES: Final = 20_000_000
LONGEST_S: Final = 4.0  # by the wall clock, from the start of the process
MOST_CPU_S: Final = 5  # of a process that has lost its parent
MOST_MEMORY_BYTES: Final = 512 * 1024**2
MOST_STEPS: Final = 5_000_000  # of the template engine: about a second
LONGEST_DETAIL = 200  # characters of a fault in the engine's words
ESCAPES: Final = {
    ".xml": "html", ".html": "html", ".htm": "html", ".xhtml": "html", ".svg": "html", ".json": "json",
}  # fmt: skip
NO_MATTER = (".j2", ".jinja", ".jinja2")  # endings behind the one that tells what is written
_CONTROL = re.compile(
    r"[\x00-\x08\x0b\x0e-\x1f\x7f-\x9f]"
)  # all but white space; 20 MB are searched in no time
NO_PACKAGE, INSTALL = "the package minijinja, which renders it, cannot be loaded", "install darkfill anew"
MEND = "mend this line"
NAMES = "`darkfill export SHOTS --as json -o -` shows all names"


@dataclass(frozen=True)
class Template:
    """A template's text, the name by which messages call its file, and how what it prints is escaped."""

    file: str
    text: str
    escape: str | None


def read_template(path: Path) -> Template:
    """Read a template: UTF-8 text of at most `MOST_BYTES` bytes, whose line ends stay as they are.

    Raises InputError where it cannot be read, is too long, in another encoding, empty, or holds a control
    character.
    """
    file = str(path)
    with contextlib.suppress(OSError, ValueError):  # told by what reads it
        size = path.stat().st_size
        if path.is_file() and size > MOST_BYTES:
            what = f"the template has {size} bytes, and it may have {MOST_BYTES}"
            raise refuse(file, what, "check that it is a template, or shorten it")
    text = read_text(path, file, content="the template")
    found = _control(text)
    if found is not None:
        raise refuse(file, f"there is the control character {found[0]}", "remove it", line=found[1])
    return Template(file, text, escape_of(path))


def escape_of(path: Path) -> str | None:
    """Tell by a template's ending how what it prints is escaped: "html" (XML too), "json", or not at all."""
    name = path.with_suffix("") if path.suffix.lower() in NO_MATTER else path
    return ESCAPES.get(name.suffix.lower())


def render(template: Template, view: PlanView, *, longest_s: float = LONGEST_S) -> bytes:
    """Fill a template with a plan's views; returns UTF-8.

    Raises InputError with one sentence where the template is at fault, goes past a limit, or breaks its
    process down; that process has ended by then. Ctrl-C ends it too.
    """
    data = {name: one for name, one in as_json_data(view).items() if re.search(rf"\b{name}\b", template.text)}
    code, output = _run(template, data, longest_s)
    if len(output) > MOST_OUTPUT_BYTES:
        what = f"the template writes more than {MOST_OUTPUT_BYTES // 10**6} MB"
        raise refuse(template.file, what, "let it write less")
    if code == FAULT:
        raise _fault(template, json.loads(output))
    if code is None:
        what = f"the template is not done after {longest_s:g} s, and was stopped"
        raise refuse(template.file, what, "let it do less")
    if code == NO_ENGINE:
        raise refuse(template.file, NO_PACKAGE, INSTALL)
    if code != 0:
        what = "the template broke down the process that renders it"
        remedy = "most likely it nests too deep or takes too much memory: let it do less at once"
        raise refuse(template.file, what, remedy)
    text = output.decode()
    if not text.strip():
        raise refuse(template.file, "the template writes nothing", "check what its conditions ask for")
    found = _control(text)
    if found is not None:
        what = f"the template writes the control character {found[0]} in line {found[1]} of its output"
        raise refuse(template.file, what, "leave it out")
    return output


def _run(template: Template, data: dict[str, Any], longest_s: float) -> tuple[int | None, bytes]:
    """Run the process to its end: its exit code (None: stopped) and what it wrote, cut past the limit."""
    spec = importlib.util.find_spec("minijinja")
    if spec is None or spec.origin is None:
        raise refuse(template.file, NO_PACKAGE, INSTALL)
    asked = {
        "packages": str(Path(spec.origin).parents[1]),
        "template": template.text,
        "escape": template.escape,
        "data": data,
        "fuel": MOST_STEPS,
        "most_bytes": MOST_MEMORY_BYTES,
        "most_cpu_s": MOST_CPU_S,
    }
    until = time.monotonic() + longest_s
    try:
        child = subprocess.Popen(
            [sys.executable, "-I", "-S", "-B", str(Path(__file__).with_name("template_child.py"))],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # what breaks down may write the template's own text there
            cwd=os.sep,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
    except OSError as error:
        what = f"no process could be started to render it ({error.strerror})"
        raise refuse(template.file, what, "end some programs and try again") from error
    pipes = _Pipes(child, json.dumps(asked).encode())
    try:
        in_time = pipes.done_before(until)
        if in_time and len(pipes.output) <= MOST_OUTPUT_BYTES:
            with contextlib.suppress(subprocess.TimeoutExpired):
                return child.wait(timeout=max(0.0, until - time.monotonic())), pipes.output
        return None, pipes.output
    finally:
        child.kill()
        child.wait()
        pipes.close()


class _Pipes:
    """Both pipes of a process, each served by a thread, so that neither can hold this one up."""

    def __init__(self, child: subprocess.Popen[bytes], asked: bytes) -> None:
        """Begin to feed and to read."""
        self.output = b""
        self._child, self._asked = child, asked
        self._threads = [threading.Thread(target=each, daemon=True) for each in (self._feed, self._read)]
        for thread in self._threads:
            thread.start()

    def done_before(self, until: float) -> bool:
        """Wait until all is read, but no longer than to a reading of `time.monotonic`; whether it is."""
        reader = self._threads[1]
        while reader.is_alive() and (left := until - time.monotonic()) > 0:
            reader.join(min(left, ctrl_c.POLL_S))
        return not reader.is_alive()

    def close(self) -> None:
        """Let both threads end, once the process has ended, and close what is open."""
        for thread in self._threads:
            thread.join()

    def _feed(self) -> None:
        if self._child.stdin is not None:
            with contextlib.suppress(OSError), self._child.stdin as pipe:
                pipe.write(self._asked)

    def _read(self) -> None:
        if self._child.stdout is not None:
            with self._child.stdout as pipe:
                self.output = pipe.read(MOST_OUTPUT_BYTES + 1)


def _fault(template: Template, fault: dict[str, Any]) -> InputError:
    """Turn what the engine says of a template into one sentence with its line and what would help."""
    kind, line = fault["kind"], fault["line"]
    detail = safe(str(fault["detail"])[:LONGEST_DETAIL])
    remedy = MEND
    if kind == "UndefinedError":
        remedy = NAMES
    elif kind == "OutOfFuel":
        detail, remedy = (
            "the template asks for more work than it may",
            "loop over visits, blocks or steps once",
        )
    elif kind == "TemplateNotFound":
        detail = "a template stands alone: include, import and extends find nothing"
        remedy = "write here what the other file holds"
    elif kind == "UnknownMethod":
        remedy = "use a filter in its place, as in {{ name|upper }}"
    elif kind == "UnknownFilter" and any(f" {name} " in f" {detail} " for name in NAMES_UNCHECKED):
        detail += ": a key in quotes would not be checked"
        remedy = "use {% for ... if ... %}"
    return refuse(template.file, detail, remedy, line=line)


def _control(text: str) -> tuple[str, int] | None:
    """Find the first control character that is no white space, as `U+001B`, and its line from 1."""
    found = _CONTROL.search(text)
    return None if found is None else (f"U+{ord(found[0]):04X}", text.count("\n", 0, found.start()) + 1)
