"""Bad values of the keys that say what a plan is worth: sets, scarce hours, slack, kinds of filters."""

from tests.support.bad_input.table import Case, add, request

# fmt: off

WORTH: list[Case] = [
    Case("balance_in_percent", request(add("goal", "[aim]\nbalance = 30")), """
    request.toml:27: aim.balance = 30: too large; give a number from 0 to 1 (how much the slowest half
        of each filter set counts against plain sums; 0: sums alone; at most three decimals)
    """),
    Case("balance_negative", request(add("goal", "[aim]\nbalance = -0.1")), """
    request.toml:27: aim.balance = -0.1: too small; give a number from 0 to 1 (how much the slowest half
        of each filter set counts against plain sums; 0: sums alone; at most three decimals)
    """),
    Case("balance_too_fine", request(add("goal", "[aim]\nbalance = 0.3333")), """
    request.toml:27: aim.balance = 0.3333: more than three decimals; round it (the planner counts value
        in thousandths)
    """),
    Case("balance_with_a_comma", request(add("goal", '[aim]\nbalance = "0,3"')), """
    request.toml:27: aim.balance = "0,3": this is text, not a number, and a comma does not mark
        decimals; write 0.3, with a point and without quotes
    """),
    Case("balance_true", request(add("goal", "[aim]\nbalance = true")), """
    request.toml:27: aim.balance = true: true is not a number; give a number from 0 to 1 (how much the
        slowest half of each filter set counts against plain sums; 0: sums alone; at most three
        decimals)
    """),
    Case("balance_not_a_number", request(add("goal", "[aim]\nbalance = nan")), """
    request.toml:27: aim.balance = nan: this is not a finite number; give a number from 0 to 1 (how much
        the slowest half of each filter set counts against plain sums; 0: sums alone; at most three
        decimals)
    """),
    Case("balance_misspelt", request(add("goal", "[aim]\nbalanse = 0.3")), """
    request.toml:27: aim.balanse = 0.3: this key is not known here; did you mean balance?
    """),
    Case("scarcity_negative", request(add("goal", "[aim]\nscarcity = -0.5")), """
    request.toml:27: aim.scarcity = -0.5: too small; give a number from 0 to 3 (how much more goals
        count that can be shot in few hours of the nights to come; an exponent, 0: all alike)
    """),
    Case("scarcity_infinite", request(add("goal", "[aim]\nscarcity = inf")), """
    request.toml:27: aim.scarcity = inf: this is not a finite number; give a number from 0 to 3 (how
        much more goals count that can be shot in few hours of the nights to come; an exponent, 0: all
        alike)
    """),
    Case("scarcity_in_words", request(add("goal", '[aim]\nscarcity = "off"')), """
    request.toml:27: aim.scarcity = "off": this is text, not a number; give a number from 0 to 3 (how
        much more goals count that can be shot in few hours of the nights to come; an exponent, 0: all
        alike)
    """),
    Case("scarcity_is_a_list", request(add("goal", "[aim]\nscarcity = [0.5]")), """
    request.toml:27: aim.scarcity = [0.5]: this is a list, not a number; drop the brackets: 0.5
    """),
    Case("scarcity_too_large", request(add("goal", "[aim]\nscarcity = 5")), """
    request.toml:27: aim.scarcity = 5: too large; give a number from 0 to 3 (how much more goals count
        that can be shot in few hours of the nights to come; an exponent, 0: all alike)
    """),
    Case("look_ahead_of_no_night", request(add("goal", "[aim]\nlook_ahead_nights = 0")), """
    request.toml:27: aim.look_ahead_nights = 0: too small; give a whole number from 1 to 366 (nights in
        which those hours are counted, tonight included)
    """),
    Case("look_ahead_beyond_a_year", request(add("goal", "[aim]\nlook_ahead_nights = 400")), """
    request.toml:27: aim.look_ahead_nights = 400: too large; give a whole number from 1 to 366 (nights
        in which those hours are counted, tonight included)
    """),
    Case("look_ahead_with_fraction", request(add("goal", "[aim]\nlook_ahead_nights = 28.5")), """
    request.toml:27: aim.look_ahead_nights = 28.5: this must be a whole number, it is not rounded for
        you; give a whole number from 1 to 366 (nights in which those hours are counted, tonight
        included)
    """),
    Case("look_ahead_with_decimal_point", request(add("goal", "[aim]\nlook_ahead_nights = 28.0")), """
    request.toml:27: aim.look_ahead_nights = 28.0: this must be written as a whole number; drop the
        decimals: 28
    """),
    Case("slack_with_fraction", request(add("goal", "[aim]\nslack_s = 90.5")), """
    request.toml:27: aim.slack_s = 90.5 [seconds]: this must be a whole number, it is not rounded for
        you; give a whole number of seconds from 0 to 3600 (a list running so late still breaks no rule
        and loses no sub; 0: none)
    """),
    Case("slack_negative", request(add("goal", "[aim]\nslack_s = -5")), """
    request.toml:27: aim.slack_s = -5 [seconds]: too small; give a whole number of seconds from 0 to
        3600 (a list running so late still breaks no rule and loses no sub; 0: none)
    """),
    Case("slack_true", request(add("goal", "[aim]\nslack_s = true")), """
    request.toml:27: aim.slack_s = true [seconds]: true is not a number; give a whole number of seconds
        from 0 to 3600 (a list running so late still breaks no rule and loses no sub; 0: none)
    """),
    Case("slack_in_words", request(add("goal", '[aim]\nslack_s = "1 min"')), """
    request.toml:27: aim.slack_s = "1 min": this is text, not a number; give a whole number of seconds
        from 0 to 3600 (a list running so late still breaks no rule and loses no sub; 0: none)
    """),
    Case("slack_beyond_an_hour", request(add("goal", "[aim]\nslack_s = 7200")), """
    request.toml:27: aim.slack_s = 7200 [seconds]: too large; give a whole number of seconds from 0 to
        3600 (a list running so late still breaks no rule and loses no sub; 0: none)
    """),
    Case("slack_in_minutes", request(add("goal", "[aim]\nslack_min = 1")), """
    request.toml:27: aim.slack_min = 1: this key is not known here; did you mean slack_s (seconds)?
    """),
    Case("slack_of_the_mount", request(add("mount", "slack_s = 60")), """
    request.toml:13: mount.slack_s = 60: this key is not known here; it belongs under [aim]: move it
        there
    """),
    Case("in_set_is_a_number", request(add("goal", "in_set = 0")), """
    request.toml:26: targets[0].goals[0].in_set = 0 (1st goal of target "Cradle Nebula"): this is
        neither true nor false; give true or false (part of the target's filter set; false: counts by
        itself, as stars in RGB may)
    """),
    Case("in_set_in_quotes", request(add("goal", 'in_set = "false"')), """
    request.toml:26: targets[0].goals[0].in_set = "false" (1st goal of target "Cradle Nebula"): this is
        text; drop the quotes: false
    """),
    Case("in_set_in_words", request(add("goal", 'in_set = "no"')), """
    request.toml:26: targets[0].goals[0].in_set = "no" (1st goal of target "Cradle Nebula"): this is
        neither true nor false; give true or false (part of the target's filter set; false: counts by
        itself, as stars in RGB may)
    """),
    Case("in_set_misspelt", request(add("goal", "inset = false")), """
    request.toml:26: targets[0].goals[0].inset = false (1st goal of target "Cradle Nebula"): this key is
        not known here; did you mean in_set?
    """),
    Case("in_set_of_a_filter", request(add("filter", "in_set = false")), """
    request.toml:16: filters[0].in_set = false (filter "L"): this key is not known here; it belongs
        under [[targets.goals]]: move it there
    """),
    Case("filter_kind_misspelt", request(add("filter", 'kind = "narowband"')), """
    request.toml:16: filters[0].kind = "narowband" (filter "L"): this word is not known here; did you
        mean "narrowband"? To choose from: "broadband" or "narrowband"
    """),
    Case("filter_kind_capital", request(add("filter", 'kind = "Broadband"')), """
    request.toml:16: filters[0].kind = "Broadband" (filter "L"): this word is not known here; did you
        mean "broadband"? To choose from: "broadband" or "narrowband"
    """),
    Case("filter_kind_is_a_name", request(add("filter", 'kind = "Ha"')), """
    request.toml:16: filters[0].kind = "Ha" (filter "L"): this word is not known here; give "broadband"
        or "narrowband" (how wide its band is; narrowband: moonlight_factor is 0.5 unless given, an
        assumption)
    """),
    Case("filter_kind_true", request(add("filter", "kind = true")), """
    request.toml:16: filters[0].kind = true (filter "L"): this is none of the choices; give "broadband"
        or "narrowband" (how wide its band is; narrowband: moonlight_factor is 0.5 unless given, an
        assumption)
    """),
    Case("filter_kind_of_a_goal", request(add("goal", 'kind = "narrowband"')), """
    request.toml:26: targets[0].goals[0].kind = "narrowband" (1st goal of target "Cradle Nebula"): this
        key is not known here; it belongs under [mount] or [[filters]]: move it there
    """),
    Case("odds_in_quotes", request(add("night", 'clear_odds = [["2026-11-14T20:00:00Z", "80 %"]]')), """
    request.toml:5: night.clear_odds[0][1] = "80 %" (1st pair): this is text, not a number; give a
        number from 0 to 100 (percent)
    """),
    Case("odds_true", request(add("night", 'clear_odds = [["2026-11-14T20:00:00Z", true]]')), """
    request.toml:5: night.clear_odds[0][1] = true (1st pair): true is not a number; give a number from 0
        to 100 (percent)
    """),
    Case("odds_negative", request(add("night", 'clear_odds = [["2026-11-14T20:00:00Z", -3]]')), """
    request.toml:5: night.clear_odds[0][1] = -3 (1st pair): too small; give a number from 0 to 100
        (percent)
    """),
    Case("odds_not_a_number", request(add("night", 'clear_odds = [["2026-11-14T20:00:00Z", nan]]')), """
    request.toml:5: night.clear_odds[0][1] = nan (1st pair): this is not a finite number; give a number
        from 0 to 100 (percent)
    """),
    Case("odds_are_one_number", request(add("night", "clear_odds = 0.5")), """
    request.toml:5: night.clear_odds = 0.5: this is not a list of pairs; bracket each, and all of them:
        [["2026-11-14T20:30:00Z", 70], ["2026-11-15T01:00:00Z", 40], ...]
    """),
    Case("odds_are_one_pair", request(add("night", 'clear_odds = ["2026-11-14T20:00:00Z", 50]')), """
    request.toml:5: night.clear_odds = ["2026-11-14T20:00:00Z", 50]: this is not a list of pairs;
        bracket each, and all of them: [["2026-11-14T20:30:00Z", 70], ["2026-11-15T01:00:00Z", 40], ...]
    """),
    Case("odds_of_three", request(add("night", 'clear_odds = [["2026-11-14T20:00:00Z", 50, 2]]')), """
    request.toml:5: night.clear_odds[0] = ["2026-11-14T20:00:00Z", 50, 2] (1st pair): there are 3 items
        where two are wanted; give [instant, percent], like ["2026-11-14T20:30:00Z", 70]
    """),
    Case("odds_before_the_instant", request(add("night", 'clear_odds = [[50, "2026-11-14T20:00:00Z"]]')), """
    request.toml:5: night.clear_odds[0][0] = 50 (1st pair): this is not an instant; write it like
        2026-11-14T20:30:00Z
    request.toml:5: night.clear_odds[0][1] = "2026-11-14T20:00:00Z" (1st pair): this is text, not a
        number; give a number from 0 to 100 (percent)
    """),
    Case("odds_of_the_site", request(add("site", 'clear_odds = [["2026-11-14T20:00:00Z", 50]]')), """
    request.toml:10: site.clear_odds = [["2026-11-14T20:00:00Z", 50]]: this key is not known here; it
        belongs under [night] or [season]: move it there
    """),
    Case("moonlight_factor_zero", request(add("filter", 'kind = "narrowband"\nmoonlight_factor = 0')), """
    request.toml:17: filters[0].moonlight_factor = 0 (filter "L"): too small; give a number, above 0 and
        at most 1 (share of the Moon's light that this filter lets count; 1: all of it, as in V)
    """),
]
