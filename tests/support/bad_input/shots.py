"""Shot lists, as JSON and as CSV, whose form is wrong."""

from __future__ import annotations

import json
import tomllib

from tests.support.bad_input.table import GOOD, Case, changed

HEADER = (
    "step,kind,start_utc,end_utc,latest_start_utc,target,ra_deg,dec_deg,position_angle_deg,filter,exposure_s,"
    "gain,offset,binning,pier_side,tracking,hour_angle_h,altitude_deg,azimuth_deg,airmass,moon_separation_deg,note"
)
GOOD_CSV = f"""{HEADER}
1,slew,2026-11-14T19:00:00Z,2026-11-14T19:00:30Z,,Cradle Nebula,52.297,31.31,0,,,,,,west,true,,,,,,
2,expose,2026-11-14T19:00:30Z,2026-11-14T19:02:33Z,,Cradle,52,31,,L,120,,,1,west,true,-3.5,48.2,80,1.34,61,
3,park,2026-11-14T19:02:33Z,2026-11-14T19:03:03Z,,,,,,,,,,,,false
"""
GOOD_SHOTS = {
    "schema": "darkfill-shots/1",
    "tool": {"name": "darkfill", "version": "0.1.0", "ortools": "9.15", "astropy": "7.0", "numpy": "2.0"},
    "created_utc": "2026-11-14T12:00:00Z",
    "request_sha256": "0" * 64,
    "request": tomllib.loads(GOOD),
    "night": {
        "evening": "2026-11-14", "time_zone": "UTC", "moon_illuminated": 0.2, "ut1_utc_s": 0.05,
        "sunset_utc": None, "sunrise_utc": None, "civil_dusk_utc": None, "civil_dawn_utc": None,
        "nautical_dusk_utc": None, "nautical_dawn_utc": None, "astronomical_dusk_utc": None,
        "astronomical_dawn_utc": None, "moonrise_utc": None, "moonset_utc": None,
    },
    "steps": [
        {"step": 1, "kind": "expose", "start_utc": "2026-11-14T19:00:00Z", "end_utc": "2026-11-14T19:02:03Z",
         "target": "Cradle Nebula", "filter": "L", "exposure_s": 120, "tracking": True},
        {"step": 2, "kind": "park", "start_utc": "2026-11-14T19:02:03Z", "end_utc": "2026-11-14T19:02:33Z"},
    ],
    "totals": {
        "goals": [], "open_shutter_s": 120, "dark_s": 30000, "share": 0.004,
        "seconds_by_kind": {"expose": 123},
    },
    "proof": {
        "status": "optimal", "objective": 120, "bound": 120, "gap": 0, "seconds": 0.1, "seed": 1,
        "workers": 1,
    },
    "unplanned": [],
    "audit": {"rules": ["sun"], "violations": [], "least_margin_min": None},
}  # fmt: skip


def shots(*swaps: tuple[str, str]) -> dict[str, str | bytes | None]:
    """A shot list in JSON, one pair a line, that is good but for the swaps."""
    return {"plan.shots.json": changed(json.dumps(GOOD_SHOTS, indent=1, default=str), *swaps)}


def rows(*swaps: tuple[str, str]) -> dict[str, str | bytes | None]:
    """Steps in CSV that are good but for the swaps."""
    return {"plan.csv": changed(GOOD_CSV, *swaps)}


# fmt: off
SHOTS = [
    Case("csv_header_missing", rows((f"{HEADER}\n", "")), """
    plan.csv:1: the header with the names of the columns is missing; the first line must be:
        step,kind,start_utc,end_utc,latest_start_utc,target,ra_deg,dec_deg,position_angle_deg,filter,exposure_s,gain,offset,binning,pier_side,tracking,hour_angle_h,altitude_deg,azimuth_deg,airmass,moon_separation_deg,note
    """),
    Case("csv_header_misspelt", rows(("hour_angle_h", "hour_angle")), """
    plan.csv:1: the header lacks hour_angle_h and has the unknown "hour_angle" (did you mean
        hour_angle_h?); the first line must be:
        step,kind,start_utc,end_utc,latest_start_utc,target,ra_deg,dec_deg,position_angle_deg,filter,exposure_s,gain,offset,binning,pier_side,tracking,hour_angle_h,altitude_deg,azimuth_deg,airmass,moon_separation_deg,note
    """),
    Case("csv_header_column_lacking", rows((",note\n", "\n")), """
    plan.csv:1: the header lacks note; the first line must be:
        step,kind,start_utc,end_utc,latest_start_utc,target,ra_deg,dec_deg,position_angle_deg,filter,exposure_s,gain,offset,binning,pier_side,tracking,hour_angle_h,altitude_deg,azimuth_deg,airmass,moon_separation_deg,note
    """),
    Case("csv_header_in_another_order", rows(("gain,offset", "offset,gain")), """
    plan.csv:1: the header has offset in place 12, where gain belongs; the first line must be:
        step,kind,start_utc,end_utc,latest_start_utc,target,ra_deg,dec_deg,position_angle_deg,filter,exposure_s,gain,offset,binning,pier_side,tracking,hour_angle_h,altitude_deg,azimuth_deg,airmass,moon_separation_deg,note
    """),
    Case("csv_header_column_twice", rows(("note\n", "note,kind\n")), """
    plan.csv:1: the header has kind twice; the first line must be:
        step,kind,start_utc,end_utc,latest_start_utc,target,ra_deg,dec_deg,position_angle_deg,filter,exposure_s,gain,offset,binning,pier_side,tracking,hour_angle_h,altitude_deg,azimuth_deg,airmass,moon_separation_deg,note
    """),
    Case("csv_with_semicolons", {"plan.csv": GOOD_CSV.replace(",", ";")}, """
    plan.csv:1: the columns are separated by semicolons; save the file with commas between the columns
    """),
    Case("csv_without_steps", {"plan.csv": HEADER + "\n\n,,,\n"}, """
    plan.csv: there are no steps below the header; add one row for each step
    """),
    Case("csv_empty", {"plan.csv": ""}, """
    plan.csv: the file is empty; write the shot list into it
    """),
    Case("csv_kind_misspelt", rows((",expose,", ",exposure,")), """
    plan.csv:3: kind = "exposure" (step 2): this word is not known here; did you mean "expose"? To
        choose from: "slew", "centre", "settle", "filter", "focus", "expose", "dither", "flip",
        "rotate", "wait" or "park"
    """),
    Case("csv_kind_and_end_empty",
        rows(("3,park,2026-11-14T19:02:33Z,2026-11-14T19:03:03Z", "3,,2026-11-14T19:02:33Z,")), """
    plan.csv:4: kind (step 3): the cell is empty; write "slew", "centre", "settle", "filter", "focus",
        "expose", "dither", "flip", "rotate", "wait" or "park"
    plan.csv:4: end_utc (step 3): the cell is empty; write an instant like 2026-11-14T20:30:00Z
    """),
    Case("csv_instant_without_zone",
        rows(("2,expose,2026-11-14T19:00:30Z", "2,expose,2026-11-14 19:00:30")), """
    plan.csv:3: start_utc = "2026-11-14 19:00:30" (step 2): the instant has no time zone; write it like
        2026-11-14T20:30:00Z (Z means UTC)
    """),
    Case("csv_instant_of_a_spreadsheet",
        rows(("2,expose,2026-11-14T19:00:30Z", "2,expose,14/11/2026 19:00")), """
    plan.csv:3: start_utc = "14/11/2026 19:00" (step 2): this is not an instant; write it like
        2026-11-14T20:30:00Z
    """),
    Case("csv_number_with_comma", rows((",L,120,", ',L,"120,5",')), """
    plan.csv:3: exposure_s = "120,5" [seconds] (step 2): a comma does not mark decimals; write 120.5
    """),
    Case("csv_numbers_that_are_none", rows((",L,120,", ",L,two minutes,"), ("-3.5,48.2", "nan,1_0")), """
    plan.csv:3: exposure_s = "two minutes" [seconds] (step 2): this is not a number; write it like 12.5,
        or leave the cell empty
    plan.csv:3: hour_angle_h = "nan" [hours] (step 2): this is not a number; write it like 12.5, or
        leave the cell empty
    plan.csv:3: altitude_deg = "1_0" [degrees] (step 2): this is not a number; write it like 12.5, or
        leave the cell empty
    """),
    Case("csv_whole_numbers_that_are_none",
        rows(("\n2,expose", "\n2.5,expose"), (",,,1,west", ",100.0,,17,west")), """
    plan.csv:3: step = "2.5": this is not a whole number; write digits only, like 12
    plan.csv:3: gain = "100.0": this is not a whole number; write digits only, like 12
    plan.csv:3: binning = 17 (2nd step): too large; give a whole number from 1 to 16
    """),
    Case("csv_tracking_and_side_unknown", rows((",false", ",no"), ("1,west,", "1,left,")), """
    plan.csv:3: pier_side = "left" (step 2): this word is not known here; give "west" or "east"
    plan.csv:4: tracking = "no" (step 3): this is neither true nor false; write true or false
    """),
    Case("csv_row_too_long", rows(("1.34,61,", "1.34,61,clouds, then wind")), """
    plan.csv:3: " then wind": the row has 23 cells, the header has 22; check for a comma too many, and
        put text with a comma in double quotes: "a, b"
    """),
    Case("csv_quote_not_closed", rows(("1.34,61,", '1.34,61,"clouds')), """
    plan.csv:3: a cell in double quotes is not closed, or goes on after its closing quote; write "
        inside a quoted cell twice
    """),
    Case("csv_terminal_escape", rows(("1.34,61,", "1.34,61,\x1b[2J")), """
    plan.csv:3: note = "\\u001b[2J" (step 2): the text holds the control character U+001B; remove it
    """),
    Case("csv_in_latin_1", {"plan.csv": GOOD_CSV.replace("Cradle Nebula", "Crèche").encode("latin-1")}, """
    plan.csv:2: the byte 0xE8 is not UTF-8 text; save the file with the encoding UTF-8
    """),
    Case("shots_of_unknown_ending", {"plan.txt": GOOD_CSV}, """
    plan.txt: the ending .txt is not known; name a shot list that ends in .json or .csv
    """),
    Case("json_is_a_request", {"plan.json": json.dumps(tomllib.loads(GOOD), default=str)}, """
    plan.json:1: schema = "darkfill-request/1": this is a request, not a shot list; plan it first:
        darkfill plan plan.json, then name the shot list that it writes
    """),
    Case("toml_is_a_request", {"my night.toml": GOOD}, """
    my night.toml:1: schema = "darkfill-request/1": this is a request, not a shot list; plan it first:
        darkfill plan "my night.toml", then name the shot list that it writes
    """),
    Case("toml_is_no_request", {"plan.toml": 'steps = "none"'}, """
    plan.toml: the ending .toml is not known; name a shot list that ends in .json or .csv
    """),
    Case("json_cut_off", {"plan.json": '{"schema": "darkfill-shots/1",\n "tool": {'}, """
    plan.json:2: `"tool": {`: the file ends before its last bracket is closed (column 11); make or copy
        it again
    """),
    Case("json_step_wrong",
        shots(('"kind": "park"', '"kind": "parking"'),
            ('"exposure_s": 120,\n   "tracking"', '"exposure_s": "120",\n   "tracking"'),
            (': true', ': 1')), """
    plan.shots.json:69: steps[0].exposure_s = "120" (step 1): this is text, not a number; drop the
        quotes: 120
    plan.shots.json:70: steps[0].tracking = 1 (step 1): this is neither true nor false; give true or
        false
    plan.shots.json:74: steps[1].kind = "parking" (step 2): this word is not known here; did you mean
        "park"? To choose from: "slew", "centre", "settle", "filter", "focus", "expose", "dither",
        "flip", "rotate", "wait" or "park"
    """),
    Case("json_step_key_unknown",
        shots(('"filter": "L",\n   "exposure_s"', '"filter": "L",\n   "exposure"')), """
    plan.shots.json:69: steps[0].exposure = 120 (step 1): this key is not known here; did you mean
        exposure_s (seconds)?
    """),
    Case("json_request_inside_wrong",
        shots(('"latitude_deg": 38.92', '"latitude_deg": 98.92'),
            ('"filter": "L",\n      "exposure_s"', '"filter": "R",\n      "exposure_s"')), """
    plan.shots.json:18: request.site.latitude_deg = 98.92 [degrees]: too large; give a number of degrees
        from -90 to 90 (geodetic, north positive)
    plan.shots.json:37: request.targets[0].goals[0].filter = "R" (1st goal of target "Cradle Nebula"):
        there is no filter of this name; use "L", or add a filter named "R"
    """),
    Case("json_numbers_wrong",
        shots(('"share": 0.004', '"share": Infinity'),
            ('"expose": 123', '"expose": 1.5'),
            ('"seed": 1', '"seed": true')), """
    plan.shots.json:83: totals.share = inf: this is not a finite number; give a number
    plan.shots.json:85: totals.seconds_by_kind.expose = 1.5: this must be a whole number, it is not
        rounded for you; give a whole number
    plan.shots.json:94: proof.seed = true: true is not a number; give a whole number
    """),
    Case("json_parts_missing", {"plan.json": '{"schema": "darkfill-shots/1"}'}, """
    plan.json: tool: missing; add "tool" with at least name, version, ortools, astropy and numpy
    plan.json: created_utc: missing; add it: an instant like 2026-11-14T20:30:00Z
    plan.json: request_sha256: missing; add it: text in double quotes
    plan.json: request: missing; add "request" with at least schema, night, site, filters and targets
    plan.json: night: missing; add "night" with at least evening, time_zone, sunset_utc, sunrise_utc,
        civil_dusk_utc, civil_dawn_utc, nautical_dusk_utc, nautical_dawn_utc, astronomical_dusk_utc,
        astronomical_dawn_utc, moonrise_utc, moonset_utc (and 2 more)
    plan.json: steps: missing; add a list "steps"
    plan.json: totals: missing; add "totals" with at least goals, open_shutter_s, dark_s, share and
        seconds_by_kind
    plan.json: proof: missing; add "proof" with at least status, objective, bound, gap, seconds, seed
        and workers
    plan.json: unplanned: missing; add a list "unplanned"
    plan.json: audit: missing; add "audit" with at least rules, violations and least_margin_min
    """),
    Case("json_date_and_status",
        shots(('"evening": "2026-11-14",\n  "time_zone"', '"evening": "14.11.",\n  "time_zone"'),
            ('"optimal"', '"best"')), """
    plan.shots.json:46: night.evening = "14.11.": this is not a date; write it like "2026-11-14"
    plan.shots.json:89: proof.status = "best": this word is not known here; give "optimal", "feasible"
        or "stopped"
    """),
    Case("json_steps_is_an_object", shots(('"unplanned": []', '"unplanned": {}')), """
    plan.shots.json:97: unplanned: this is not a list; put it in brackets: [ ... ]
    """),
]
