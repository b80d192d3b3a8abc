"""Requests whose shape is right and whose values are not."""

from tests.support.bad_input.table import Case, add, request

GOALS = '\n[[targets.goals]]\nfilter = "L"\nexposure_s = 120\nframes = 90'

# fmt: off

VALUES = [
    Case("latitude_too_large", request(("38.92", "138.92")), """
    request.toml:7: site.latitude_deg = 138.92 [degrees]: too large; give a number of degrees from -90
        to 90 (geodetic, north positive)
    """),
    Case("latitude_text_and_number", request(add("site", 'latitude = "38d55m"')), """
    request.toml:10: site.latitude = "38d55m": latitude_deg is given as well; keep one of the two
    """),
    Case("latitude_in_hours", request(("latitude_deg = 38.92", 'latitude = "3h29m"')), """
    request.toml:7: site.latitude = "3h29m": only right ascensions are counted in hours; write it like
        "38d55m12s" or "38d55m12sN"
    """),
    Case("longitude_decimal_comma_in_quotes", request(("-3.11", '"-3,11"')), """
    request.toml:8: site.longitude_deg = "-3,11": this is text, not a number, and a comma does not mark
        decimals; write -3.11, with a point and without quotes
    """),
    Case("latitude_decimal_comma", request(("latitude_deg = 38.92", 'latitude = "38,92"')), """
    request.toml:7: site.latitude = "38,92": a comma does not mark decimals; write "38.92", with a point
    """),
    Case("latitude_decimal_comma_in_minutes",
        request(("latitude_deg = 38.92", 'latitude = "38°55,2\'N"')), """
    request.toml:7: site.latitude = "38°55,2'N": a comma does not mark decimals; write "38°55.2'N", with a
        point
    """),
    Case("latitude_parted_by_commas", request(("latitude_deg = 38.92", 'latitude = "38,55,12"')), """
    request.toml:7: site.latitude = "38,55,12": a comma does not mark decimals; write it like
        "38d55m12s" or "38d55m12sN", decimals with a point
    """),
    Case("ra_decimal_comma", request(("ra_deg = 52.297", 'ra = "52,297"')), """
    request.toml:19: targets[0].ra = "52,297" (target "Cradle Nebula"): a comma does not mark decimals;
        write it like "03h29m11s" or "52.297d", decimals with a point
    """),
    Case("darkness_decimal_comma", request(add("filter", 'darkness = "-14,5"')), """
    request.toml:16: filters[0].darkness = "-14,5" (filter "L"): this is text, not a number, and a comma
        does not mark decimals; write -14.5, with a point and without quotes
    """),
    Case("frames_decimal_comma", request(("frames = 90", 'frames = "90,5"')), """
    request.toml:25: targets[0].goals[0].frames = "90,5" (1st goal of target "Cradle Nebula"): this
        is text, not a number, and a comma does not mark decimals; give a whole number from 1 to
        100000 (subs wanted in all; may be left out where hours is given)
    """),
    Case("longitude_with_wrong_letter", request(("longitude_deg = -3.11", 'longitude = "3d6mN"')), """
    request.toml:8: site.longitude = "3d6mN": the letter N makes no sense here; write it like
        "-3d06m36s" or "3d06m36sW"
    """),
    Case("floor_at_zenith", request(("floor_deg = 25", "floor_deg = 90")), """
    request.toml:9: site.floor_deg = 90 [degrees]: too large; give a number of degrees, at least 0 and
        below 90 (no shutter open below this altitude)
    """),
    Case("floor_is_infinite", request(("floor_deg = 25", "floor_deg = inf")), """
    request.toml:9: site.floor_deg = inf [degrees]: this is not a finite number; give a number of
        degrees, at least 0 and below 90 (no shutter open below this altitude)
    """),
    Case("floor_is_a_list", request(("floor_deg = 25", "floor_deg = [25]")), """
    request.toml:9: site.floor_deg = [25]: this is a list, not a number; drop the brackets: 25
    """),
    Case("time_zone_misspelt", request(add("site", 'time_zone = "Europe/Madird"')), """
    request.toml:10: site.time_zone = "Europe/Madird": no such time zone; did you mean Europe/Madrid?
    """),
    Case("time_zone_unheard_of", request(add("site", 'time_zone = "../../x"')), """
    request.toml:10: site.time_zone = "../../x": no such time zone; give an IANA name like Europe/Madrid
    """),
    Case("skyline_out_of_order",
        request(add("site", "skyline = [\n  [0, 12],\n  [90, 5],\n  [80, 9],\n]")), """
    request.toml:13: site.skyline[2][0] = 80 (3rd pair): the azimuth is smaller than the one before it;
        sort the pairs from north through east
    """),
    Case("skyline_point_incomplete", request(add("site", "skyline = [[0, 12], [90]]")), """
    request.toml:10: site.skyline[1] = [90] (2nd pair): one of the two is missing; give [azimuth,
        altitude] in degrees
    """),
    Case("skyline_point_with_three", request(add("site", "skyline = [[0, 12, 3]]")), """
    request.toml:10: site.skyline[0] = [0, 12, 3] (1st pair): there are 3 items where two are wanted;
        give [azimuth, altitude] in degrees
    """),
    Case("skyline_flat", request(add("site", "skyline = [0, 12, 90]")), """
    request.toml:10: site.skyline = [0, 12, 90]: this is not a list of pairs; bracket each, and all of
        them: [[0, 12], [90, 25], ...]
    """),
    Case("evening_is_an_instant", request(("2026-11-14", "2026-11-14T20:00:00Z")), """
    request.toml:4: night.evening = 2026-11-14T20:00:00Z: this is an instant, not a date; drop the time
        and write it like 2026-11-14
    """),
    Case("evening_not_in_calendar", request(("2026-11-14", '"2026-02-30"')), """
    request.toml:4: night.evening = "2026-02-30": there is no such day in the calendar; write it like
        2026-11-14
    """),
    Case("evening_written_day_first", request(("2026-11-14", '"14.11.2026"')), """
    request.toml:4: night.evening = "14.11.2026": this is not a date; write it like 2026-11-14
    """),
    Case("evening_is_a_number", request(("2026-11-14", "20261114")), """
    request.toml:4: night.evening = 20261114: this is not a date; write it like 2026-11-14
    """),
    Case("evening_before_the_tables", request(("2026-11-14", "1960-01-01")), """
    request.toml:4: night.evening = 1960-01-01: the year is out of reach; give one from 1973 to 2100
    """),
    Case("clear_span_backwards",
        request(add("night", 'clear = [["2026-11-15T01:00:00Z", "2026-11-14T20:00:00Z"]]')), """
    request.toml:5: night.clear[0] = ["2026-11-15T01:00:00Z", "2026-11-14T20:00:00Z"] (1st span): the
        span ends no later than it starts; write [start, end] with the earlier instant first
    """),
    Case("blocked_is_one_span",
        request(add("night", 'blocked = ["2026-11-14T20:00:00Z", "2026-11-15T01:00:00Z"]')), """
    request.toml:5: night.blocked = ["2026-11-14T20:00:00Z", "2026-11-15T01:00:00Z"]: this is not a list
        of pairs; bracket each, and all of them: [["2026-11-14T20:30:00Z", "2026-11-15T01:00:00Z"], ...]
    """),
    Case("blocked_span_half", request(add("night", 'blocked = [["2026-11-14T20:00:00Z"]]')), """
    request.toml:5: night.blocked[0] = ["2026-11-14T20:00:00Z"] (1st span): one of the two is missing;
        give [start, end], like ["2026-11-14T20:30:00Z", "2026-11-15T01:00:00Z"]
    """),
    Case("blocked_span_with_fraction",
        request(add("night", 'blocked = [["2026-11-14T20:00:00.5Z", "2026-11-15"]]')), """
    request.toml:5: night.blocked[0][0] = "2026-11-14T20:00:00.5Z" (1st span): there is a fraction of a
        second; give whole seconds
    request.toml:5: night.blocked[0][1] = "2026-11-15" (1st span): this is a date without a time of day;
        write it like 2026-11-14T20:30:00Z
    """),
    Case("mount_kind_misspelt", request(add("mount", 'kind = "germn"')), """
    request.toml:13: mount.kind = "germn": this word is not known here; did you mean "german"? To choose
        from: "german" or "fork"
    """),
    Case("mount_flip_by_number", request(add("mount", "flip_by = 1")), """
    request.toml:13: mount.flip_by = 1: this is none of the choices; give "plan", "mount" or "never"
        (who flips: the plan, the mount by itself, or nobody)
    """),
    Case("contact_in_quotes", request(("contact_min = 40", 'contact_min = "40"')), """
    request.toml:12: mount.contact_min = "40": this is text, not a number; drop the quotes: 40
    """),
    Case("contact_true", request(("contact_min = 40", "contact_min = true")), """
    request.toml:12: mount.contact_min = true [minutes]: true is not a number; give a number of
        minutes from -360 to 360 (past the meridian, where tube or camera would touch; omit until
        measured)
    """),
    Case("refocus_is_a_number", request(add("mount", "refocus_after_flip = 1")), """
    request.toml:13: mount.refocus_after_flip = 1: this is neither true nor false; give true or
        false (autofocus after each flip)
    """),
    Case("refocus_in_quotes", request(add("mount", 'refocus_after_flip = "True"')), """
    request.toml:13: mount.refocus_after_flip = "True": this is text; drop the quotes: true
    """),
    Case("darkness_unknown_word", request(add("filter", 'darkness = "astro"')), """
    request.toml:16: filters[0].darkness = "astro" (filter "L"): this word is not known here; give
        "civil", "nautical", "astronomical" or "sunset" or a number from -90 to 0 (end of which
        twilight, or the Sun's highest altitude in degrees)
    """),
    Case("darkness_above_horizon", request(add("filter", "darkness = 18")), """
    request.toml:16: filters[0].darkness = 18 (filter "L"): too large; give "civil", "nautical",
        "astronomical" or "sunset" or a number from -90 to 0 (end of which twilight, or the Sun's
        highest altitude in degrees)
    """),
    Case("filter_name_empty", request(('name = "L"', 'name = ""')), """
    request.toml:15: filters[0].name = "" (1st filter): the text is empty; give at least one visible
        character
    """),
    Case("filter_name_is_a_number", request(('name = "L"', "name = 7")), """
    request.toml:15: filters[0].name = 7 (1st filter): this is not text; put it in double quotes: "7"
    """),
    Case("target_name_moves_the_cursor", request(("Cradle Nebula", "Cradle\\u001b[2J")), """
    request.toml:18: targets[0].name = "Cradle\\u001b[2J" (1st target): the text holds the control
        character U+001B; remove it (no line breaks, tabs or escapes)
    """),
    Case("target_name_two_lines", request(("Cradle Nebula", "Cradle\\nNebula")), """
    request.toml:18: targets[0].name = "Cradle\\u000aNebula" (1st target): the text holds the control
        character U+000A; remove it (no line breaks, tabs or escapes)
    """),
    Case("target_name_too_long", request(("Cradle Nebula", "N" * 301)), """
    request.toml:18: targets[0].name = "NNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNNN..."
        (1st target): the text has 301 characters; shorten it to 300 at most
    """),
    Case("object_unknown", request(("ra_deg = 52.297\ndec_deg = 31.31", 'object = "NGC 99999"')), """
    request.toml:19: targets[0].object = "NGC 99999" (target "Cradle Nebula"): the offline catalogue
        (OpenNGC) lacks it; did you mean "NGC 999" or "NGC 6999" or "NGC 5999" or "NGC 4999"? Else add
        ra_deg and dec_deg
    """),
    Case("ra_bare_number_in_quotes", request(("ra_deg = 52.297", 'ra = "52.297"')), """
    request.toml:19: targets[0].ra = "52.297" (target "Cradle Nebula"): it does not say whether it
        counts hours or degrees; write it like "03h29m11s" or "52.297d"
    """),
    Case("ra_sexagesimal_in_ra_deg", request(("ra_deg = 52.297", 'ra_deg = "03h29m11s"')), """
    request.toml:19: targets[0].ra_deg = "03h29m11s" (target "Cradle Nebula"): this is text, not a
        number; for sexagesimal text write ra instead of ra_deg
    """),
    Case("ra_past_24_hours", request(("ra_deg = 52.297", 'ra = "24h10m"')), """
    request.toml:19: targets[0].ra = "24h10m" (target "Cradle Nebula"): this is 362.5 degrees, too
        large; give a number of degrees, at least 0 and below 360 (right ascension, ICRS)
    """),
    Case("dec_minutes_too_large", request(("dec_deg = 31.31", 'dec = "+31d78m"')), """
    request.toml:20: targets[0].dec = "+31d78m" (target "Cradle Nebula"): minutes and seconds must be
        below 60; carry the rest over to the number before
    """),
    Case("dec_is_a_number_under_the_text_key", request(("dec_deg = 31.31", "dec = 31.31")), """
    request.toml:20: targets[0].dec = 31.31 (target "Cradle Nebula"): dec takes sexagesimal text; for a
        number of degrees write dec_deg
    """),
    Case("weight_too_fine", request(add("target", "weight = 0.12345")), """
    request.toml:21: targets[0].weight = 0.12345 (target "Cradle Nebula"): more than three decimals;
        round it (the planner counts value in thousandths)
    """),
    Case("exposure_zero", request(("exposure_s = 120", "exposure_s = 0")), """
    request.toml:24: targets[0].goals[0].exposure_s = 0 [seconds] (1st goal of target "Cradle
        Nebula"): too small; give a number of seconds, above 0 and at most 86400 (open-shutter time
        of one sub)
    """),
    Case("exposure_not_a_number", request(("exposure_s = 120", "exposure_s = nan")), """
    request.toml:24: targets[0].goals[0].exposure_s = nan [seconds] (1st goal of target "Cradle
        Nebula"): this is not a finite number; give a number of seconds, above 0 and at most 86400
        (open-shutter time of one sub)
    """),
    Case("frames_with_fraction", request(("frames = 90", "frames = 1.5")), """
    request.toml:25: targets[0].goals[0].frames = 1.5 (1st goal of target "Cradle Nebula"): this
        must be a whole number, it is not rounded for you; give a whole number from 1 to 100000
        (subs wanted in all; may be left out where hours is given)
    """),
    Case("frames_with_decimal_point", request(("frames = 90", "frames = 90.0")), """
    request.toml:25: targets[0].goals[0].frames = 90.0 (1st goal of target "Cradle Nebula"): this must
        be written as a whole number; drop the decimals: 90
    """),
    Case("frames_beyond_count", request(("frames = 90", "frames = " + "9" * 40)), """
    request.toml:25: targets[0].goals[0].frames = about 10^40 (1st goal of target "Cradle Nebula"):
        too large; give a whole number from 1 to 100000 (subs wanted in all; may be
        left out where hours is given)
    """),
    Case("goals_empty", request((GOALS, "goals = []")), """
    request.toml:21: targets[0].goals = [] (target "Cradle Nebula"): the list is empty; give at least
        one [[targets.goals]] block
    """),
    Case("aim_of_no_such_value", request(add("goal", '[aim]\nvalue = "width"')), """
    request.toml:27: aim.value = "width": this word is not known here; did you mean "depth"? To choose from:
        "hours" or "depth"
    """),
    Case("exposure_longer_than_focus_interval", request(("[mount]", "[focus]\nevery_min = 1.5\n[mount]")), """
    request.toml:26: targets[0].goals[0].exposure_s = 120 [seconds] (1st goal of target "Cradle
        Nebula"): the exposure is longer than the time between two autofocus runs, 1.5 min; shorten it to 90
        s at most, or raise focus.every_min
    """),
    Case("goal_filter_in_lower_case", request(('filter = "L"', 'filter = "l"')), """
    request.toml:23: targets[0].goals[0].filter = "l" (1st goal of target "Cradle Nebula"): there is no
        filter of this name; did you mean "L"?
    """),
    Case("goal_filter_unknown", request(('filter = "L"', 'filter = "Ha"')), """
    request.toml:23: targets[0].goals[0].filter = "Ha" (1st goal of target "Cradle Nebula"): there is no
        filter of this name; use "L", or add a filter named "Ha"
    """),
    Case("filter_twice", request(add("filter", '[[filters]]\nname = "L"')), """
    request.toml:17: filters[1].name = "L" (2nd filter): filters[0] on line 15 has this name too; give
        each its own name
    """),
    Case("goal_twice",
        request(add(
            "goal",
            '[[targets.goals]]\nfilter = "L"\nexposure_s = 120.0\nframes = 10\nbinning = 1')), """
    request.toml:26: targets[0].goals[1] (2nd goal of target "Cradle Nebula"): goals[0] asks for the
        same filter, exposure, gain, offset and binning; join the two into one goal with frames = 100
    """),
    Case("target_twice",
        request(add("goal", '[[targets]]\nname = "Cradle Nebula"\n'
            'ra = "1h"\ndec = "2d"\ngoals = [{filter = "L", exposure_s = 60, frames = 5}]')), """
    request.toml:27: targets[1].name = "Cradle Nebula" (2nd target): targets[0] on line 18 has this name
        too; give each its own name
    """),
    Case("everything_at_once",
        request(("38.92", "-138.92"),
            ("2026-11-14", '"tonight"'),
            ('filter = "L"', 'filter = "R"'),
            ("frames = 90", "frame = 90"),
            ("contact_min", "contact")), """
    request.toml:4: night.evening = "tonight": this is not a date; write it like 2026-11-14
    request.toml:7: site.latitude_deg = -138.92 [degrees]: too small; give a number of degrees from
        -90 to 90 (geodetic, north positive)
    request.toml:12: mount.contact = 40: this key is not known here; did you mean contact_min
        (minutes: past the meridian, where tube or camera would touch; omit until measured) or
        contact_before_min (minutes: how far before the meridian pier side east may be used before
        it would touch)?
    request.toml:23: targets[0].goals[0].filter = "R" (1st goal of target "Cradle Nebula"): there is
        no filter of this name; use "L", or add a filter named "R"
    request.toml:25: targets[0].goals[0].frame = 90 (1st goal of target "Cradle Nebula"): this key
        is not known here; did you mean frames?
    """),
]
