"""Requests with missing, unknown or misshapen keys and tables; TOML and JSON that cannot be parsed."""

import json
import tomllib

from tests.support.bad_input.table import GOOD, Case, add, changed, request


def as_json(*swaps: tuple[str, str]) -> dict[str, str | bytes | None]:
    """The good request as JSON, one pair a line, with the swaps made in the text."""
    text = json.dumps(tomllib.loads(GOOD), indent=2, default=str)
    return {"request.json": changed(text, *swaps)}


# fmt: off
SHAPES = [
    Case("schema_missing", request(('schema = "darkfill-request/1"\n', "")), """
    request.toml: schema: missing; begin with schema = "darkfill-request/1"
    """),
    Case("schema_of_another_time", request(("request/1", "request/2")), """
    request.toml:1: schema = "darkfill-request/2": this is not the format read here; write schema =
        "darkfill-request/1"
    """),
    Case("schema_of_a_shot_list", request(("darkfill-request/1", "darkfill-shots/1")), """
    request.toml:1: schema = "darkfill-shots/1": this is a shot list, not a request; name the request it
        was made from
    """),
    Case("schema_by_its_name_in_code", request(("schema =", "schema_ =")), """
    request.toml:1: schema_ = "darkfill-request/1": this key is not known here; did you mean schema?
    """),
    Case("night_missing", request(("[night]\nevening = 2026-11-14\n", "")), """
    request.toml: night: missing; add [night] with at least evening
    """),
    Case("evening_at_the_top", request(("\n[night]\nevening", "evening")), """
    request.toml: night: missing; add [night] with at least evening
    request.toml:2: evening = 2026-11-14: this key is not known here; it belongs under [night]: move it
        there
    """),
    Case("latitude_missing", request(("latitude_deg = 38.92\n", "")), """
    request.toml:6: site.latitude_deg: missing; add latitude_deg = 38.92 (degrees, geodetic, north
        positive)
    """),
    Case("latitude_by_another_name", request(("latitude_deg = 38.92", "lat = 38.92")), """
    request.toml:7: site.lat = 38.92: this key is not known here; did you mean latitude_deg (degrees)?
    """),
    Case("unit_left_out", request(("exposure_s", "exposure")), """
    request.toml:24: targets[0].goals[0].exposure = 120 (1st goal of target "Cradle Nebula"): this key
        is not known here; did you mean exposure_s (seconds)?
    """),
    Case("overhead_without_its_unit", request(add("goal", "[camera]\noverhead = 3\npause_s = 2")), """
    request.toml:27: camera.overhead = 3: this key is not known here; did you mean overhead_s (seconds)?
    request.toml:28: camera.pause_s = 2: this key is not known here; did you mean overhead_s (seconds)?
    """),
    Case("overhead_in_another_table", request(add("mount", "overhead = 3")), """
    request.toml:13: mount.overhead = 3: this key is not known here; did you mean overhead_s, which
        belongs under [camera]?
    """),
    Case("key_with_the_stem_of_several", request(add("goal", "[camera]\ndither = 3")), """
    request.toml:27: camera.dither = 3: this key is not known here; did you mean dither_every (subs
        of one goal between dithers; 0: never) or dither_s (seconds: what one dither takes)?
    """),
    Case("key_with_a_stem_of_another_table", request(add("mount", "moon_mag = 1")), """
    request.toml:13: mount.moon_mag = 1: this key is not known here; did you mean moonlight_mag
        (magnitudes: most brightening of the sky at the target by moonlight; omit: any),
        moonlight_factor (share of the Moon's light that this filter lets count; 1: all of it, as in
        V) or moon_gap_deg (degrees: least distance to the Moon while it is up; omit: any)? Write it
        under [[filters]]
    """),
    Case("key_of_several_words_misspelt", request(("contact_min", "contact_mim")), """
    request.toml:12: mount.contact_mim = 40: this key is not known here; did you mean contact_min
        (minutes)?
    """),
    Case("place_in_sky_missing", request(("ra_deg = 52.297\ndec_deg = 31.31\n", "")), """
    request.toml:17: targets[0] (target "Cradle Nebula"): this target has no place in the sky; give
        ra_deg and dec_deg, ra and dec as text, or object = "NGC 1333"
    """),
    Case("declination_missing", request(("dec_deg = 31.31\n", "")), """
    request.toml:17: targets[0].dec_deg (target "Cradle Nebula"): missing; add dec_deg = 31.31 or
        dec = "+31d18m36s" (degrees, declination, ICRS)
    """),
    Case("goal_name_and_length_missing", request(('filter = "L"\nexposure_s = 120\n', "")), """
    request.toml:22: targets[0].goals[0].filter (1st goal of target "Cradle Nebula"): missing; add
        filter = "L" (name of one of the filters)
    request.toml:22: targets[0].goals[0].exposure_s (1st goal of target "Cradle Nebula"): missing;
        add exposure_s = 120 (seconds, open-shutter time of one sub)
    """),
    Case("goals_missing", request((GOOD[GOOD.index("[[targets.goals]]") :], "")), """
    request.toml:17: targets[0].goals (target "Cradle Nebula"): missing; add at least one
        [[targets.goals]] block
    """),
    Case("filters_missing", request(('[[filters]]\nname = "L"\n', "")), """
    request.toml: filters: missing; add at least one [[filters]] block
    """),
    Case("filter_table_singular", request(("[[filters]]", "[[filter]]")), """
    request.toml:14: filter: this key is not known here; did you mean [[filters]]?
    """),
    Case("filters_single_brackets", request(("[[filters]]", "[filters]")), """
    request.toml:14: filters: this is one table, not a list of tables; write [[filters]] with double
        brackets
    """),
    Case("site_double_brackets", request(("[site]", "[[site]]")), """
    request.toml:6: site: this is a list, not one table; write [site] with single brackets, once
    """),
    Case("mount_is_a_word",
        request(("[mount]\ncontact_min = 40\n", ""), ('/1"\n', '/1"\nmount = "german"\n')), """
    request.toml:2: mount = "german": this is not a table; open it with [mount] on a line of its own,
        its keys below
    """),
    Case("filters_are_words",
        request(('[[filters]]\nname = "L"\n', ""), ('/1"\n', '/1"\nfilters = ["L", "R"]\n')), """
    request.toml:2: filters[0] = "L" (1st filter): this is not a table; open it with [[filters]] on a
        line of its own, its keys below
    request.toml:2: filters[1] = "R" (2nd filter): this is not a table; open it with [[filters]] on a
        line of its own, its keys below
    """),
    Case("key_in_another_table", request(add("mount", "dither_every = 3")), """
    request.toml:13: mount.dither_every = 3: this key is not known here; it belongs under [camera]: move
        it there
    """),
    Case("target_key_below_its_goals", request(add("goal", "weight = 2")), """
    request.toml:26: targets[0].goals[0].weight = 2 (1st goal of target "Cradle Nebula"): this key is
        not known here; it belongs to [[targets]]: move it above [[targets.goals]]
    """),
    Case("include_below_a_table", request(add("goal", 'include = ["site.toml"]')), """
    request.toml:26: targets[0].goals[0].include = ["site.toml"] (1st goal of target "Cradle Nebula"):
        this key is not known here; write it at the top of the request file, before the first table
    """),
    Case("key_unknown", request(add("mount", "colour = 3")), """
    request.toml:13: mount.colour = 3: this key is not known here; remove it; known here: kind,
        slew_deg_s, slew_extra_s, centre_s, settle_s, contact_min, clearance_min, flip_from_min,
        contact_before_min, flip_by, quiet_min, clock_error_s, refocus_after_flip,
        turn_rotator_after_flip and rotator_deg_s
    """),
    Case("key_with_escape_sequence", request(add("mount", '"\\u001b[31m x" = 3')), """
    request.toml:13: mount."\\u001b[31m x" = 3: this key is not known here; remove it; known here: kind,
        slew_deg_s, slew_extra_s, centre_s, settle_s, contact_min, clearance_min, flip_from_min,
        contact_before_min, flip_by, quiet_min, clock_error_s, refocus_after_flip,
        turn_rotator_after_flip and rotator_deg_s
    """),
    Case("toml_text_without_quotes", request(('"Cradle Nebula"', "Cradle Nebula")), """
    request.toml:18: name = Cradle Nebula: this is neither a number nor text in quotes; text stands in
        double quotes: name = "Cradle Nebula"
    """),
    Case("toml_typographic_quotes", request(('"Cradle Nebula"', "“Cradle Nebula”")), """
    request.toml:18: name = “Cradle Nebula”: these are typographic quotes; use the plain double quote: "
    """),
    Case("toml_quote_not_closed", request(('"Cradle Nebula"', '"Cradle Nebula')), """
    request.toml:18: name = "Cradle Nebula: the text is not closed on its line; add the missing quote at
        its end
    """),
    Case("toml_angle_without_quotes", request(("ra_deg = 52.297", "ra = 03h29m11s")), """
    request.toml:19: ra = 03h29m11s: this looks like an angle or a time without quotes; put it in double
        quotes: "03h29m11s"
    """),
    Case("toml_decimal_comma", request(("38.92", "38,92")), """
    request.toml:7: latitude_deg = 38,92: a comma does not mark decimals; use a point: 38.92
    """),
    Case("toml_leading_zero", request(("frames = 90", "frames = 090")), """
    request.toml:25: frames = 090: a number may not begin with a 0; drop the leading 0
    """),
    Case("toml_no_leading_zero", request(("38.92", ".5")), """
    request.toml:7: latitude_deg = .5: a number may not begin with a point; write 0 before it: 0.5
    """),
    Case("toml_unit_after_number", request(("exposure_s = 120", "exposure_s = 120 s")), """
    request.toml:24: exposure_s = 120 s: a number stands alone, without its unit; drop what follows the
        number
    """),
    Case("toml_capital_true", request(add("mount", "refocus_after_flip = True")), """
    request.toml:13: refocus_after_flip = True: true and false are written small; write true or false
    """),
    Case("toml_no_value", request(("frames = 90", "frames =")), """
    request.toml:25: frames: there is no value after the =; write one, or leave the key out
    """),
    Case("toml_colon_for_equals", request(("frames = 90", "frames: 90")), """
    request.toml:25: `frames: 90`: a key is not followed by =; write key = value, not key: value
    """),
    Case("toml_backslash", request(('"Cradle Nebula"', '"C:\\Nebula"')), """
    request.toml:18: name = "C:\\Nebula": a backslash in double quotes begins an escape; write two, or
        put the text in single quotes
    """),
    Case("toml_list_not_closed", request(add("site", "skyline = [[0, 12], [90, 5]")), """
    request.toml:12: `[mount]`: a list that began before this is not closed; add the missing ] or comma
    """),
    Case("toml_header_not_closed", request(("[[targets.goals]]", "[[targets.goals]")), """
    request.toml:22: `[[targets.goals]`: the header of a table is not closed; close it with as many
        brackets as it opens with
    """),
    Case("toml_no_such_day", request(("2026-11-14", "2026-11-31")), """
    request.toml:4: evening = 2026-11-31: there is no such date or time; write a date like 2026-11-14,
        an instant like 2026-11-14T20:30:00Z
    """),
    Case("toml_key_twice", request(add("goal", "frames = 60\nfilter = 3")), """
    request.toml:26: targets[0].goals[0].frames: the key is given twice, first on line 25; keep one of
        the two
    request.toml:27: targets[0].goals[0].filter: the key is given twice, first on line 23; keep one of
        the two
    """),
    Case("toml_table_twice", request(("[mount]", "[site]\nelevation_m = 640\n[mount]")), """
    request.toml:11: `[site]`: the table is opened on line 6 already; join the two
    """),
    Case("toml_list_then_table", request(("[[targets]]", '[filters]\nname = "R"\n[[targets]]')), """
    request.toml:17: `[filters]`: [[filters]] on line 14 is a list of tables; write [[filters]] here too
    """),
    Case("toml_nested_too_deep", request(("frames = 90", "frames = " + "[" * 5000)), """
    request.toml: lists or tables are nested too deep; check for stray brackets
    """),
    Case("toml_number_of_thousands_of_digits", request(("frames = 90", "frames = " + "9" * 5000)), """
    request.toml:25: a number has thousands of digits; shorten it
    """),
    Case("json_comma_missing", as_json(('"latitude_deg": 38.92,', '"latitude_deg": 38.92')), """
    request.json:8: `"longitude_deg": -3.11,`: a comma or a closing bracket is missing before this
        (column 5); add it
    """),
    Case("json_comma_too_many", as_json(('"frames": 90', '"frames": 90,')), """
    request.json:29: `}`: a key in double quotes is expected here (column 9); remove the comma before
        it, or use double quotes
    """),
    Case("json_single_quotes", as_json(('"frames"', "'frames'")), """
    request.json:28: `'frames': 90`: a key in double quotes is expected here (column 11); remove the
        comma before it, or use double quotes
    """),
    Case("json_capital_true", as_json(('"frames": 90', '"frames": True')), """
    request.json:28: `"frames": True`: JSON has no word True (column 21); write true
    """),
    Case("json_key_twice", as_json(('"frames": 90', '"frames": 90, "frames": 60')), """
    request.json:28: targets[0].goals[0].frames: the key is given twice, first on line 28; keep one of
        the two
    """),
    Case("json_not_a_number", as_json(('"exposure_s": 120', '"exposure_s": NaN')), """
    request.json:27: targets[0].goals[0].exposure_s = nan [seconds] (1st goal of target "Cradle
        Nebula"): this is not a finite number; give a number of seconds, above 0 and at most 86400
        (open-shutter time of one sub)
    """),
    Case("json_null_and_wrong_keys",
        as_json(('"exposure_s": 120', '"exposure_s": null'),
            ('"latitude_deg"', '"latitude"'),
            ('"contact_min": 40', '"gain": 40')), """
    request.json:7: site.latitude = 38.92: latitude takes sexagesimal text; for a number of degrees
        write latitude_deg
    request.json:12: mount.gain = 40: this key is not known here; it belongs under "filters" or
        "targets.goals": move it there
    request.json:27: targets[0].goals[0].exposure_s = null (1st goal of target "Cradle Nebula"):
        given neither in this goal nor under its filter (filters[0] on line 15); add it to one of them:
        a number of seconds, above 0 and at most 86400
    """),
    Case("json_half_a_character", as_json(("Cradle Nebula", "Cradle \\ud800")), """
    request.json:21: targets[0].name = "Cradle \\ud800" (1st target): the text holds half a character (a
        lone surrogate); remove the \\ud... escape, or write both halves
    """),
    Case("json_list_at_the_top", {"request.json": "[1, 2]"}, """
    request.json:1: [1, 2]: the request must be an object; put it in braces: { ... }
    """),
    Case("json_tables_missing",
        {"request.json": '{"schema": "darkfill-request/1", "site": null, "filters": []}'}, """
    request.json: night: missing; add "night" with at least evening
    request.json: targets: missing; add a list "targets"
    request.json:1: site = null: null is not an object; put one in braces: { ... }
    request.json:1: filters = []: the list is empty; give at least one item
    """),
]
