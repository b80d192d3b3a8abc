"""What the starter's files hold beside the defaults: an invented site and rig, and a few objects."""

from __future__ import annotations

import datetime as dt
import json

from optimizer.models.site import evening_at

# Each key that is set, as it stands in the file; all others are there as remarks.
SET: dict[str, dict[str, str]] = {
    "": {"schema": '"darkfill-request/1"', "include": '["site.toml", "rig.toml"]'},
    "site": {
        "name": '"Slate Ridge"',
        "latitude_deg": "41.37",
        "longitude_deg": "-1.84",
        "elevation_m": "910",
        "time_zone": '"Europe/Madrid"',
        "floor_deg": "28",
    },
    "mount": {"clearance_min": "12", "clock_error_s": "20"},
    "camera": {"dither_every": "4"},
    "focus": {"every_min": "90"},
    "filters": {"name": '"L"'},
    "targets": {
        "name": '"Andromeda"',
        "ra_deg": "10.6847",
        "dec_deg": "41.2691",
        "set": '"galaxy"',
    },
    "targets.goals": {"filter": '"Ha"', "exposure_s": "300", "frames": "36"},
    "sets.galaxy": {
        "goals": '[\n  { filter = "L", exposure_s = 120, frames = 90 },\n]',
    },
    "aim": {},
    "season": {},
}
# What stands in remarks where the default is nothing, or shows nothing.
LIKE: dict[str, dict[str, str]] = {
    "": {"catalogue": '"mine.csv"', "targets_csv": '"targets.csv"', "tally": '"in-hand.csv"'},
    "night": {
        "clear": '[["21:00", "04:00"]]',
        "blocked": '[["23:10", "23:40"]]',
        "clear_odds": '[["21:00", 90], ["01:00", 60]]',
        "clear_odds_file": '"tonight.csv"',
        "ut1_utc_s": "0.0",
    },
    "site": {"skyline": "[[0, 10], [200, 10], [240, 35], [300, 35], [330, 10]]"},
    "mount": {"contact_min": "40"},
    "filters": {
        "aliases": '["Lum"]',
        "moonlight_mag": "1.0",
        "moon_gap_deg": "30",
        "exposure_s": "120",
        "frames": "90",
        "hours": "3",
        "gain": "100",
        "offset": "30",
        "binning": "1",
    },
    "targets": {"aliases": '["M31 mosaic"]', "object": '"M 31"', "floor_deg": "35", "rigs": '["request"]'},
    "targets.goals": {"hours": "3", "gain": "100", "offset": "30"},
    "sets.galaxy": {
        "exposure_s": "120",
        "frames": "90",
        "hours": "3",
        "gain": "100",
        "offset": "30",
        "binning": "1",
    },
    "season": {
        "first": "2026-11-14",
        "clear_odds_by_evening": "[[2026-11-14, 0.9], [2026-11-15, 0.2]]",
        "clear_odds_file": '"odds.csv"',
    },
}
NEEDED = {
    ("", "schema"): "needed",
    ("night", "evening"): "needed",
    ("site", "latitude_deg"): "needed",
    ("site", "longitude_deg"): "needed",
    ("site", "floor_deg"): "needed",
    ("filters", "name"): "needed",
    ("targets", "name"): "needed",
    ("targets", "ra_deg"): "needed unless object is given",
    ("targets", "dec_deg"): "needed unless object is given",
    ("targets.goals", "filter"): "needed",
    ("targets.goals", "exposure_s"): "needed unless its filter has it",
    ("targets.goals", "frames"): "needed unless its filter has it",
    ("sets.galaxy", "goals"): "needed",
}
SECOND_FILTER = """
[[filters]]
name = "Ha"
kind = "narrowband"
darkness = "nautical"
"""
MORE_TARGETS = """
[[targets]]
name = "Bode's galaxy"
object = "M 81"
set = "galaxy"

[[targets]]
name = "Pinwheel"
object = "M 101"
set = "galaxy"

[[targets]]
name = "North America"
object = "NGC 7000"
goals = [{ filter = "Ha", exposure_s = 300, frames = 60 }]
"""

FIRST_LINE = "#:schema ./{schema}"
HOW_TO_READ = """
# A line that begins with # and a blank is a remark. One that begins with # alone is a key that is not set:
# take the # away to set it. It has its default, unless the remark tells another one, or that there is none.
"""
REQUEST_HEAD = """
# What is wanted of a night. Site and rig are in site.toml and rig.toml: both are invented, write yours there.
#
# Cautions
# - A telescope on a mount is a moving machine. Measure contact by hand, by day, with power at hand to stop;
#   measure again after every change of tube, camera, cables or pier.
# - Set the mount's own limits as well: darkfill plans, it does not guard. Let only one program manage the
#   flip. Watch the first flip.
# - Never point near the Sun. In a plan, nothing but waiting and parking happens between sunrise and sunset;
#   but nothing stops you from running an old plan by day.
# - The maker's instructions and limits, local rules and licensed practice come first.
"""
SITE_HEAD = """
# Where the telescope stands. This place is invented: write your own.
"""
RIG_HEAD = """
# Mount, camera, focuser and filters. This rig is invented: write your own, and measure what the mount needs.
"""
MOUNT_HEAD = """
# Measure by hand, by day, how many minutes past the meridian it takes until anything touches, and write it as
# contact_min. The 40 below is only an example. Until it is given, nothing tracks past the meridian on pier
# side west (telescope west of the pier, looking east). darkfill flip then tells whether the numbers fit.
"""
NIGHT_HEAD = """
# The evening is that of the night that ran or came next, by the clock, when this file was made. Every command
# that takes --evening tonight takes the night that runs or comes next in its place.
"""
SET_HEAD = """
# Goals that several targets take under one name with set = "galaxy".
"""
SEASON_HEAD = """
# The nights that darkfill season plans together; without first they begin with the evening above.
"""


def evening_there(now: dt.datetime) -> dt.date:
    """The evening of the night that runs at an instant or comes next, at the invented site."""
    site = SET["site"]
    return evening_at(now, float(site["longitude_deg"]), json.loads(site["time_zone"]))
