"""Words for people: values, units, keys, numbers and places in the sky, safe to print on a terminal."""

from __future__ import annotations

import datetime as dt
import math
import re
import unicodedata
import zoneinfo
from collections.abc import Iterable
from typing import Any, Final

KeyPath = tuple[str | int, ...]

LONGEST_VALUE = 60  # characters of a value that a message repeats
_UNPRINTABLE = {"Cc", "Cf", "Zl", "Zp", "Cs", "Co", "Cn"}
UNIT_BY_SUFFIX = {
    "_deg_s": "degrees per second",
    "_deg": "degrees",
    "_min": "minutes",
    "_mag": "magnitudes",
    "_hpa": "hectopascals",
    "_c": "degrees Celsius",
    "_m": "metres",
    "_h": "hours",
    "_s": "seconds",
}
# by hand: the platform's names follow its language
MONTHS: Final = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


def safe(text: str) -> str:
    """Write as an escape each character that could drive a terminal or turn its lines around."""
    return "".join(
        f"\\u{ord(char):04x}" if unicodedata.category(char) in _UNPRINTABLE else char for char in text
    )


def quoted(text: str) -> str:
    """Put a text in double quotes, made safe for a terminal and cut to `LONGEST_VALUE` characters."""
    if len(text) > LONGEST_VALUE:
        text = text[: LONGEST_VALUE - 3] + "..."
    return '"' + safe(text.replace("\\", "\\\\").replace('"', '\\"')) + '"'


def shown(value: Any) -> str:
    """Write a value as a person would in a file.

    The answer is empty for a table and for a list of tables; a long list is told by its length.
    """
    if isinstance(value, bool) or value is None:
        return {True: "true", False: "false", None: "null"}[value]
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, int):
        # Python refuses to write out integers of thousands of digits
        return str(value) if abs(value) < 10**30 else f"about 10^{int(abs(value).bit_length() * 0.30103)}"
    if isinstance(value, dt.datetime | dt.date | dt.time):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, list | tuple):
        parts = [shown(part) for part in value[:8]] if len(value) <= 8 else []
        text = f"[{', '.join(parts)}]"
        whole = len(value) <= 8 and all(parts) and len(text) <= LONGEST_VALUE
        return (
            text
            if whole
            else ""
            if any(isinstance(part, dict) for part in value)
            else f"a list of {len(value)}"
        )
    return "" if isinstance(value, dict) else safe(repr(value))[:LONGEST_VALUE]


def folded(name: str) -> str:
    """Write a name without what makes no difference: case, blanks, and ways to write the same sign."""
    return "".join(unicodedata.normalize("NFKC", name).casefold().split())


def key_text(path: KeyPath) -> str:
    """Write a key's path as the file has it, lists counted from 0: `targets[1].goals[0].filter`."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            text += ("." if text else "") + (part if _BARE_KEY.fullmatch(part) else quoted(part))
    return text


def clock_words(instant: dt.datetime, zone_name: str) -> str:
    """A time of day by a zone's clock, with its offset where the clock shows that time twice."""
    local = instant.astimezone(zoneinfo.ZoneInfo(zone_name))
    twice = local.replace(fold=1 - local.fold).utcoffset() != local.utcoffset()
    return f"{local:%H:%M} UTC{local:%z}" if twice else f"{local:%H:%M}"


def date_words(date: dt.date) -> str:
    """A day as people write it, without its year: `14 December`."""
    return f"{date.day} {MONTHS[date.month - 1]}"


def ordinal(index: int) -> str:
    """Count for people what a list counts from 0: `1st` for 0, `2nd` for 1, `11th` for 10."""
    number = index + 1
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def number(value: float) -> str:
    """Write a number without a needless `.0`."""
    return str(int(value)) if value == int(value) and abs(value) < 1e15 else str(value)


def listing(items: Iterable[str], last: str = "or", most: int = 12) -> str:
    """Join words as in `a, b or c`, where `last` is the word before the last one.

    Of more than `most` words the first are written, and how many more there are.
    """
    words = list(items)
    if len(words) > most:
        return ", ".join(words[:most]) + f" (and {len(words) - most} more)"
    return f" {last} ".join(part for part in (", ".join(words[:-1]), "".join(words[-1:])) if part)


def said(text: str) -> tuple[str, str]:
    """Part a validator's text, `what is wrong; the remedy`, into these two; a missing remedy is empty."""
    message, _, remedy = text.partition("; ")
    return message, remedy


def unit_of(key: str) -> str:
    """Read the unit of a key from its name (`exposure_s` -> `seconds`); empty where the key has none."""
    leaf = key.rsplit(".", 1)[-1]
    return next((unit for suffix, unit in UNIT_BY_SUFFIX.items() if leaf.endswith(suffix)), "")


def sexagesimal(value: float, unit: str, *, signed: bool = False, decimals: int = 0) -> str:
    """Write hours or degrees with minutes and seconds, rounded: `03h29m11s`, `+31d18m36s`.

    `unit` is the letter behind the first number, `h` for hours, which end before 24; `signed` puts a plus
    before what is not negative; `decimals` are those of the seconds. What is rounded is carried over, so
    minutes and seconds stay below 60, and a value just below zero keeps its minus sign.
    """
    parts = 10**decimals  # of a second
    ticks = round(abs(value) * 3600 * parts)
    if unit == "h":
        ticks %= 24 * 3600 * parts
    minutes, ticks = divmod(ticks, 60 * parts)
    whole, minutes = divmod(minutes, 60)
    seconds, rest = divmod(ticks, parts)
    sign = ("-" if value < 0 else "+") if signed else ""
    point = f".{rest:0{decimals}d}" if decimals else ""
    return f"{sign}{whole:02d}{unit}{minutes:02d}m{seconds:02d}{point}s"


def place_words(ra_deg: float, dec_deg: float) -> str:
    """Write a place in the sky, given in degrees, for people: `03h28m55s +31d22m12s`."""
    return f"{sexagesimal(ra_deg / 15, 'h')} {sexagesimal(dec_deg, 'd', signed=True)}"


def zone_words(start: dt.datetime, end: dt.datetime, zone: str) -> str:
    """The zone's name and its offsets tonight (two where the clocks change)."""
    offsets = []
    for instant in (start, end):
        text = instant.astimezone(zoneinfo.ZoneInfo(zone)).strftime("%z")
        offsets.append(f"UTC{text[:3]}" + (f":{text[3:5]}" if text[3:5] != "00" else ""))
    both = offsets[0] if offsets[0] == offsets[1] else f"{offsets[0]}, later {offsets[1]}: the clocks change"
    return f"{zone}, {both}"


def duration(seconds: float) -> str:
    """A duration in hours and minutes, rounded to the minute."""
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60:02d} min"


def count(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun: `1 flip`, `2 flips`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def at_least_minutes(minutes: float) -> str:
    """Minutes rounded down to tenths, for a claim that something is no less."""
    return minus(f"{math.floor(10 * minutes + 1e-6) / 10:.1f} min")


def minus(number: str) -> str:
    """A number as people read it: a hyphen before it is made a minus sign."""
    return number.replace("-", "−")
