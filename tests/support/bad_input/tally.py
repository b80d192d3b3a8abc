"""Requests whose subs could not be counted for one goal alone, and tallies that cannot be read."""

from __future__ import annotations

from tests.support.bad_input.table import Case, add, request

HEADER = "target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source\n"
NAMED = ('schema = "darkfill-request/1"', 'schema = "darkfill-request/1"\ntally = "in-hand.csv"')
GOAL = '\n[[targets.goals]]\nfilter = "L"\nexposure_s = {}\nframes = 9'

ANDROMEDA = """
[[targets]]
name = "M31"
ra_deg = 10.7
dec_deg = 41.3

[[targets.goals]]
filter = "L"
exposure_s = 60
frames = 5"""


def _tally(text: str | bytes) -> dict[str, str | bytes | None]:
    """A good request whose tally holds this text."""
    return {**request(NAMED), "in-hand.csv": text}


def _row(text: str) -> dict[str, str | bytes | None]:
    """A good request whose tally holds a good row, and this one."""
    return _tally(f"{HEADER}Cradle Nebula,L,120,,,1,2026-11-13,4,0,\n{text}\n")


# fmt: off

TALLY = [
    Case("alias_of_another_target", request(add("target", 'aliases = ["m 31"]'), add("goal", ANDROMEDA)), """
    request.toml:21: targets[0].aliases[0] = "m 31" (target "Cradle Nebula"): targets[1].name on line 29 is
        this name too (case and blanks make no difference); leave it out, or give it to one of the targets
        alone
    """),
    Case("alias_that_is_the_own_name", request(add("target", 'aliases = ["cradlenebula"]')), """
    request.toml:21: targets[0].aliases[0] = "cradlenebula" (target "Cradle Nebula"): targets[0].name on line
        18 is this name too (case and blanks make no difference); leave it out, or give it to one of the
        targets alone
    """),
    Case("filter_alias_twice", request(add("filter", 'aliases = ["Lum", "lum"]')), """
    request.toml:16: filters[0].aliases[1] = "lum" (filter "L"): filters[0].aliases[0] on line 16 is this
        name too (case and blanks make no difference); leave it out, or give it to one of the filters alone
    """),
    Case("goals_too_near", request(add("goal", GOAL.format("121.2"))), """
    request.toml:29: targets[0].goals[1].exposure_s = 121.2 [seconds] (2nd goal of target "Cradle Nebula"):
        goals[0] asks for 120 s with the same filter, gain, offset and binning: too near to tell their subs
        apart; let them differ by more than 1 % and 0.5 s, or join the two into one goal
    """),
    Case("hours_beside_frames", request(add("goal", GOAL.format(600).replace("frames = 9", "hours = 2"))), """
    request.toml:30: targets[0].goals[1].hours = 2 (2nd goal of target "Cradle Nebula"): goals[0] is for the
        same filter, and a goal in hours counts subs of any length; give both in frames, or make one goal of
        them
    """),
    Case("tally_with_another_ending", request((NAMED[0], NAMED[1].replace("csv", "txt"))), """
    request.toml:2: tally = "in-hand.txt": the name does not end in .csv; write it like tally = "in-hand.csv"
    """),
    Case("tally_outside_the_folder", request((NAMED[0], NAMED[1].replace("in-hand", "../in-hand"))), """
    request.toml:2: tally = "../in-hand.csv": this file lies outside the folder of the request; move it
        there, or allow it with --include-outside
    """),
    Case("tally_is_a_folder", {**request(NAMED), "in-hand.csv": None}, """
    in-hand.csv: this is a folder, not a file; name the file in it that holds the tally, beginning with
        target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source
    """),
    Case("tally_without_header", _tally("Cradle Nebula,L,120,,,1,2026-11-13,4,0,\n"), """
    in-hand.csv:1: the header with the names of the columns is missing; the first line must be:
        target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source
    """),
    Case("tally_with_semicolons", _tally(HEADER.replace(",", ";")), """
    in-hand.csv:1: the columns are separated by semicolons; save the file with commas between the columns
    """),
    Case("tally_lacks_a_column", _tally(HEADER.replace("rejected,", "")), """
    in-hand.csv:1: the header lacks rejected; the first line must be:
        target,filter,exposure_s,gain,offset,binning,evening,frames,rejected,source
    """),
    Case("tally_in_another_encoding", _tally((HEADER + "Ñ,L,120,,,1,,4,0,\n").encode("latin-1")), """
    in-hand.csv:2: the byte 0xD1 is not UTF-8 text; save the file with the encoding UTF-8
    """),
    Case("tally_quote_left_open", _row('"Cradle Nebula,L,120,,,1,,4,0,'), """
    in-hand.csv:3: a cell in double quotes is not closed, or goes on after its closing quote; write " inside a
        quoted cell twice
    """),
    Case("tally_row_of_nobody", _row(",L,120,,,1,,4,0,"), """
    in-hand.csv:3: target: the cell is empty; write the name as the request has it
    """),
    Case("tally_exposure_with_comma", _row('Cradle Nebula,L,"120,5",,,1,,4,0,'), """
    in-hand.csv:3: exposure_s = "120,5" [seconds]: a comma does not mark decimals; write 120.5
    """),
    Case("tally_exposure_in_words", _row("Cradle Nebula,L,two,,,1,,4,0,"), """
    in-hand.csv:3: exposure_s = "two" [seconds]: this is not a number; write the seconds of one sub, like 120
    """),
    Case("tally_exposure_of_nothing", _row("Cradle Nebula,L,0,,,1,,4,0,"), """
    in-hand.csv:3: exposure_s = "0" [seconds]: out of range; give seconds above 0, at most 86400
    """),
    Case("tally_evening_as_spreadsheets_have_it", _row("Cradle Nebula,L,120,,,1,14/11/2026,4,0,"), """
    in-hand.csv:3: evening = "14/11/2026": this is not a date; write the date on which the night began like
        2026-11-14, or leave the cell empty
    """),
    Case("tally_evening_not_in_calendar", _row("Cradle Nebula,L,120,,,1,2026-02-30,4,0,"), """
    in-hand.csv:3: evening = "2026-02-30": there is no such day in the calendar; write the date on which the
        night began like 2026-11-14, or leave the cell empty
    """),
    Case("tally_without_frames", _row("Cradle Nebula,L,120,,,1,,,0,"), """
    in-hand.csv:3: frames: the cell is empty; give a whole number from 0 to 10000000
    """),
    Case("tally_frames_in_parts", _row("Cradle Nebula,L,120,,,1,,4.5,0,"), """
    in-hand.csv:3: frames = "4.5": this is not a whole number; give a whole number from 0 to 10000000
    """),
    Case("tally_too_many_frames", _row("Cradle Nebula,L,120,,,1,,10000001,0,"), """
    in-hand.csv:3: frames = "10000001": out of range; give a whole number from 0 to 10000000
    """),
    Case("tally_binning_too_coarse", _row("Cradle Nebula,L,120,,,17,,4,0,"), """
    in-hand.csv:3: binning = "17": out of range; give a whole number from 1 to 16
    """),
    Case("tally_more_rejected_than_taken", _row("Cradle Nebula,L,120,,,1,2026-11-14,4,5,images"), """
    in-hand.csv:3: rejected = 5: more subs are rejected than were taken (4); leave the source empty in rows of
        your own, such as those that only take subs off
    """),
    Case("tally_with_a_comma_too_many", _row("Cradle Nebula,L,120,,,1,,4,0,,x"), """
    in-hand.csv:3: "x": the row has 11 cells, the header has 10; check for a comma too many, and put text with
        a comma in double quotes: "a, b"
    """),
    Case("tally_with_two_bad_rows", _row("Cradle Nebula,L,120,,,1,,-4,0,\nCradle Nebula,,120,x,,1,,4,0,"), """
    in-hand.csv:3: frames = "-4": this is not a whole number; give a whole number from 0 to 10000000
    in-hand.csv:4: filter: the cell is empty; write the name as the request has it
    in-hand.csv:4: gain = "x": this is not a whole number; give a whole number from 0 to 100000
    """),
]
