"""Targets of a spreadsheet that cannot be used: row, column, value, unit, remedy."""

from __future__ import annotations

from tests.support.bad_input.table import Case, changed, request

SCHEMA = 'schema = "darkfill-request/1"'
NAMED = 'targets_csv = "targets.csv"'
HEADER = "name,object,ra,dec,weight,set,filter,exposure_s,frames,hours\n"
ROW = "Triangulum,M 33,,,,,L,120,60,\n"


def sheet(
    text: str | bytes, *swaps: tuple[str, str], name: str = "targets.csv", end: str = ""
) -> dict[str, str | bytes | None]:
    """A request with a target of its own and a set, and a table of targets beside it."""
    files = request((SCHEMA, f"{SCHEMA}\n{NAMED}"))
    text_of_request = str(files["request.toml"]) + '\n[sets.short]\ngoals = [{ filter = "L", frames = 5 }]\n'
    return {"request.toml": changed(text_of_request + end, *swaps), name: text}


def rows(text: str, *swaps: tuple[str, str]) -> dict[str, str | bytes | None]:
    """A good row, and these."""
    return sheet(HEADER + ROW + text + "\n", *swaps)


# fmt: off
TARGETS = [
    Case("targets_missing", sheet(HEADER + ROW, name="target.csv"), """
    request.toml:2: targets_csv = "targets.csv": targets.csv: there is no such file; did you mean
        target.csv?
    """),
    Case("targets_outside", sheet(HEADER + ROW, (NAMED, NAMED.replace("targets.csv", "../targets.csv"))), """
    request.toml:2: targets_csv = "../targets.csv": this file lies outside the folder of the request;
        move it there, or allow it with --include-outside
    """),
    Case("targets_cell_is_huge", rows("x" * 140_000 + ",M 31,,,,,L,60,10,"), """
    targets.csv:3: a cell has more than 131072 characters; shorten it
    """),
    Case("targets_frames_below_zero", rows("A,M 31,,,,,L,60,-4,"), """
    targets.csv:3: frames = -4 (1st goal of target "A"): too small; give a whole number from 1 to 100000
        (subs wanted in all; may be left out where hours is given)
    """),
    Case("targets_is_a_number", sheet(HEADER + ROW, (NAMED, "targets_csv = 7")), """
    request.toml:2: targets_csv = 7: this is not the name of a file; write it like targets_csv =
        "targets.csv"
    """),
    Case("targets_misspelt", sheet(HEADER + ROW, (NAMED, NAMED.replace("targets_csv", "target_csv"))), """
    request.toml:2: target_csv = "targets.csv": this key is not known here; did you mean targets_csv?
    """),
    Case("targets_in_a_table", sheet(HEADER + ROW, (NAMED, ""), ("[site]", f"[site]\n{NAMED}")), """
    request.toml:8: site.targets_csv = "targets.csv": this key is not known here; it belongs to the top
        of the file: move it above [site]
    """),
    Case("targets_empty", sheet("\n"), """
    request.toml:2: targets_csv = "targets.csv": targets.csv: the file is empty; write the targets,
        beginning with name,object,filter,exposure_s,frames into it
    """),
    Case("targets_without_rows", sheet(HEADER), """
    targets.csv:1: there are no rows below the header; add one row for each goal
    """),
    Case("targets_without_header", sheet(ROW), """
    targets.csv:1: the header with the names of the columns is missing; begin with a line like
        name,object,filter,exposure_s,frames
    """),
    Case("targets_without_name", sheet(HEADER.replace("name", "aliases") + ROW), """
    targets.csv:1: the header lacks name; name the columns, like name,object,filter,exposure_s,frames
    """),
    Case("targets_unknown_column", sheet(HEADER.replace("weight", "wieght").replace("hours", "moon") + ROW), """
    targets.csv:1: "wieght": no column has this name; did you mean weight?
    targets.csv:1: "moon": no column has this name; take it out, or name one of name, object, filter, exposure_s,
        frames, ra, dec, ra_deg, dec_deg, position_angle_deg, weight, floor_deg, least_min, sides,
        aliases, rigs, set, hours, done, gain, offset, binning or in_set
    """),
    Case("targets_column_twice", sheet(HEADER.replace("hours", "frames") + ROW), """
    targets.csv:1: frames: two columns have this name; keep one of the two
    """),
    Case("targets_byte_of_no_encoding", sheet(HEADER.encode() + b"Tri\x81,M 33,,,,,L,120,60,\n"), """
    targets.csv:2: the byte 0x81 is text neither in UTF-8 nor in Windows-1252; save the file with the
        encoding UTF-8
    """),
    Case("targets_quote_left_open", rows('"Bode,M 81,,,,,L,120,60,'), """
    targets.csv:3: a cell in double quotes is not closed, or goes on after its closing quote; write "
        inside a quoted cell twice
    """),
    Case("targets_first_row_nameless", sheet(HEADER + ROW.replace("Triangulum", "")), """
    targets.csv:2: name: the cell is empty; write the name of the target; rows below may leave it empty
    """),
    Case("targets_no_name_but_an_object", rows(",,,,,,L,60,60,\n,M 81,,,,,L,30,60,\n,,,,2,,L,20,60,"), """
    targets.csv:4: object = "M 81": line 2 says otherwise of "Triangulum": "M 33"; write the same, leave
        the cell empty, or name another target
    targets.csv:5: weight = "2": without a name the row goes on with "Triangulum" (line 2), which leaves
        this empty; write the name of the target, or this on line 2
    """),
    Case("targets_rows_disagree", rows('Bode,M 81,,,2,,L,120,60,\nTriangulum,M 33,,,,,L,60,10,\nBode,M 82,,,"2,5",,L,60,10,'), """
    targets.csv:5: object = "M 82": line 3 says otherwise of "Bode": "M 81"; write the same, leave the
        cell empty, or name another target
    targets.csv:5: weight = "2,5": line 3 says otherwise of "Bode": "2"; write the same, leave the cell
        empty, or name another target
    """),
    Case("targets_goal_without_filter", rows(",,,,,,,60,10,\n,,,,,,,,,3"), """
    targets.csv:3: filter: the cell is empty, and exposure_s is given; write the name of a filter, or
        leave exposure_s empty
    targets.csv:4: filter: the cell is empty, and hours is given; write the name of a filter, or leave
        hours empty
    """),
    Case("targets_without_goals", rows("Bode,M 81,,,,,,,,"), """
    targets.csv:3: filter (target "Bode"): the target has no goal; write a filter beside it, or the name
        of a set
    """),
    Case("targets_without_a_place", rows("Bode,,,,,,L,120,60,\nCigar,,148.9,,,,L,120,60,"), """
    targets.csv:3: target "Bode": this target has no place in the sky; give ra_deg and dec_deg, ra and
        dec as text, or object = "NGC 1333"
    targets.csv:4: dec (target "Cigar"): missing; add it: a number of degrees from -90 to 90
    """),
    Case("targets_words_for_numbers", rows('Bode,M 81,,,much,,L,2 min,60,\n,,,,,,L,"1.234,5",12.5,\n,,,,,,L,70,60.0,\n,,,,,,L,80,,four'), """
    targets.csv:3: weight = "much" (target "Bode"): this is text, not a number; give a number, above 0
        and at most 1000 (value of one second of this target against others; at most three decimals)
    targets.csv:3: exposure_s = "2 min" (1st goal of target "Bode"): this is text, not a number; give a
        number of seconds, above 0 and at most 86400 (open-shutter time of one sub)
    targets.csv:4: exposure_s = "1.234,5" (2nd goal of target "Bode"): this is text, not a number; give
        a number of seconds, above 0 and at most 86400 (open-shutter time of one sub)
    targets.csv:4: frames = 12.5 (2nd goal of target "Bode"): this must be a whole number, it is not
        rounded for you; give a whole number from 1 to 100000 (subs wanted in all; may be left out where
        hours is given)
    targets.csv:5: frames = 60.0 (3rd goal of target "Bode"): this must be written as a whole number;
        drop the decimals: 60
    targets.csv:6: hours = "four" (4th goal of target "Bode"): this is text, not a number; give a
        number, above 0 and at most 10000 (open-shutter time wanted in all, in place of frames (rounded
        up to whole subs); subs of any length count for it)
    targets.csv:6: hours = "four" (4th goal of target "Bode"): line 5 is for the same filter, and a goal
        in hours counts subs of any length; give both in frames, or make one goal of them
    """),
    Case("targets_out_of_range", rows('Bode,,360,-91,"1,2345",,L,0,0,\n,,,,,,L,99999,100001,'), """
    targets.csv:3: ra = 360.0 [degrees] (target "Bode"): too large; give a number of degrees, at least 0
        and below 360 (right ascension, ICRS)
    targets.csv:3: dec = -91.0 [degrees] (target "Bode"): too small; give a number of degrees from -90
        to 90 (declination, ICRS)
    targets.csv:3: weight = 1.2345 (target "Bode"): more than three decimals; round it (the planner
        counts value in thousandths)
    targets.csv:3: exposure_s = 0 [seconds] (1st goal of target "Bode"): too small; give a number of
        seconds, above 0 and at most 86400 (open-shutter time of one sub)
    targets.csv:3: frames = 0 (1st goal of target "Bode"): too small; give a whole number from 1 to
        100000 (subs wanted in all; may be left out where hours is given)
    targets.csv:4: exposure_s = 99999 [seconds] (2nd goal of target "Bode"): too large; give a number of
        seconds, above 0 and at most 86400 (open-shutter time of one sub)
    targets.csv:4: frames = 100001 (2nd goal of target "Bode"): too large; give a whole number from 1 to
        100000 (subs wanted in all; may be left out where hours is given)
    """),
    Case("targets_bad_angles", rows('Bode,,9h55,69:99,,,L,120,60,\nCigar,,"09;55",x,,,L,120,60,'), """
    targets.csv:3: dec = "69:99" (target "Bode"): minutes and seconds must be below 60; carry the rest
        over to the number before
    targets.csv:4: ra = "09;55" (target "Cigar"): this is not an angle; write it like "03h29m11s" or
        "52.297d"
    targets.csv:4: dec = "x" (target "Cigar"): this is not an angle; write it like "+31d18m36s"
    """),
    Case("targets_no_such_object", rows("Bode,M 811,,,,,L,120,60,"), """
    targets.csv:3: object = "M 811" (target "Bode"): the offline catalogue (OpenNGC) lacks it; check the
        spelling, or add ra_deg and dec_deg
    """),
    Case("targets_no_such_filter_or_set", rows("Bode,M 81,,,,,Lum,120,60,\nCigar,M 82,,,,shrt,,,,"), """
    targets.csv:3: filter = "Lum" (1st goal of target "Bode"): there is no filter of this name; use "L",
        or add a filter named "Lum"
    targets.csv:4: set = "shrt" (target "Cigar"): there is no set of this name; did you mean "short"?
    """),
    Case("targets_exposure_nowhere", rows("Bode,M 81,,,,,L,,60,"), """
    targets.csv:3: exposure_s (1st goal of target "Bode"): given neither in this goal nor under its
        filter (filters[0] on line 15 of request.toml); add it to one of them: a number of seconds,
        above 0 and at most 86400
    """),
    Case("targets_frames_nowhere", rows("Bode,M 81,,,,,L,120,,"), """
    targets.csv:3: frames (1st goal of target "Bode"): given neither in this goal nor under its filter
        (filters[0] on line 15 of request.toml); add it to one of them: a whole number from 1 to 100000
    """),
    Case("targets_frames_and_hours", rows("Bode,M 81,,,,,L,120,60,3"), """
    targets.csv:3: hours = 3 (1st goal of target "Bode"): frames is given too, and 3 h are 90 subs; give
        one of the two
    """),
    Case("targets_goal_twice", rows("Bode,M 81,,,,,L,120,60,\n,,,,,,L,120,30,"), """
    targets.csv:4: 2nd goal of target "Bode": line 3 asks for the same filter, exposure, gain, offset
        and binning; join the two into one goal with frames = 90
    """),
    Case("targets_goal_of_set_twice", rows('Bode,M 81,,,,short,L,120,5,', ('name = "L"', 'name = "L"\nexposure_s = 120')), """
    targets.csv:3: 1st goal of target "Bode": sets.short.goals[0] on line 30 of request.toml, which this
        target takes too, asks for the same filter, exposure, gain, offset and binning; leave one of the
        two out
    """),
    Case("targets_name_of_the_request", rows("Cradle Nebula,M 81,,,,,L,120,60,"), """
    targets.csv:3: name = "Cradle Nebula" (3rd target): targets[0] on line 18 of request.toml has this
        name too; give each its own name
    """),
    Case("targets_control_character", rows("Bo\x07de,M 81,,,,,L,120,60,"), """
    targets.csv:3: name = "Bo\\u0007de" (3rd target): the text holds the control character U+0007; remove
        it (no line breaks, tabs or escapes)
    """),
    Case("targets_cells_too_many", rows("Bode,M 81,,,1,5,,L,120,60,9\n\n,,,,,,L,20,60,"), """
    targets.csv:3: "9": the row has 11 cells, the header has 10; check for a comma too many, and put
        text with a comma in double quotes
    """),
    Case("targets_sides_unknown", sheet("name;object;sides;in_set;filter;exposure_s;frames;aliases\nBode;M 81;left;maybe;L;120;60;Bode\n"), """
    targets.csv:2: sides = "left" (target "Bode"): this word is not known here; give "either", "before"
        or "after" (which side of the transit may be used; either: both)
    targets.csv:2: in_set = "maybe" (1st goal of target "Bode"): this is neither true nor false; give
        true or false (part of the target's filter set; false: counts by itself, as stars in RGB may)
    targets.csv:2: aliases = "Bode" (target "Bode"): name on line 2 is this name too (case and blanks
        make no difference); leave it out, or give it to one of the targets alone
    """),
    Case("targets_ra_twice", sheet("name,ra,ra_deg,dec,dec_deg,filter,exposure_s,frames\nBode,9h55m33s,148.888,69.065,69:04,L,120,60\n"), """
    targets.csv:2: ra_deg = "148.888": ra is given as well; keep one of the two
    targets.csv:2: dec_deg = "69:04": dec is given as well; keep one of the two
    """),
    Case("targets_and_the_request_both", rows("Bode,M 81,,,0,,L,120,60,", ("floor_deg = 25", "floor_deg = 95")), """
    request.toml:10: site.floor_deg = 95 [degrees]: too large; give a number of degrees, at least 0 and
        below 90 (no shutter open below this altitude)
    targets.csv:3: weight = 0 (target "Bode"): too small; give a number, above 0 and at most 1000 (value
        of one second of this target against others; at most three decimals)
    """),
]
# fmt: on
