"""The command to paste comes out of a shell as it went in."""

from __future__ import annotations

import subprocess

import pytest

from optimizer.follow.pasting import pasted_lines


@pytest.mark.parametrize("width", [16, 30, 60, 200])
def test_command_pasted_into_a_shell_is_the_words_it_was_made_of(width: int) -> None:
    words = ("printf", "%s\\n", "it's here/my list.json", "--done", "1-20,22-41", "$HOME", "a b")
    script = "\n".join(pasted_lines(words, width, windows=False))
    assert width < 60 or max(map(len, script.splitlines())) <= width
    ran = subprocess.run(["sh", "-c", script], capture_output=True, text=True, check=True)
    assert ran.stdout.splitlines() == list(words[2:])


def test_command_for_windows_is_quoted_and_folded_as_its_shell_has_it() -> None:
    words = ("darkfill", "replan", "C:\\my lists\\a.json", "--now", "01:20:00")
    assert pasted_lines(words, 100, windows=True) == ['darkfill replan "C:\\my lists\\a.json" --now 01:20:00']
    assert pasted_lines(words, 40, windows=True) == [
        'darkfill replan "C:\\my lists\\a.json" `',
        "  --now 01:20:00",
    ]
