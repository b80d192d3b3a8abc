"""Requests of several rigs in a folder: what they share lies in one file, or is written in each."""

from __future__ import annotations

from pathlib import Path

SITE = """\
[site]
latitude_deg = 38.92
longitude_deg = -3.11
time_zone = "Europe/Madrid"
floor_deg = 25
"""
OWN = """\
schema = "darkfill-request/1"
[night]
evening = 2026-11-14
{site}
[mount]
contact_min = 40
[[filters]]
name = "L"
[aim]
workers = 1
time_limit_s = 3
value = "hours"
{more}
"""
TARGET = """\
[[targets]]
name = "Cradle"
ra_deg = 52.297
dec_deg = 31.31
  [[targets.goals]]
  filter = "L"
  exposure_s = 300
  frames = 50
"""


def rig(folder: Path, name: str, *changes: tuple[str, str], top: str = "", more: str = TARGET) -> Path:
    """The file of a rig of that name, with some of its text changed; `top` comes before its first table."""
    text = OWN.format(site=SITE, more=more)
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    path = folder / f"{name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"{top}\n{text}", encoding="utf-8")
    return path


def two_targets(rigs: str = "") -> str:
    """The target of all, and one more, which may be limited to some rigs."""
    other = TARGET.replace("Cradle", "Heart").replace("52.297", "38.2").replace("31.31", "61.5")
    return TARGET + other.replace('name = "Heart"\n', f'name = "Heart"\n{rigs}\n')
