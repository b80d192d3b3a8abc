"""Requests that take their targets from a spreadsheet."""

from __future__ import annotations

from pathlib import Path

from optimizer.models.request import Request
from optimizer.reading.load import LoadedRequest, load_request

BASE = """\
schema = "darkfill-request/1"
targets_csv = "targets.csv"
[night]
evening = 2026-11-14
[site]
latitude_deg = 38.92
longitude_deg = -3.11
floor_deg = 25
[mount]
contact_min = 40
[[filters]]
name = "L"
[[filters]]
name = "Ha"
kind = "narrowband"
exposure_s = 300
gain = 120
[sets.short]
goals = [{ filter = "L", exposure_s = 60, frames = 20 }]
"""
SHEET = """\
name,object,ra,dec,position_angle_deg,weight,floor_deg,least_min,sides,aliases,set,filter,exposure_s,frames,hours,done,in_set
Triangulum,M 33,,,22.5,1.5,,,,tri; pinwheel 2,short,L,120.5,90,,3,
,,,,,,,,,,,Ha,,,4,,no
Pelicanø,,20h51m01.5s,+44:24:05,,,30.25,12,before,,,Ha,,60,,,
Bode,M 81,,,,,,,,,short,,,,,,
Plain,,312.754,-4.5,,,,,,,,Ha,600,5,,,
"""


def write(folder: Path, sheet: str | bytes, base: str = BASE) -> Path:
    """A request and its sheet in a folder."""
    (folder / "targets.csv").write_bytes(sheet if isinstance(sheet, bytes) else sheet.encode())
    path = folder / "request.toml"
    path.write_text(base, encoding="utf-8")
    return path


def loaded(folder: Path, sheet: str | bytes, base: str = BASE) -> LoadedRequest:
    return load_request(write(folder, sheet, base))


def by_commas(sheet: str, delimiter: str = ";") -> str:
    """The same sheet as an office program of the continent saves it."""
    rows = [line.split(",") for line in sheet.splitlines()]
    assert not any('"' in cell for row in rows for cell in row)
    cells = [[f'"{cell}"' if ";" in cell else _comma(cell) for cell in row] for row in rows]
    return "\r\n".join(delimiter.join(row) for row in cells) + "\r\n"


def _comma(cell: str) -> str:
    return cell.replace(".", ",") if any(sign.isdigit() for sign in cell) else cell


def goals(request: Request) -> list[tuple[str, str, float, int]]:
    """What is wanted, in the order of the request."""
    return [(target.name, goal.filter, goal.exposure_s, goal.frames) for target, goal in request.goals()]
