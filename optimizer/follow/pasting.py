"""The words of a command -> lines that can be pasted into a shell."""

from __future__ import annotations

import os
import shlex
import subprocess
from collections.abc import Sequence

INDENT = "  "
LEAST_PIECE = 12  # letters of a word that is folded


def pasted_lines(words: Sequence[str], width: int, *, windows: bool = os.name == "nt") -> list[str]:
    """Quote and fold the words for a shell: by the rules of Windows, or those of POSIX.

    Each line but the last ends with the sign by which the shell goes on. On Windows a word that is longer
    than the width is left whole.
    """
    goes_on = " `" if windows else " \\"
    lines = [""]
    for word in words:
        quoted = subprocess.list2cmdline([word]) if windows else shlex.quote(word)
        if lines[-1] and len(lines[-1]) + 1 + len(quoted) + len(goes_on) > width:
            lines[-1] += goes_on
            lines.append(INDENT)
        elif lines[-1]:
            lines[-1] += " "
        room = width - len(lines[-1]) - len(goes_on)
        if windows or len(quoted) <= room:
            lines[-1] += quoted
            continue
        first, *others = _pieces(word, max(LEAST_PIECE, room))
        lines[-1] += first
        for piece in others:  # a line that begins with no blank goes on with the word
            lines[-1] += "\\"
            lines.append(piece)
    return lines


def _pieces(word: str, room: int) -> list[str]:
    """A word in pieces quoted for a POSIX shell, each about as wide as there is room."""
    letters = room - 2  # quotes come on top
    pieces = (word[start : start + letters] for start in range(0, len(word), letters))
    return [shlex.quote(piece) for piece in pieces]
