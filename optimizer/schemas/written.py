"""How people write what is text in a file: patterns of names, dates, instants and angles.

They hold in every dialect of regular expressions: no names, no looking around.
"""

from __future__ import annotations

_CONTROL = r"\u0000-\u001f\u007f-\u009f\u2028\u2029"
NAME = rf"^[^{_CONTROL}]*[^{_CONTROL}\s][^{_CONTROL}]*$"
MAYBE_NAME = rf"^$|{NAME}"

_DAY = r"(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])"
EVENING = rf"^(19(7[3-9]|[89][0-9])|20[0-9][0-9]|2100)-{_DAY}$"
_DATE = rf"(19(7[2-9]|[89][0-9])|20[0-9][0-9]|210[01])-{_DAY}"
_ZONE = r"([Zz]|[+\-][0-9]{2}:?[0-9]{2})"
INSTANT = rf"^\s*({_DATE}[Tt ]\s*)?([01]?[0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?\s*{_ZONE}?\s*$"
WHOLE_INSTANT = rf"^\s*{_DATE}[Tt ]([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?{_ZONE}\s*$"

_SEXTIETH = r"[0-5]?[0-9](\.[0-9]+)?"


def angle(units: str, letters: str = "", *, unit_needed: bool = False) -> str:
    """Make the pattern of an angle whose first number has one of these units behind it.

    A blank between two numbers stands for a colon.
    """
    seconds = rf"({_SEXTIETH}\s*(s|\"|″|”|'')?)?"
    minutes = rf"{_SEXTIETH}\s*([m'′’:\s]\s*{seconds})?"
    rest = rf"\s*[{units}]\s*({minutes})?|\s+{minutes}"
    behind = rf"({rest})" if unit_needed else rf"({rest})?"
    letter = rf"[{letters}]?\s*" if letters else ""
    return rf"^\s*[+\-−]?\s*[0-9]{{1,3}}(\.[0-9]+)?{behind}\s*{letter}$"


RA = angle("hd°:", unit_needed=True)
DEC = angle("d°:")
LATITUDE = angle("d°:", "NS")
LONGITUDE = angle("d°:", "EW")
