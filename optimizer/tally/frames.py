"""What a folder of images holds: frames as their headers tell, and files that cannot be counted, and why."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Literal

# `unknown`: no keyword says what the frame is; `other`: one says, and it is none of the four (a master, say).
Kind = Literal["light", "dark", "flat", "bias", "other", "unknown"]
Fault = Literal[
    "cut_short", "being_written", "unreadable", "not_fits", "broken_header", "no_image", "no_file", "circle"
]


@dataclass(frozen=True)
class Frame:
    """One exposure as the header of its file tells; a value is None where the header does not tell it.

    `name` is the file's name without folders; it may hold lone surrogates where the disk's name is no UTF-8.
    `exposure_s` is in seconds. `taken_utc` is when the exposure began, with UTC as its zone and all digits
    that a datetime holds; it is None for a date without a time of day. `date_obs` is what it was read from,
    as the file has it. `ra_deg` and `dec_deg` are degrees as the file gives them, in the
    system of `equinox` (a year, such as 2000.0) and `radesys` (such as `ICRS`): `icrs_of_frame` of
    `optimizer.tally.places` turns them into ICRS. `gain` and `offset` are the camera's own numbers.
    `used` says for each of these fields which keyword it came from; `odd` has one sentence for each keyword
    whose value could not be used.
    """

    path: Path
    name: str
    size_bytes: int
    kind: Kind = "unknown"
    object: str | None = None
    filter: str | None = None
    exposure_s: float | None = None
    taken_utc: dt.datetime | None = None
    date_obs: str | None = None
    ra_deg: float | None = None
    dec_deg: float | None = None
    equinox: float | None = None
    radesys: str | None = None
    gain: float | None = None
    offset: float | None = None
    binning: int | None = None
    pier_side: Literal["west", "east"] | None = None
    used: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    odd: tuple[str, ...] = ()


@dataclass(frozen=True)
class Damaged:
    """A file or folder that cannot be counted, and in `reason` a plain clause that says why.

    `fault` says which kind of reason it is; a file that is `being_written` may be whole the next time.
    """

    path: Path
    reason: str
    fault: Fault
