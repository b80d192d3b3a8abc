"""Names are data: any script, any length up to 300, but nothing that drives a terminal or breaks a line."""

from __future__ import annotations

import pytest
from pydantic import TypeAdapter, ValidationError

from optimizer.models.base import Name
from optimizer.models.shots import Text

NAME, TEXT = TypeAdapter(Name), TypeAdapter(Text)


@pytest.mark.parametrize(
    "name",
    [
        "L",
        "Hα",
        "銀河",
        "שלום",
        "\u202eabc",
        "a\u200db",
        "👩\u200d🚀",
        " L ",
        "N" * 300,
        "=1+1",
        "'",
        '"',
        "<b>&",
    ],
)
def test_names_that_are_only_unusual_are_taken_unchanged(name: str) -> None:
    assert NAME.validate_python(name) == name


@pytest.mark.parametrize(
    "char", ["\x00", "\t", "\n", "\r", "\x1b", "\x7f", "\x85", "\x9b", "\u2028", "\u2029"]
)
def test_control_characters_are_refused_by_their_number(char: str) -> None:
    with pytest.raises(ValidationError, match=f"the control character U\\+{ord(char):04X}; remove it"):
        NAME.validate_python(f"a{char}b")


@pytest.mark.parametrize("name", ["", " ", "\u3000", "N" * 301])
def test_names_that_nobody_can_see_or_read_are_refused(name: str) -> None:
    with pytest.raises(ValidationError):
        NAME.validate_python(name)


def test_notes_may_have_lines_but_no_escapes() -> None:
    """A note comes from a cell, in which a spreadsheet allows line breaks and tabs."""
    assert TEXT.validate_python("two\r\nlines\tof text") == "two\r\nlines\tof text"
    for char in ("\x00", "\x1b", "\x9b", "\x7f"):
        with pytest.raises(ValidationError, match="control character"):
            TEXT.validate_python(f"a{char}")
