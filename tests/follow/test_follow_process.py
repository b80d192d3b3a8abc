"""`darkfill follow` as a process of its own: on a terminal and in a pipe, until Ctrl-C comes."""

from __future__ import annotations

import os
import pty
import re
import signal
import subprocess
import sys

import pytest

from tests.support.follow_clock import BUSY, PATH
from tests.support.speeds import deep

pytestmark = deep

# The clock of the process goes on from the middle of the stored night.
CODE = f"""\
import datetime as dt, sys, time
from optimizer.reading import evening
began, zero = time.monotonic(), dt.datetime.fromisoformat('{BUSY.isoformat()}')
evening.utc_now = lambda: zero + dt.timedelta(seconds=time.monotonic() - began)
from optimizer.cli.start import main
main()
"""
COMMAND = [sys.executable, "-c", CODE, "follow", str(PATH)]


def test_ctrl_c_in_a_pipe_ends_it_well() -> None:
    with subprocess.Popen(COMMAND, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        first = process.stdout.readline().decode()
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=60)
    assert re.fullmatch(r"[0-9:]{8}, night of 2026-10-10 at Heron Flat\n", first)
    assert (process.returncode, err) == (0, b"")


@pytest.mark.parametrize("term", ["xterm-256color", "dumb"])
def test_ctrl_c_on_a_terminal_ends_it_well_and_leaves_the_last_view(term: str) -> None:
    ours, its = pty.openpty()
    env = {**os.environ, "TERM": term, "COLUMNS": "80", "LINES": "30"}
    with subprocess.Popen(
        COMMAND, stdin=its, stdout=its, stderr=its, env=env, start_new_session=True
    ) as process:
        os.close(its)
        out, pressed = b"", False
        while True:
            try:
                got = os.read(ours, 65536)
            except OSError:  # the process has ended and closed its side
                break
            if not got:
                break
            out += got
            if not pressed and (out.count(b", night of") > 2 or (term == "dumb" and b"replan" in out)):
                process.send_signal(signal.SIGINT)
                pressed = True
        code = process.wait(60)
    os.close(ours)
    text = out.decode()
    assert pressed
    assert code == 0
    assert "Traceback" not in text
    last = text[text.rindex(", night of 2026-10-10") :]
    assert "darkfill replan" in last
    assert ("\x1b" in text) is (term != "dumb")
    assert not last.rstrip().endswith("\x1b[?25l")
