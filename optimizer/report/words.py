"""Numbers and instants as people read them."""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo

from optimizer.words import at_least_minutes as at_least_minutes
from optimizer.words import count as count
from optimizer.words import duration as duration
from optimizer.words import minus as minus
from optimizer.words import safe
from optimizer.words import zone_words as zone_words

# A blank at which no line is folded; text folds at every white space, the no-break space included. No name
# can hold it: people see private characters of names as escapes. `tables.show` prints it as a blank.
TIE = "\ue000"
AT_ZENITH = "at the zenith on a moonless night"  # what a second of depth is a second of


def clock(instant: dt.datetime | None, zone: str, *, seconds: bool = False) -> str:
    """Local time of day of an instant; a dash where there is none."""
    if instant is None:
        return "-"
    local = instant.astimezone(zoneinfo.ZoneInfo(zone))
    return local.strftime("%H:%M:%S" if seconds else "%H:%M")


def dark_words(seconds: float, *, goes_on: bool) -> str:
    """What the open shutter is a share of; a list that goes on with a night has what is left of it."""
    return f"{duration(seconds)} of usable dark{' left' if goes_on else ''}"


def seconds_words(seconds: float) -> str:
    """A duration in hours and minutes, or in seconds where it is less than a minute."""
    return f"{round(seconds)} s" if round(seconds) < 60 else duration(seconds)


def at_most_percent(fraction: float) -> str:
    """A fraction as a percentage rounded up to hundredths, for a claim that something is no more."""
    return f"{math.ceil(10_000 * fraction - 1e-9) / 100:.2f} %"


def percent(fraction: float, decimals: int = 0) -> str:
    """A fraction as a percentage."""
    return f"{100 * fraction:.{decimals}f} %"


def name(text: str, most: int = 32) -> str:
    """A name from a request: no control sequence gets through, overlong ones are cut."""
    clean = safe(text)
    return clean if len(clean) <= most else clean[: most - 1] + "…"


def sentence_parts(sentence: str) -> tuple[str, str, str]:
    """Why a goal was left out, what else is known or would change it, and what holds for all such goals."""
    why, _, rest = safe(sentence).partition("; ")
    more, _, advice = rest.partition(". ")
    return why, more, advice


def advice_words(advice: str, *, for_all: bool) -> str:
    """Advice below what was left out; unless it is for all of that, it says for which goals."""
    return advice if for_all else f"{advice} (where there is no place for it)"


def run_words(filter_name: str, frames: int, exposure_s: float) -> str:
    """The subs of one run, as in `Ha 14×300s`, with blanks at which no line is folded."""
    return tied(run_text(name(filter_name, 12), frames, exposure_s))


def run_text(filter_name: str, frames: int, exposure_s: float) -> str:
    """The subs of one run on paper and screen alike: `Ha 14×300s`, the filter named as it is given."""
    return f"{filter_name} {frames}×{exposure_s:g}s"


def tied(text: str) -> str:
    """The text with its blanks made such that no line is folded there; only `tables.show` may print it."""
    return text.replace(" ", TIE)
