"""Odds of clear sky that cannot be used, from a file of their own or from the request itself."""

from tests.support.bad_input.table import Case, add, changed, request

NAMED = 'clear_odds_file = "tonight.csv"'
OTHER_NIGHT = (
    "which lasts from\n        2026-11-14T12:12Z to 2026-11-15T12:12Z: these are the odds of another night"
)


def odds(
    text: str | bytes, *swaps: tuple[str, str], name: str = "tonight.csv"
) -> dict[str, str | bytes | None]:
    """A request at a site in Spain that names tonight.csv, beside a file of that or another name."""
    files = request(add("night", NAMED), add("site", 'time_zone = "Europe/Madrid"'))
    return {"request.toml": changed(str(files["request.toml"]), *swaps), name: text}


def given(pairs: str) -> dict[str, str | bytes | None]:
    """A request that gives its odds itself."""
    return request(add("night", f"clear_odds = {pairs}"))


# fmt: off
ODDS = [
    Case("odds_file_missing", odds("20:30, 70\n", name="tonite.csv"), """
    request.toml:5: night.clear_odds_file = "tonight.csv": tonight.csv: there is no such file; did you mean
        tonite.csv?
    """),
    Case("odds_file_outside", odds("20:30, 70\n", (NAMED, NAMED.replace("tonight", "../tonight"))), """
    request.toml:5: night.clear_odds_file = "../tonight.csv": this file lies outside the folder of the
        request; move it there, or allow it with --include-outside
    """),
    Case("odds_file_is_a_number", odds("20:30, 70\n", (NAMED, "clear_odds_file = 7")), """
    request.toml:5: night.clear_odds_file = 7: this is not the name of a file; write it like
        clear_odds_file = "tonight.csv"
    """),
    Case("odds_file_misspelt", odds("20:30, 70\n", (NAMED, 'clear_odd_file = "tonight.csv"')), """
    request.toml:5: night.clear_odd_file = "tonight.csv": this key is not known here; did you mean
        clear_odds_file?
    """),
    Case("odds_twice", odds("20:30, 70\n", (NAMED, NAMED + '\nclear_odds = [["2026-11-14T20:30:00Z", 70]]')), """
    request.toml:5: night.clear_odds_file = "tonight.csv": clear_odds is given as well; keep one of the two
    """),
    Case("odds_file_empty", odds("\n"), """
    request.toml:5: night.clear_odds_file = "tonight.csv": tonight.csv: the file is empty; write the odds
        of clear sky into it
    """),
    Case("odds_file_without_rows", odds("time, percent\n# cloudy, they say\n"), """
    tonight.csv: the file holds no odds; write a line like 20:30, 70
    """),
    Case("odds_file_in_latin_1", odds("20:30, 70 # drizzle from the côte\n".encode("latin-1")), """
    tonight.csv:1: the byte 0xF4 is not UTF-8 text; save the file with the encoding UTF-8
    """),
    Case("odds_file_in_utf_16", odds("20:30, 70\n".encode("utf-16")), """
    request.toml:5: night.clear_odds_file = "tonight.csv": tonight.csv: the file is written in UTF-16; save
        it with the encoding UTF-8
    """),
    Case("odds_file_too_large", odds("20:30, 70\n" * 100_001), """
    request.toml:5: night.clear_odds_file = "tonight.csv": tonight.csv: the file is larger than 1 MB; check
        that it holds the odds of clear sky
    """),
    Case("odds_not_ascending", odds("time, percent\n20:30, 70\n\n19:00, 60\n"), """
    tonight.csv:4: "19:00": this is earlier than 20:30 on line 2; sort the lines by time
    """),
    Case("odds_doubled", odds("20:30, 70\n2026-11-14T19:30:00Z, 60\n"), """
    tonight.csv:2: "2026-11-14T19:30:00Z": line 1 has the odds of this instant already; keep one of the two
    """),
    Case("odds_out_of_range", odds("20:30, 170\n21:00, -5 %\n"), """
    tonight.csv:1: "170": the odds are too large; give per cent from 0 to 100
    tonight.csv:2: "-5 %": the odds are too small; give per cent from 0 to 100
    """),
    Case("odds_that_are_no_pairs", odds("20:30\n21:00, likely\n9 pm, 40\n22:00, 40, 50\n23:00; 40,5\n"), """
    tonight.csv:1: "20:30": this is no pair of a time and per cent; write it like 20:30, 70
    tonight.csv:2: "likely": this is not a percentage; give per cent from 0 to 100, like 70 or 70.5
    tonight.csv:3: "9 pm": this is not a time; write it like 20:30, 2026-11-14T20:30 or
        2026-11-14T19:30:00Z
    tonight.csv:4: "22:00, 40, 50": this is no pair of a time and per cent; write it like 20:30, 70
    tonight.csv:5: "23:00; 40,5": a comma does not mark decimals; write it with a point, like 20:30; 70.5
    """),
    Case("odds_at_times_that_are_none", odds("20:61, 70\n2026-02-30T20:30, 70\n2026-11-14T20:30+30:00, 70\n"
            "1066-10-14T20:30, 70\n20:30:00.5, 70\n"), """
    tonight.csv:1: "20:61": there is no such time of day; write it like 20:30, 2026-11-14T20:30 or
        2026-11-14T19:30:00Z
    tonight.csv:2: "2026-02-30T20:30": there is no such day in the calendar; write it like 20:30,
        2026-11-14T20:30 or 2026-11-14T19:30:00Z
    tonight.csv:3: "2026-11-14T20:30+30:00": there is no such offset from UTC; write it like +01:00
    tonight.csv:4: "1066-10-14T20:30": the year is out of reach; give one from 1973 to 2100
    tonight.csv:5: "20:30:00.5": there is a fraction of a second; give whole seconds
    """),
    Case("odds_at_an_hour_left_out", odds("01:30, 70\n02:30, 60\n", ("2026-11-14", "2027-03-27")), """
    tonight.csv:2: "02:30": there is no 02:30:00 on 2027-03-28 in Europe/Madrid, where the clocks go from
        UTC+01:00 to UTC+02:00; write the instant in UTC, like 2027-03-28T01:30:00Z
    """),
    Case("odds_at_an_hour_that_comes_twice", odds("01:30, 70\n02:30, 60\n", ("2026-11-14", "2026-10-24")), """
    tonight.csv:2: "02:30": 02:30:00 comes twice on 2026-10-25 in Europe/Madrid, where the clocks go from
        UTC+02:00 to UTC+01:00; say which: 2026-10-25T02:30:00+02:00 or 2026-10-25T02:30:00+01:00
    """),
    Case("odds_of_yesterday", odds("2026-11-13T20:30, 70\n2026-11-14T06:00, 60\n"), f"""
    tonight.csv: all its times lie before the night of 2026-11-14, {OTHER_NIGHT}; write those of this
        night, or leave the file out
    """),
    Case("odds_of_tomorrow", odds("2026-11-15T20:30, 70\n2026-11-16T06:00, 60\n"), f"""
    tonight.csv: all its times lie after the night of 2026-11-14, {OTHER_NIGHT}; write those of this night,
        or leave the file out
    """),
    Case("odds_of_yesterday_in_the_request", given('[["2026-11-13T20:30:00Z", 70]]'), f"""
    request.toml:5: night.clear_odds = [["2026-11-13T20:30:00Z", 70]]: all its instants lie before the night
        of 2026-11-14, {OTHER_NIGHT}; give those of this night, or leave the key out
    """),
    Case("odds_in_the_request_twice",
        given('[["2026-11-14T20:30:00Z", 70], ["2026-11-14T20:30:00Z", 60]]'), """
    request.toml:5: night.clear_odds[1][0] = "2026-11-14T20:30:00Z" (2nd pair): the instant is no later than
        the one before it; sort the pairs by time, each instant once
    """),
    Case("odds_in_the_request_odd",
        given('[["half past eight", 70], ["2026-11-14T21:30:00Z", 160], ["2026-11-14T22:30:00Z"]]'), """
    request.toml:5: night.clear_odds[0][0] = "half past eight" (1st pair): this is not an instant; write it
        like 2026-11-14T20:30:00Z
    request.toml:5: night.clear_odds[1][1] = 160 (2nd pair): too large; give a number from 0 to 100
        (percent)
    request.toml:5: night.clear_odds[2] = ["2026-11-14T22:30:00Z"] (3rd pair): one of the two is missing;
        give [instant, percent], like ["2026-11-14T20:30:00Z", 70]
    """),
    Case("odds_in_the_request_are_a_name", given('"tonight.csv"'), """
    request.toml:5: night.clear_odds = "tonight.csv": this is text, not a list of pairs; for the name of a
        file write clear_odds_file = "tonight.csv"
    """),
    Case("odds_in_the_request_flat", given("[70, 60]"), """
    request.toml:5: night.clear_odds = [70, 60]: this is not a list of pairs; bracket each, and all of them:
        [["2026-11-14T20:30:00Z", 70], ["2026-11-15T01:00:00Z", 40], ...]
    """),
]
