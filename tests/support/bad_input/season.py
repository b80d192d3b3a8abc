"""A season that cannot be used: its nights, its odds of clear sky, the file of them."""

from tests.support.bad_input.table import GOOD, Case

NAMED = 'clear_odds_file = "odds.csv"'


def season(lines: str, odds: str | bytes | None = None) -> dict[str, str | bytes | None]:
    """A good request with some lines in its season, the first of them line 28, beside a file of odds."""
    files: dict[str, str | bytes | None] = {"request.toml": f"{GOOD}\n[season]\n{lines}\n"}
    return files if odds is None else {**files, "odds.csv": odds}


# fmt: off
SEASON = [
    Case("season_odds_in_per_cent", season("clear_odds = 60"), """
    request.toml:28: season.clear_odds = 60: too large; give a share from 0 to 1: 60 % is 0.6
    """),
    Case("season_odds_in_per_cent_as_text", season('clear_odds = "60 %"'), """
    request.toml:28: season.clear_odds = "60 %": this is per cent, not a share; give a share from 0 to 1: 60
        % is 0.6
    """),
    Case("season_odds_below_0", season("clear_odds = -0.2"), """
    request.toml:28: season.clear_odds = -0.2: too small; give a share from 0 to 1, like 0.6, or twelve of
        them in brackets, from January on
    """),
    Case("season_odds_far_beyond", season("clear_odds = 6000"), """
    request.toml:28: season.clear_odds = 6000: too large; give a share from 0 to 1, like 0.6, or twelve of
        them in brackets, from January on
    """),
    Case("season_odds_in_quotes", season('clear_odds = "0.6"'), """
    request.toml:28: season.clear_odds = "0.6": this is text, not a number; drop the quotes: 0.6
    """),
    Case("season_odds_are_a_word", season('clear_odds = "likely"'), """
    request.toml:28: season.clear_odds = "likely": this is text, not a share; give a share from 0 to 1, like
        0.6, or twelve of them in brackets, from January on
    """),
    Case("season_odds_are_a_file", season('clear_odds = "odds.csv"'), """
    request.toml:28: season.clear_odds = "odds.csv": this is text, not a share; for the name of a file write
        clear_odds_file = "odds.csv"
    """),
    Case("season_odds_true", season("clear_odds = true"), """
    request.toml:28: season.clear_odds = true: true is not a number; give a share from 0 to 1, like 0.6, or
        twelve of them in brackets, from January on
    """),
    Case("season_odds_not_a_number", season("clear_odds = nan"), """
    request.toml:28: season.clear_odds = nan: this is not a finite number; give a share from 0 to 1, like
        0.6, or twelve of them in brackets, from January on
    """),
    Case("season_odds_are_a_table", season("clear_odds = { november = 0.4 }"), """
    request.toml:28: season.clear_odds: this is a table, not a number; give a share from 0 to 1, like 0.6, or
        twelve of them in brackets, from January on
    """),
    Case("season_odds_of_two_months", season("clear_odds = [0.5, 0.4]"), """
    request.toml:28: season.clear_odds = [0.5, 0.4]: there are 2 items where twelve are wanted; give one for
        each month from January on, or one number
    """),
    Case("season_odds_of_december_in_per_cent",
        season("clear_odds = [0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 60]"), """
    request.toml:28: season.clear_odds[11] = 60 (12th month): too large; give a share from 0 to 1: 60 % is
        0.6
    """),
    Case("season_odds_by_evening",
        season('clear_odds_by_evening = [[2026-11-14, 60], ["x", 0.5], [2026-11-16]]'), """
    request.toml:28: season.clear_odds_by_evening[0][1] = 60 (1st pair): too large; give a share from 0 to
        1: 60 % is 0.6
    request.toml:28: season.clear_odds_by_evening[1][0] = "x" (2nd pair): this is not a date; write it like
        2026-11-14
    request.toml:28: season.clear_odds_by_evening[2] = [2026-11-16] (3rd pair): one of the two is missing;
        give [evening, share], like [2026-11-14, 0.6]
    """),
    Case("season_odds_by_evening_twice",
        season("clear_odds_by_evening = [[2026-11-14, 0.6], [2026-11-14, 0.5]]"), """
    request.toml:28: season.clear_odds_by_evening[1][0] = 2026-11-14 (2nd pair): this evening has its odds
        already; keep one of the two
    """),
    Case("season_odds_by_evening_are_a_file", season('clear_odds_by_evening = "odds.csv"'), """
    request.toml:28: season.clear_odds_by_evening = "odds.csv": this is text, not a list of pairs; for the
        name of a file write clear_odds_file = "odds.csv"
    """),
    Case("season_odds_by_evening_flat", season("clear_odds_by_evening = [2026-11-14, 0.6]"), """
    request.toml:28: season.clear_odds_by_evening = [2026-11-14, 0.6]: this is not a list of pairs; bracket
        each, and all of them: [[2026-11-14, 0.6], [2026-11-15, 0.3], ...]
    """),
    Case("season_first_on_no_day", season('first = "2026-02-30"'), """
    request.toml:28: season.first = "2026-02-30": there is no such day in the calendar; write it like
        2026-11-14
    """),
    Case("season_first_with_a_time", season("first = 2026-11-14T20:00:00Z"), """
    request.toml:28: season.first = 2026-11-14T20:00:00Z: this is an instant, not a date; drop the time and
        write it like 2026-11-14
    """),
    Case("season_first_long_ago", season("first = 1066-10-14"), """
    request.toml:28: season.first = 1066-10-14: the year is out of reach; give one from 1973 to 2100
    """),
    Case("season_of_no_night", season("nights = 0"), """
    request.toml:28: season.nights = 0: too small; give a whole number from 1 to 400 (how many nights, the
        first one included)
    """),
    Case("season_of_years", season("nights = 1000"), """
    request.toml:28: season.nights = 1000: too large; give a whole number from 1 to 400 (how many nights,
        the first one included)
    """),
    Case("season_of_half_a_night", season("nights = 9.5"), """
    request.toml:28: season.nights = 9.5: this must be a whole number, it is not rounded for you; give a
        whole number from 1 to 400 (how many nights, the first one included)
    """),
    Case("season_beyond_the_tables", season("first = 2100-12-01"), """
    request.toml:27: season.nights: the last of the 90 nights from 2100-12-01 on is that of 2101-02-28, and
        the sky is known to the end of 2100; give 31 at most
    """),
    Case("season_persistence_in_per_cent", season("persistence = 60"), """
    request.toml:28: season.persistence = 60: too large; give a number, at least 0 and below 1 (how much a
        night's clear sky is like that of the night before: the correlation of the two)
    """),
    Case("season_discount_too_large", season("discount_per_night = 0.3"), """
    request.toml:28: season.discount_per_night = 0.3: too large; give a number from 0 to 0.1 (how much less
        each later night counts for what frames are worth tonight)
    """),
    Case("season_misspelt", season("clear_odd = 0.5"), """
    request.toml:28: season.clear_odd = 0.5: this key is not known here; did you mean clear_odds?
    """),
    Case("season_odds_file_misspelt", season('clear_odds_fil = "odds.csv"'), """
    request.toml:28: season.clear_odds_fil = "odds.csv": this key is not known here; did you mean
        clear_odds_file?
    """),
    Case("season_odds_file_missing", season(NAMED), """
    request.toml:28: season.clear_odds_file = "odds.csv": odds.csv: there is no such file; check the name
        and the folder
    """),
    Case("season_odds_file_outside", season('clear_odds_file = "../odds.csv"'), """
    request.toml:28: season.clear_odds_file = "../odds.csv": this file lies outside the folder of the
        request; move it there, or allow it with --include-outside
    """),
    Case("season_odds_file_is_a_number", season("clear_odds_file = 7"), """
    request.toml:28: season.clear_odds_file = 7: this is not the name of a file; write it like
        clear_odds_file = "odds.csv"
    """),
    Case("season_odds_file_and_pairs",
        season(f"{NAMED}\nclear_odds_by_evening = [[2026-11-14, 0.6]]", "2026-11-14,0.6\n"), """
    request.toml:28: season.clear_odds_file = "odds.csv": clear_odds_by_evening is given as well; keep one
        of the two
    """),
    Case("season_odds_file_empty", season(NAMED, "\n"), """
    request.toml:28: season.clear_odds_file = "odds.csv": odds.csv: the file is empty; write the odds of
        clear sky of each evening into it
    """),
    Case("season_odds_file_without_rows", season(NAMED, "evening,odds\n# all cloudy\n"), """
    odds.csv: the file holds no odds; write a line like 2026-11-14, 0.6
    """),
    Case("season_odds_file_in_latin_1", season(NAMED, b"2026-11-14,0.6 # drizzle from the c\xf4te\n"), """
    odds.csv:1: the byte 0xF4 is not UTF-8 text; save the file with the encoding UTF-8
    """),
    Case("season_odds_file_columns_swapped", season(NAMED, "odds,evening\n0.6,2026-11-14\n"), """
    odds.csv:1: "odds,evening": the header has odds in place 1, where evening belongs; the first line must
        be: evening,odds
    """),
    Case("season_odds_file_lines",
        season(NAMED, "2026-11-14,60\n2026-11-15,60 %\n2026-11-16\n2026-02-30,0.5\n14.11.2026,0.4\n"
            "2026-11-17;0,5\n2026-11-18,0.5\n2026-11-18,.4\n2026-11-19,much\n2026-11-20,-1\n"), """
    odds.csv:1: "60": too large; give a share from 0 to 1: 60 % is 0.6
    odds.csv:2: "60 %": this is per cent, not a share; give a share from 0 to 1: 60 % is 0.6
    odds.csv:3: "2026-11-16": this is no pair of an evening and a share; write it like 2026-11-14, 0.6
    odds.csv:4: "2026-02-30": there is no such day in the calendar; write it like 2026-11-14
    odds.csv:5: "14.11.2026": this is not a date; write it like 2026-11-14
    odds.csv:6: "2026-11-17;0,5": a comma does not mark decimals; write it like 2026-11-14, 0.6
    odds.csv:8: "2026-11-18": line 7 has the odds of this evening already; keep one of the two
    odds.csv:9: "much": this is text, not a share; give a share from 0 to 1, like 0.6
    odds.csv:10: "-1": too small; give a share from 0 to 1, like 0.6
    """),
]
