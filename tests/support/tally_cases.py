"""A request that counts its subs, frames as headers tell them, and folders of small FITS files."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from benchmarks.plain_aim import PLAIN_AIM_LINES
from optimizer.models.request import Request
from optimizer.reading.load import request_from_data
from optimizer.tally.frames import Frame

FOLDER = Path("images")
USED = {
    "object": "OBJECT",
    "filter": "FILTER",
    "exposure_s": "EXPTIME",
    "gain": "GAIN",
    "offset": "OFFSET",
    "binning": "XBINNING",
    "ra_deg": "RA",
    "taken_utc": "DATE-OBS",
    "kind": "IMAGETYP",
}
GOALS: tuple[dict[str, Any], ...] = (
    {"filter": "L", "exposure_s": 120, "frames": 90},
    {"filter": "L", "exposure_s": 300, "frames": 20},
    {"filter": "Ha", "exposure_s": 300, "hours": 2},
)


def request_of(*targets: dict[str, Any], **keys: Any) -> Request:
    """A request of these targets, else of two, at a site west of Greenwich with its own time zone."""
    own = {"name": "Cradle Nebula", "aliases": ["NGC 1333"], "ra_deg": 52.297, "dec_deg": 31.31}
    other = {"name": "Andromeda", "ra_deg": 10.685, "dec_deg": 41.269}
    rows = targets or ({**own, "goals": GOALS}, {**other, "goals": [{**GOALS[0], "frames": 10}]})
    data = {
        "schema": "darkfill-request/1",
        "night": {"evening": "2026-11-14"},
        "site": {
            "latitude_deg": 38.92,
            "longitude_deg": -3.11,
            "floor_deg": 25,
            "time_zone": "Europe/Madrid",
        },
        "filters": [{"name": "L", "aliases": ["Lum"]}, {"name": "Ha"}],
        "targets": [{**row, "goals": list(row["goals"])} for row in rows],
        "tally": "in-hand.csv",
        **keys,
    }
    return request_from_data(data, "request")


def frame(name: str = "a.fits", taken: str | None = "2026-11-14T23:10:00", **keys: Any) -> Frame:
    """A light frame of the Cradle Nebula through L, 120 s, but for what is given."""
    values: dict[str, Any] = {
        "kind": "light",
        "object": "Cradle Nebula",
        "filter": "L",
        "exposure_s": 120.0,
        "gain": 100.0,
        "offset": 30.0,
        "binning": 1,
        "date_obs": taken,
        "taken_utc": None if taken is None else dt.datetime.fromisoformat(taken).replace(tzinfo=dt.UTC),
        "size_bytes": 5760,
        **keys,
    }
    told = {key: word for key, word in USED.items() if values.get(key) is not None}
    return Frame(path=FOLDER / name, name=Path(name).name, used=told, **values)


TOML = """\
schema = "darkfill-request/1"
tally = "in-hand.csv"

[night]
evening = 2026-11-14
clear = [[2026-11-14T22:00:00Z, 2026-11-14T22:40:00Z]]
ut1_utc_s = 0.0

[site]
name = "Heron Flat"
latitude_deg = 38.92
longitude_deg = -3.11
time_zone = "Europe/Madrid"
floor_deg = 25

[mount]
contact_min = 40

[[filters]]
name = "L"

[[filters]]
name = "Ha"

[[targets]]
name = "Cradle"
aliases = ["NGC 1333"]
ra_deg = 52.297
dec_deg = 31.31

[[targets.goals]]
filter = "L"
exposure_s = 300
frames = 8

[[targets.goals]]
filter = "Ha"
exposure_s = 600
hours = 1

[aim]
workers = 1
time_limit_s = 3
"""
TOML += PLAIN_AIM_LINES


def write_request(folder: Path, *swaps: tuple[str, str]) -> Path:
    """A request with a tally in a folder, with parts exchanged."""
    text = TOML
    for old, new in swaps:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / "request.toml"
    path.write_text(text, encoding="utf-8")
    return path


def write_fits(path: Path, cards: dict[str, Any] | None = None, *, pixels: int = 4) -> Path:
    """One FITS image with these keywords on top of those of a light frame of the Cradle through L, 300 s."""
    import numpy as np
    from astropy.io import fits

    path.parent.mkdir(parents=True, exist_ok=True)
    image = fits.PrimaryHDU(np.zeros((pixels, pixels), dtype=np.uint16))
    plain = {"OBJECT": "Cradle", "FILTER": "L", "EXPTIME": 300.0, "IMAGETYP": "Light Frame"}
    for key, value in {**plain, "DATE-OBS": "2026-11-14T23:10:00.25", **(cards or {})}.items():
        if value is not None:
            image.header[key] = value
    image.writeto(path)
    return path


def write_night(folder: Path, names: Sequence[str], evening: str = "2026-11-14", **cards: Any) -> list[Path]:
    """Light frames taken one after the other from 21:00 UTC of an evening on."""
    begin = dt.datetime.fromisoformat(f"{evening}T21:00:00")
    return [
        write_fits(
            folder / name,
            {"DATE-OBS": (begin + dt.timedelta(minutes=6 * number)).isoformat() + ".5", **cards},
        )
        for number, name in enumerate(names)
    ]
