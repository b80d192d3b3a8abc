"""Plans typed by hand whose form is wrong, for the request of the first demo night."""

from __future__ import annotations

from tests.support.bad_input.table import Case

HEAD = "start,target,filter,exposure_s,count\n"
SUB = "21:40,Pelican at the shore,Ha,300,5\n"
MORE = "target,filter,exposure_s,count"


def typed(text: str | bytes) -> dict[str, str | bytes | None]:
    """A plan typed by hand."""
    return {"plan.csv": text}


# fmt: off
TYPED = [
    Case("typed_column_lacking", typed("start,target,exposure_s\n21:40,Pelican at the shore,300\n"), """
    plan.csv:1: the header lacks filter; name the columns start, target, filter, exposure_s and, if you like,
        count
    """),
    Case("typed_column_misspelt", typed("start,target,filter,exposure,count\n" + SUB), """
    plan.csv:1: "exposure": no column has this name; did you mean exposure_s?
    """),
    Case("typed_columns_of_another_table", typed("time,object,filter,exposure_s,remarks\n"), """
    plan.csv:1: "time", "object" and "remarks": no columns have these names; take them out, or name one of
        start, target, filter, exposure_s, count, step, kind, start_utc, end_utc, latest_start_utc, ra_deg,
        dec_deg, position_angle_deg, gain, offset, binning, pier_side, tracking, hour_angle_h, altitude_deg,
        azimuth_deg, airmass, moon_separation_deg or note
    """),
    Case("typed_column_twice", typed("start,target,filter,exposure_s,Target\n" + SUB), """
    plan.csv:1: target: two columns have this name; keep one of the two
    """),
    Case("typed_header_missing", typed(SUB), """
    plan.csv:1: the header with the names of the columns is missing; begin with a line like
        start,target,filter,exposure_s,count
    """),
    Case("typed_without_rows", typed(HEAD + ",,,,\n\n"), """
    plan.csv: there are no rows below the header; add one row for each target and filter
    """),
    Case("typed_cells_empty", typed(HEAD + ",,,,\n,,,,5\n"), """
    plan.csv:3: start: the cell is empty; write a time like 20:30 or 2026-11-14T19:30:00Z
    plan.csv:3: target: the cell is empty; write the name of a target of the request
    plan.csv:3: filter: the cell is empty; write the name of a filter of the request
    plan.csv:3: exposure_s [seconds]: the cell is empty; write the open-shutter time of one sub, like 120
    """),
    Case("typed_names_unknown", typed(HEAD + "21:40,Pelikan at the shore,Hα,300,5\n21:40,Sombrero,L,300,5\n"), """
    plan.csv:2: target = "Pelikan at the shore": the request has no target of this name or alias; did you
        mean "Pelican at the shore"?
    plan.csv:2: filter = "Hα": the request has no filter of this name or alias; write "L" or "Ha",
        or give the filter that is meant this name among its aliases
    plan.csv:3: target = "Sombrero": the request has no target of this name or alias; write "Pelican at the
        shore", "Whirl in Triangulum" or "Hyades dust", or give the target that is meant this name among its
        aliases
    """),
    Case("typed_times_that_are_none", typed(f"start,{MORE}\n9 pm,Hyades dust,L,120,1\n24:10,Hyades dust,L,120,1\n"
        "2026-10-12T03:00,Hyades dust,L,120,1\n"), """
    plan.csv:2: start = "9 pm": this is no time; write it like 20:30, 2026-11-14T20:30 or 2026-11-14T19:30:00Z
    plan.csv:3: start = "24:10": there is no such time of day; write it like 20:30, 2026-11-14T20:30 or
        2026-11-14T19:30:00Z
    plan.csv:4: start = "2026-10-12T03:00": this is not in the night of 2026-10-10; write an instant from
        2026-10-10T11:46:31Z to 2026-10-11T11:46:31Z, or change evening in the request
    """),
    Case("typed_numbers_that_are_none", typed(HEAD + "21:40,Pelican at the shore,Ha,300 s,2.5\n"
        "21:40,Pelican at the shore,Ha,0,0\n"), """
    plan.csv:2: exposure_s = "300 s" [seconds]: this is not a number; write it like 120 or 12.5, without a unit
    plan.csv:2: count = "2.5": this is not a whole number; write digits only, like 12
    plan.csv:3: exposure_s = "0" [seconds]: this is out of range; give more than 0, at most 86400
    plan.csv:3: count = "0": this is out of range; give a whole number from 1 to 10000
    """),
    Case("typed_more_subs_than_a_night", typed(HEAD + "21:40,Pelican at the shore,Ha,300,1000\n"), """
    plan.csv:2: count = "1000": 1000 subs of 300 s end after the night, 2026-10-11T11:46:31Z; give no more than
        the night can hold
    """),
    Case("typed_two_starts", typed(f"start,start_utc,{MORE}\n21:40,2026-10-10T21:40:00Z,Hyades dust,L,120,1\n"), """
    plan.csv:2: start_utc = "2026-10-10T21:40:00Z": start says another instant, 2026-10-10T19:40:00Z; keep one of
        the two
    """),
    Case("typed_words_unknown", typed(f"start,{MORE},kind,pier_side,tracking\n"
        "21:40,Hyades dust,L,120,1,exposure,left,no\n"), """
    plan.csv:2: kind = "exposure": this word is not known here; did you mean "expose"? To choose from: "slew",
        "centre", "settle", "filter", "focus", "expose", "dither", "flip", "rotate", "wait" or "park"
    plan.csv:2: pier_side = "left": this word is not known here; give "west" or "east"
    plan.csv:2: tracking = "no": this word is not known here; give "true" or "false"
    """),
    Case("typed_steps_that_are_inferred", typed(f"start,{MORE},kind\n21:40,Hyades dust,L,120,1,\n"
        "21:50,,,,,dither\n"), """
    plan.csv:3: kind = "dither": such a step is inferred where rows lack kind or end_utc; leave the row out, or
        give kind and end_utc in every row
    """),
    Case("typed_without_subs", typed(f"start,{MORE},kind\n21:40,,,,,park\n"), """
    plan.csv:2: no row is one of subs; add rows with start, target, filter and exposure_s
    """),
    Case("typed_row_too_long", typed(HEAD.replace(",", ";") + "21:40;Hyades dust;L;120;1;clouds\n"), """
    plan.csv:2: "clouds": the row has 6 cells, the header has 5; check for a semicolon too many, and put text
        with a semicolon in double quotes
    """),
    Case("typed_quote_not_closed", typed(HEAD + '21:40,"Hyades dust,L,120,1\n'), """
    plan.csv:2: a cell in double quotes is not closed, or goes on after its closing quote; write " inside a
        quoted cell twice
    """),
    Case("typed_in_no_encoding", typed(HEAD.encode() + b"21:40,Hyades dust\x81,L,120,1\n"), """
    plan.csv:2: the byte 0x81 is text neither in UTF-8 nor in Windows-1252; save the file with the encoding UTF-8
    """),
]
# fmt: on
