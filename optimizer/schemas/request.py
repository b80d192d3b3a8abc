"""The schema of a request as people type it: angles as text, local times, files named, parts to include.

A part, as a file that another one includes, is known by having no `schema`: it may lack what the others have.
"""

from __future__ import annotations

from typing import Any

from optimizer.models.request import REQUEST_SCHEMA
from optimizer.models.short_forms import TypedRequest
from optimizer.schemas.generator import UNIT, Node, nodes_of, schema_of, with_titles
from optimizer.schemas.written import DEC, EVENING, INSTANT, LATITUDE, LONGITUDE, MAYBE_NAME, NAME, RA

TITLE = "Request of a night"
DESCRIPTION = (
    f"What is wanted of one night, as {REQUEST_SCHEMA} has it, typed by hand in TOML or written as JSON by"
    " a program. A file without the key schema is a part for others to include: it may lack any key. x-unit"
    " is the unit of a number. What keys say to one another, such as names that must differ, a schema cannot"
    " say: the commands check it."
)
_TEXT = {"type": "string"}
KEYS_OF_REQUEST = {
    "schema": "the format of this file; left out of a part that others include",
    "night": "which night, and which parts of it may be used",
    "site": "where the telescope stands and what hides its sky",
    "mount": "the mount and the numbers around its meridian flip",
    "camera": "the download, the overhead and the dithers, which add to the subs",
    "focus": "when autofocus runs, and how long it takes",
    "filters": "the filters of the rig",
    "targets": "what is to be imaged",
    "aim": "what counts as the best plan, and how long to look for it",
    "season": "the nights of the season and their odds of clear sky",
}
_GOALS = "how much of it through which filter; the name of a filter alone where it has the rest"


def request_schema() -> Node:
    """Make the schema of a request."""
    made = schema_of(TypedRequest)
    parts: dict[str, Node] = made["$defs"]
    for key, words in KEYS_OF_REQUEST.items():
        made["properties"][key]["description"] = words
    parts["TypedTarget"]["properties"]["goals"]["description"] = _GOALS
    parts["Instant"] = _instant()
    with_patterns_of_names(made)
    _top(made)
    _night(parts["Night"])
    _season(parts["SeasonAsked"])
    _site(parts["Site"])
    _target(parts["TypedTarget"])
    for part in ("TypedTarget", "GoalSet"):
        goals = parts[part]["properties"]["goals"]
        goals["items"] = {"anyOf": [_name("name of one of the filters"), goals["items"]]}
    for part in ("TypedFilter", "GoalSet", "SetGoal"):
        parts[part]["not"] = _both({"frames": {"type": "integer"}, "hours": {"type": "number"}})
    with_titles(made)
    made.update(title=TITLE, description=DESCRIPTION)
    return made


def _apart(**words: Any) -> Node:
    """What holds beside the list of all keys, which stands elsewhere.

    It says that other keys may be there: an editor would take the few that it names for all there are.
    """
    return {"additionalProperties": True, **words}


def _has(*keys: str) -> Node:
    return _apart(required=list(keys))


def _both(keys: dict[str, Node]) -> Node:
    """Two keys of which only one may be given; a null does not count as given."""
    return _apart(required=list(keys), properties=keys)


def _name(description: str) -> Node:
    return {**_TEXT, "minLength": 1, "maxLength": 300, "pattern": NAME, "description": description}


def _file(description: str, like: str) -> Node:
    return {**_TEXT, "minLength": 1, "pattern": r"\S", "description": description, "examples": [like]}


def with_patterns_of_names(made: Node) -> None:
    """Let every name that may not be empty have something to see, none what could drive a terminal."""
    for node in nodes_of(made):
        if node.get("type") == "string" and node.get("maxLength") == 300:
            node["pattern"] = NAME if node.get("minLength") else MAYBE_NAME


def _top(made: Node) -> None:
    keys = made["properties"]
    names = {"type": "array", "items": _file("a file, relative to this one", "site.toml")}
    made["properties"] = {
        "schema": keys.pop("schema"),
        "include": {
            **names,
            "description": "files whose keys come first, a later one over an earlier one, this file over all",
            "examples": [["site.toml", "rig.toml"]],
        },
        "catalogue": _file("CSV file of your own objects, looked up first: name,aliases,ra,dec", "mine.csv"),
        "targets_csv": _file("CSV file of targets, one row a goal, beside those in here", "targets.csv"),
        **keys,
    }
    needed = [key for key in made.pop("required") if key not in ("schema", "targets")]
    del keys["targets"]["minItems"]
    own = _apart(required=["targets"], properties={"targets": {"type": "array", "minItems": 1}})
    whole = _apart(
        required=needed,
        properties={"night": _has("evening"), "site": _whole_site()},
        anyOf=[own, _has("targets_csv")],
    )
    made["if"] = _has("schema")
    made["then"] = _apart(
        **{
            "if": _apart(required=["include"], properties={"include": {"type": "array", "minItems": 1}}),
            "else": whole,
        }
    )


def _whole_site() -> Node:
    return _apart(
        required=["floor_deg"],
        allOf=[_apart(anyOf=[_has(axis), _has(f"{axis}_deg")]) for axis in ("latitude", "longitude")],
    )


def _night(night: Node) -> None:
    keys = night["properties"]
    evening = keys["evening"]
    for key in ("type", "format"):
        del evening[key]
    evening["anyOf"] = _evening()
    evening["examples"] = ["2026-11-14"]
    for key in ("clear", "blocked", "clear_odds"):
        pair = keys[key]["items"]["prefixItems"]
        places = (0,) if key == "clear_odds" else (0, 1)
        for place in places:
            pair[place] = {"$ref": "#/$defs/Instant"}
    keys["clear_odds"]["items"]["prefixItems"][1][UNIT] = "percent"
    keys["clear_odds_file"] = _file(
        "file of the odds of clear sky, in place of clear_odds: a time and per cent on each line",
        "tonight.csv",
    )
    night["not"] = _has("clear_odds", "clear_odds_file")
    night.pop("required")


def _evening() -> list[Node]:
    written = {**_TEXT, "pattern": EVENING}
    return [{**written, "format": "date"}, written]  # TOML's own date, and text


def _season(season: Node) -> None:
    keys = season["properties"]
    keys["first"]["anyOf"] = [*_evening(), {"type": "null"}]
    keys["first"]["examples"] = ["2026-11-14"]
    pair = keys["clear_odds_by_evening"]["items"]["prefixItems"]
    pair[0] = {"anyOf": _evening(), "title": "Evening"}
    pair[1]["title"] = "Share"
    keys["clear_odds_file"] = _file(
        "CSV file of other odds for single nights, in place of clear_odds_by_evening: evening,odds",
        "odds.csv",
    )
    season["not"] = _has("clear_odds_by_evening", "clear_odds_file")


def _instant() -> Node:
    written = {**_TEXT, "pattern": INSTANT}
    formats = ("date-time", "date-time-local", "time-local")  # TOML's own, as editors name them
    return {
        "title": "Instant",
        "description": "a time of the site's clock between the noons around the night, that of a day, or with"
        " Z or an offset from UTC; whole seconds",
        "anyOf": [written, *({**written, "format": each} for each in formats)],
        "examples": ["20:30", "2026-11-14T20:30", "2026-11-14T19:30:00Z"],
    }


def _angle(pattern: str, description: str, like: str) -> Node:
    return {**_TEXT, "pattern": pattern, "description": description, "examples": [like]}


def _site(site: Node) -> None:
    keys = site["properties"]
    text = "as text, in place of {}_deg; {}"
    latitude = _angle(LATITUDE, text.format("latitude", "north positive, or with N or S"), "38d55m12s")
    longitude = _angle(LONGITUDE, text.format("longitude", "east positive, or with E or W"), "3d06m36sW")
    site["properties"] = {"latitude": latitude, "longitude": longitude, **keys}
    skyline = keys["skyline"]
    pairs = {key: skyline.pop(key) for key in ("type", "items")}
    for node, title in zip(pairs["items"]["prefixItems"], ("Azimuth", "Altitude"), strict=True):
        node.update({"title": f"{title} in degrees", UNIT: "degrees"})
    skyline["description"] += "; or the name of a file of such pairs"
    skyline["anyOf"] = [pairs, _file("file with one pair a line", "skyline.txt")]
    site.pop("required")
    twins = [_has(axis, f"{axis}_deg") for axis in ("latitude", "longitude")]
    site["not"] = _apart(anyOf=twins)


def _target(target: Node) -> None:
    keys = target["properties"]
    text = "as text, in place of {}; ICRS"
    places: Node = {}
    for key, node in keys.items():
        if key == "ra_deg":
            places["ra"] = _angle(RA, text.format("ra_deg"), "03h29m11s")
        if key == "dec_deg":
            places["dec"] = _angle(DEC, text.format("dec_deg"), "+31d18m36s")
        places[key] = node
    target["properties"] = places
    target["required"] = ["name"]
    either = [_apart(anyOf=[_has(axis), _has(f"{axis}_deg")]) for axis in ("ra", "dec")]
    of_catalogue = _apart(
        required=["object"],
        properties={"object": _TEXT},
        **{"not": _apart(anyOf=[_has(key) for key in ("ra", "ra_deg", "dec", "dec_deg")])},
    )
    some = _apart(required=["goals"], properties={"goals": {"type": "array", "minItems": 1}})
    taken = _apart(required=["set"], properties={"set": _TEXT})
    target["allOf"] = [
        _apart(anyOf=[_apart(allOf=either), of_catalogue]),
        _apart(anyOf=[some, taken]),
    ]
    target["not"] = _apart(anyOf=[_has(axis, f"{axis}_deg") for axis in ("ra", "dec")])
