"""Local times in the request itself, turned into instants: `"20:30"`, `"2026-11-14T20:30"`, TOML's own."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from typing import Any

from optimizer.diagnostics.document import Document
from optimizer.diagnostics.nights import night_asked
from optimizer.models.base import Unreadable
from optimizer.models.site import night_span
from optimizer.reading.instants import TIME, Span, instant_of
from optimizer.words import KeyPath

_FRACTION = re.compile(r".*:[0-9]{2}[.,][0-9]+")
_INSTANTS_OF = {"clear": (0, 1), "blocked": (0, 1), "clear_odds": (0,)}  # which parts of a pair are instants


def resolve_local_times(document: Document) -> None:
    """Turn the local times under `night` into instants; one that there is not gets the words for it.

    They are those of the night and in the zone that the document names. Where these cannot be used, which is
    told elsewhere, a list with local times is left out.
    """
    night = document.data.get("night")
    if not isinstance(night, dict) or not any(_local_places(document)):
        return
    asked = night_asked(document)
    night = dict(night)
    for key in {str(place[1]) for place in _local_places(document)}:
        if asked is None:
            del night[key]
            continue
        of_night, site = asked
        span = night_span(of_night, site.longitude_deg, site.time_zone)
        night[key] = [_pair_in_utc(pair, _INSTANTS_OF[key], span, site.time_zone) for pair in night[key]]
    document.data["night"] = night


def zone_left_out(document: Document) -> Iterator[str]:
    """A line for the first local time of a request that does not name a time zone."""
    site = document.value(("site",))
    if isinstance(site, dict) and "time_zone" in site:
        return
    for place in _local_places(document):
        value = document.typed_value(place)
        if isinstance(value, str) and (parts := TIME.fullmatch(value.strip())) and parts["zone"]:
            continue  # a time of day that says how far from UTC its clock is
        yield str(
            document.problem(
                place,
                "site.time_zone is not given, so this time is read as UTC",
                'add time_zone = "Europe/Madrid" or yours to the site, or write it as text with Z, '
                'like "20:30Z"',
            )
        )
        return


def _local_places(document: Document) -> Iterator[KeyPath]:
    """Where local times are typed under `night`, in the order of its keys."""
    for key, parts in _INSTANTS_OF.items():
        pairs = document.typed_value(("night", key))
        for index, pair in enumerate(pairs if isinstance(pairs, list | tuple) else ()):
            for part in parts if isinstance(pair, list | tuple) else ():
                if part < len(pair) and _is_local(pair[part]):
                    yield ("night", key, index, part)


def _is_local(value: Any) -> bool:
    """Whether a value wants the night or the zone to be an instant; what cannot be read wants neither."""
    if isinstance(value, dt.datetime):
        return value.tzinfo is None
    if isinstance(value, dt.time):
        return True
    if not isinstance(value, str):
        return False
    parts = TIME.fullmatch(value.strip())
    if parts is not None:
        return parts["date"] is None or parts["zone"] is None
    return _FRACTION.fullmatch(value.strip()) is not None and not _has_offset(value)


def _has_offset(text: str) -> bool:
    try:
        return dt.datetime.fromisoformat(text.strip()).tzinfo is not None
    except ValueError:
        return False


def _pair_in_utc(pair: Any, parts: tuple[int, ...], span: Span, zone_name: str) -> Any:
    if not isinstance(pair, list | tuple):
        return pair
    return [
        _in_utc(value, span, zone_name) if part in parts and _is_local(value) else value
        for part, value in enumerate(pair)
    ]


def _in_utc(value: Any, span: Span, zone_name: str) -> dt.datetime | Unreadable:
    text = value.strip() if isinstance(value, str) else value.isoformat()
    if _FRACTION.fullmatch(text):
        return Unreadable((), "there is a fraction of a second; give whole seconds")
    try:
        return instant_of(text, span, zone_name)
    except ValueError as error:
        return Unreadable((), str(error))
