"""What an unknown key was probably meant to be."""

from __future__ import annotations

import difflib
from typing import Any

from optimizer.models.base import unit_of
from optimizer.models.nodes import Nodes
from optimizer.models.words import KeyPath, listing

# What other people call our keys; spelling alone would not find them.
_SYNONYMS = {
    "lat": "latitude_deg", "lon": "longitude_deg", "long": "longitude_deg", "lng": "longitude_deg",
    "altitude_m": "elevation_m", "height_m": "elevation_m", "tz": "time_zone", "horizon": "skyline",
    "min_altitude": "floor_deg", "minimum_altitude": "floor_deg", "date": "evening", "right_ascension": "ra",
    "declination": "dec", "count": "frames", "number": "frames", "exposures": "frames", "subs": "frames",
    "rotation": "position_angle_deg", "priority": "weight", "bin": "binning", "duration": "exposure_s",
    "length": "exposure_s", "download": "download_s", "version": "schema", "exp": "exposure_s",
}  # fmt: skip
_EVERYWHERE = {"name"}  # says nothing about the table it was meant for


def header(path: KeyPath, kind: str) -> str:
    """A table as it is opened in the file: `[site]`, `[[targets.goals]]`, or `"site"` in JSON."""
    names = ".".join(part for part in path if isinstance(part, str))
    if not names:
        return "the top of the file" if kind == "toml" else "the outermost object"
    if kind == "json":
        return f'"{names}"'
    return f"[[{names}]]" if isinstance(path[-1], int) else f"[{names}]"


def nearest(nodes: Nodes, path: KeyPath, value: Any, root: KeyPath = ()) -> str | None:
    """The key of the same table that an unknown one was probably meant to be; None where nothing is near."""
    key, here = str(path[-1]), nodes.keys(path[:-1])
    near = difflib.get_close_matches(key, here, 1, 0.7)
    if (
        near
        and isinstance(value, dict | list)
        and nodes.at((*path[:-1], near[0])).get("type") in ("array", "object")
    ):
        return near[0]  # [[filter]] means [[filters]], although goals know a key `filter`
    if key == "include" or _owners(nodes, key, root):
        return None
    synonym = _SYNONYMS.get(key.lower(), "")
    return synonym if synonym in here else near[0] if near else None


def meant(nodes: Nodes, path: KeyPath, kind: str, root: KeyPath, value: Any) -> str:
    """The remedy for an unknown key at `path`.

    `root` is where the model begins whose tables are searched for a key written in the wrong place.
    """
    key, table = str(path[-1]), path[:-1]
    if key == "include":
        return "write it at the top of the request file, before the first table"
    near = nearest(nodes, path, value, root)
    if near:
        opened = (
            header((*path[:-1], near, 0), kind) if nodes.at((*table, near)).get("type") == "array" else near
        )
        unit = unit_of(near)
        return f"did you mean {opened if isinstance(value, list | dict) else near}" + (
            f" ({unit})?" if unit else "?"
        )
    owners = _owners(nodes, key, root)
    if owners:
        return _move(owners, table, kind)
    everywhere = sorted({known for keys in nodes.tables().values() for known in keys})
    synonym = _SYNONYMS.get(key.lower(), "")
    far = [synonym] if synonym else difflib.get_close_matches(key, everywhere, 1, 0.85)
    places = _owners(nodes, far[0], root) if far else []
    if places:
        return f"did you mean {far[0]}, which belongs under {_headers(places, kind)}?"
    return f"remove it; known here: {listing(nodes.keys(table), 'and', most=30)}"


def _owners(nodes: Nodes, key: str, root: KeyPath) -> list[KeyPath]:
    """The tables that know the key."""
    if key in _EVERYWHERE:
        return []
    return [place for place, keys in nodes.tables().items() if key in keys and place[: len(root)] == root]


def _move(owners: list[KeyPath], table: KeyPath, kind: str) -> str:
    names = tuple(part for part in table if isinstance(part, str))
    for owner in owners:
        owner_names = tuple(part for part in owner if isinstance(part, str))
        if kind == "toml" and owner_names == names[: len(owner_names)] and len(owner_names) < len(names):
            return f"it belongs to {header(owner, kind)}: move it above {header(table, kind)}"
    return f"it belongs under {_headers(owners, kind)}: move it there"


def _headers(places: list[KeyPath], kind: str) -> str:
    return listing(header(place, kind) for place in places)
