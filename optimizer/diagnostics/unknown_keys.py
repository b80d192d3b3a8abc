"""What an unknown key was probably meant to be."""

from __future__ import annotations

import difflib
from typing import Any

from optimizer.diagnostics.nodes import Nodes
from optimizer.words import KeyPath, key_text, listing, unit_of

# What other people call our keys; spelling alone would not find them.
_SYNONYMS = {
    "lat": "latitude_deg", "lon": "longitude_deg", "long": "longitude_deg", "lng": "longitude_deg",
    "altitude_m": "elevation_m", "height_m": "elevation_m", "tz": "time_zone", "horizon": "skyline",
    "min_altitude": "floor_deg", "minimum_altitude": "floor_deg", "date": "evening", "right_ascension": "ra",
    "declination": "dec", "count": "frames", "number": "frames", "exposures": "frames", "subs": "frames",
    "rotation": "position_angle_deg", "priority": "weight", "bin": "binning", "duration": "exposure_s",
    "length": "exposure_s", "download": "download_s", "version": "schema", "exp": "exposure_s",
    "readout": "download_s", "readout_s": "download_s", "delay": "overhead_s", "delay_s": "overhead_s",
    "pause": "overhead_s", "pause_s": "overhead_s",
}  # fmt: skip
_EVERYWHERE = {"name"}  # says nothing about the table it was meant for
_LEAST_STEM = 4  # letters of a stem that need not be a whole word: `moon` finds `moonlight_mag`
_SURE = 0.9  # likeness from which on an unknown key is a slip of the pen and no stem


def header(path: KeyPath, kind: str) -> str:
    """Write a table as it is opened in a file: `[site]`, `[[targets.goals]]`, or `"site"` in JSON."""
    names = key_text(tuple(part for part in path if isinstance(part, str)))
    if not names:
        return "the top of the file" if kind == "toml" else "the outermost object"
    if kind == "json":
        return f'"{names}"'
    return f"[[{names}]]" if isinstance(path[-1], int) else f"[{names}]"


def nearest(nodes: Nodes, path: KeyPath, value: Any, root: KeyPath = ()) -> str | None:
    """Find the key of the same table that an unknown one was meant to be; None where none is near."""
    key, here = str(path[-1]), nodes.keys(path[:-1])
    near = difflib.get_close_matches(key, here, 1, 0.7)
    if (
        near
        and isinstance(value, dict | list)
        and nodes.at((*path[:-1], near[0])).get("type") in ("array", "object")
    ):
        return near[0]  # [[filter]] means [[filters]], although goals know a key `filter`
    if near and not isinstance(value, dict | list) and _is_table_elsewhere(nodes, key, root):
        return near[0]  # sets = "colour" under a target means set
    if key == "include" or _owners(nodes, key, root):
        return None
    synonym = _SYNONYMS.get(key.lower(), "")
    return synonym if synonym in here else near[0] if near else None


def _is_table_elsewhere(nodes: Nodes, key: str, root: KeyPath) -> bool:
    """Whether the key is known elsewhere, but nowhere as anything but a table or a list of them."""
    owners = _owners(nodes, key, root)
    kinds = [nodes.at((*owner, key)) for owner in owners]
    return bool(kinds) and all("$ref" in str(kind) and kind.get("type") != "string" for kind in kinds)


def meant(nodes: Nodes, path: KeyPath, kind: str, root: KeyPath, value: Any) -> str:
    """Say what to do about an unknown key at `path`, in a file of the kind "toml" or "json".

    `root` is where the model begins whose tables are searched for a key written in the wrong place.
    """
    key, table = str(path[-1]), path[:-1]
    if key == "include":
        return "write it at the top of the request file, before the first table"
    if key in nodes.keys(table):  # it names a file, which only the reading of files puts in its place
        return "only a request's own file may name one to be read; remove it"
    alike = _with_the_stem(nodes, path, value, root)
    if len(alike) > 1:
        words = listing(_with_meaning(nodes, place, known) for place, known in alike)
        place = alike[0][0]
        where = "" if place == table else f" Write it under {header(place, kind)}"
        return f"did you mean {words}?{where}"
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


def _with_the_stem(nodes: Nodes, path: KeyPath, value: Any, root: KeyPath) -> list[tuple[KeyPath, str]]:
    """The known keys that begin as the unknown one does, with the one table that has them.

    `dither` finds `dither_every` and `dither_s`: nobody can guess which of them was meant. Empty where the
    key is known elsewhere, is another word for one of ours, or is one of ours but for a slip of the pen.
    """
    key, table = str(path[-1]).lower(), path[:-1]
    if isinstance(value, dict | list) or key in _SYNONYMS or _owners(nodes, str(path[-1]), root):
        return []
    if difflib.get_close_matches(key, nodes.keys(table), 1, _SURE):
        return []
    tables = {place: keys for place, keys in nodes.tables().items() if place[: len(root)] == root}
    words = key.split("_")
    for count in range(len(words), 0, -1):
        stem = "_".join(words[:count])
        found = {place: known for place in tables if (known := _beginning(nodes, place, stem))}
        if table in found:
            return [(table, known) for known in found[table]]
        if len(found) == 1:
            ((place, alike),) = found.items()
            return [(place, known) for known in alike]
    return []


def _beginning(nodes: Nodes, place: KeyPath, stem: str) -> list[str]:
    """The keys of a table that begin with a stem; `ra` is not told beside `ra_deg`, whose twin it is."""
    keys = nodes.keys(place)
    return [
        key
        for key in keys
        if (f"{key}_".startswith(f"{stem}_") or (len(stem) >= _LEAST_STEM and key.startswith(stem)))
        and f"{key}_deg" not in keys
        and nodes.at((*place, key)).get("type") not in ("array", "object")
    ]


def _with_meaning(nodes: Nodes, place: KeyPath, key: str) -> str:
    """A key with its unit and what it does: `dither_s (seconds: what one dither takes)`."""
    meaning = (unit_of(key), nodes.at((*place, key)).get("description", ""))
    words = ": ".join(part for part in meaning if part)
    return f"{key} ({words})" if words else key


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
