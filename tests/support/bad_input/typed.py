"""Requests that type less and slip: sets, defaults of filters, local times."""

from __future__ import annotations

from tests.support.bad_input.table import GOOD, Case, add, changed, request

COLOUR = '[sets.colour]\ngoals = ["L"]\n'
ANDROMEDA = '\n[[targets]]\nname = "Andromeda"\nobject = "M 31"\nset = "colour"\n'
ZONE = 'time_zone = "Europe/Madrid"'


def _with_set(text: str, *swaps: tuple[str, str]) -> dict[str, str | bytes | None]:
    """A request whose two targets take a set of this text; but for the swaps, one has no goals of its own."""
    own = '\n[[targets.goals]]\nfilter = "L"\nexposure_s = 120\nframes = 90\n'
    return request((own, 'set = "colour"\n' + ANDROMEDA + "\n" + text + "\n"), *swaps)


def _night(evening: str, text: str) -> dict[str, str | bytes | None]:
    return request(("evening = 2026-11-14", f"evening = {evening}\n{text}"), add("site", ZONE))


# fmt: off

TYPED: list[Case] = [
    Case("set_misspelt", request(add("target", 'set = "color"'), add("goal", COLOUR)), """
    request.toml:21: targets[0].set = "color" (target "Cradle Nebula"): there is no set of this name;
        did you mean "colour"?
    """),
    Case("set_of_nobody", request(add("target", 'set = "colour"')), """
    request.toml:21: targets[0].set = "colour" (target "Cradle Nebula"): there is no set of this name;
        add [sets.colour] with its goals
    """),
    Case("set_of_nobody_and_no_goals", _with_set("", add("target", "weight = 2")), """
    request.toml:22: targets[0].set = "colour" (target "Cradle Nebula"): there is no set of this name;
        add [sets.colour] with its goals
    request.toml:27: targets[1].set = "colour" (target "Andromeda"): there is no set of this name; add
        [sets.colour] with its goals
    """),
    Case("sets_under_a_target", request(add("target", 'sets = "colour"'), add("goal", COLOUR)), """
    request.toml:21: targets[0].sets = "colour" (target "Cradle Nebula"): this key is not known here;
        did you mean set?
    """),
    Case("set_of_two_words_without_goals", _with_set('[sets.colour]\nexposure_s = 60\nframes = 2\ngoals = ["L"]\n[sets."two words"]\ngoals = []'), """
    request.toml:33: sets."two words".goals = [] (set "two words"): the list is empty; give at least one
        [[sets."two words".goals]] block
    """),
    Case("set_without_goals", _with_set("[sets.colour]\nexposure_s = 60"), """
    request.toml:28: sets.colour.goals (set "colour"): missing; add at least one [[sets.colour.goals]]
        block
    """),
    Case("set_of_no_goals", _with_set("[sets.colour]\ngoals = []"), """
    request.toml:29: sets.colour.goals = [] (set "colour"): the list is empty; give at least one
        [[sets.colour.goals]] block
    """),
    Case("set_in_double_brackets", _with_set('[[sets.colour]]\nfilter = "L"\nframes = 20'), """
    request.toml:28: sets.colour: this is a list, not one table; write [sets.colour] with single
        brackets, once
    """),
    Case("set_is_a_name", _with_set('[sets]\ncolour = "L"'), """
    request.toml:29: sets.colour = "L": this is not a table; open it with [sets.colour] on a line of its
        own, its keys below
    """),
    Case("sets_in_double_brackets", _with_set('[[sets]]\nname = "colour"\ngoals = ["L"]'), """
    request.toml:28: sets: this is a list, not one table; write [sets.NAME] with single brackets, once
    """),
    Case("own_goals_beside_a_set_are_a_number",
        _with_set('[sets.colour]\nexposure_s = 60\nframes = 20\ngoals = ["L"]', add("target", "goals = 5")), """
    request.toml:21: targets[0].goals = 5 (target "Cradle Nebula"): this is not a list; put it in
        brackets: [ ... ]
    """),
    Case("set_is_a_list_of_names", request(add("target", 'set = ["colour"]'), add("goal", COLOUR)), """
    request.toml:21: targets[0].set = ["colour"] (target "Cradle Nebula"): this is not text; give text
        in double quotes (name of one of the sets, whose goals it takes beside those of its own)
    """),
    Case("filter_twice_in_a_set",
        _with_set('[sets.colour]\nexposure_s = 60\nframes = 20\ngoals = ["L", "L"]'), """
    request.toml:31: sets.colour.goals[1] = "L" (2nd goal of set "colour"): goals[0] asks for the same
        filter, exposure, gain, offset and binning; join the two into one goal with frames = 40
    """),
    Case("own_goal_that_the_set_has_too",
        request(add("target", 'set = "colour"'),
                add("goal", '[sets.colour]\nexposure_s = 120\nframes = 20\ngoals = ["L"]')), """
    request.toml:23: targets[0].goals[0] (1st goal of target "Cradle Nebula"): sets.colour.goals[0] on
        line 30, which this target takes too, asks for the same filter, exposure, gain, offset and
        binning; leave one of the two out
    """),
    Case("own_goal_too_near_one_of_the_set",
        request(add("target", 'set = "colour"'), add("filter", "exposure_s = 121"),
                add("goal", '[sets.colour]\nframes = 20\ngoals = ["L"]')), """
    request.toml:30: sets.colour.goals[0] = "L" (1st goal of set "colour", for target "Cradle Nebula"):
        targets[0].goals[0] on line 24 asks for 120 s with the same filter, gain, offset and binning:
        too near to tell their subs apart; let them differ by more than 1 % and 0.5 s, or join the two
        into one goal
    """),
    Case("hours_of_a_set_beside_frames",
        request(add("target", 'set = "colour"'), add("filter", "exposure_s = 60"),
                add("goal", '[sets.colour]\ngoals = [{filter = "L", hours = 2}]')), """
    request.toml:29: sets.colour.goals[0].hours = 2 (1st goal of set "colour", for target "Cradle
        Nebula"): targets[0].goals[0] on line 24 is for the same filter, and a goal in hours counts subs
        of any length; give both in frames, or make one goal of them
    """),
    Case("exposure_nowhere", _with_set('[sets.colour]\ngoals = [{filter = "L", frames = 20}]'), """
    request.toml:29: sets.colour.goals[0].exposure_s (1st goal of set "colour"): given neither in this
        goal, in its set (sets.colour on line 28) nor under its filter (filters[0] on line 14); add
        exposure_s = 120 (seconds, open-shutter time of one sub) to one of them
    """),
    Case("exposure_neither_here_nor_in_the_filter", request(("exposure_s = 120\n", "")), """
    request.toml:22: targets[0].goals[0].exposure_s (1st goal of target "Cradle Nebula"): given neither
        in this goal nor under its filter (filters[0] on line 14); add exposure_s = 120 (seconds,
        open-shutter time of one sub) to one of them
    """),
    Case("hours_but_no_exposure", request(("exposure_s = 120\nframes = 90", "hours = 2")), """
    request.toml:22: targets[0].goals[0].exposure_s (1st goal of target "Cradle Nebula"): given neither
        in this goal nor under its filter (filters[0] on line 14); add exposure_s = 120 (seconds,
        open-shutter time of one sub) to one of them
    """),
    Case("frames_nowhere", _with_set('[sets.colour]\ngoals = ["L"]', add("filter", "exposure_s = 60")), """
    request.toml:30: sets.colour.goals[0].frames (1st goal of set "colour"): given neither in this goal,
        in its set (sets.colour on line 29) nor under its filter (filters[0] on line 14); add frames =
        60 (subs wanted in all; may be left out where hours is given) to one of them
    """),
    Case("default_of_nothing", _with_set(COLOUR, add("filter", "exposure_s = 0\nframes = 20")), """
    request.toml:16: filters[0].exposure_s = 0 [seconds] (filter "L"): too small; give a number of
        seconds, above 0 and at most 86400 (open-shutter time of one sub, for goals that give none)
    """),
    Case("default_in_words", _with_set(COLOUR, add("filter", 'exposure_s = 60\nframes = "ten"')), """
    request.toml:17: filters[0].frames = "ten" (filter "L"): this is text, not a number; give a whole
        number from 1 to 100000 (subs wanted in all, for goals that give neither frames nor hours)
    """),
    Case("default_of_too_many_frames", _with_set(COLOUR, add("filter", "exposure_s = 0.001\nhours = 10")), """
    request.toml:17: filters[0].hours = 10 (filter "L"): 10 h are 36000000 subs of 0.001 s, more than
        100000; ask for fewer hours or longer subs
    """),
    Case("defaults_of_both_kinds",
        _with_set(COLOUR, add("filter", "exposure_s = 60\nframes = 20\nhours = 2")), """
    request.toml:18: filters[0].hours = 2 (filter "L"): frames is given too; keep one of the two
    """),
    Case("frames_and_hours_of_a_goal_disagree", request(add("goal", "hours = 2")), """
    request.toml:26: targets[0].goals[0].hours = 2 (1st goal of target "Cradle Nebula"): frames is given
        too, and 2 h are 60 subs; give one of the two
    """),
    Case("default_misspelt", _with_set(COLOUR, add("filter", "exposure = 60\nframes = 20")), """
    request.toml:16: filters[0].exposure = 60 (filter "L"): this key is not known here; did you mean
        exposure_s (seconds)?
    """),
    Case("default_longer_than_the_focus_lasts",
        _with_set(COLOUR, add("filter", "exposure_s = 1200\nframes = 20"),
                  add("mount", "[focus]\nevery_min = 10")), """
    request.toml:18: filters[0].exposure_s = 1200 [seconds] (filter "L"): the exposure is longer than
        the time between two autofocus runs, 10 min; shorten it to 600 s at most, or raise
        focus.every_min
    """),
    Case("default_of_a_filter_that_no_goal_takes",
        request(add("filter", '\n[[filters]]\nname = "Ha"\nbinning = 0\ngain = 1.5')), """
    request.toml:19: filters[1].binning = 0 (filter "Ha"): too small; give a whole number from 1 to 16
        (pixels binned in each direction, for goals that give none)
    request.toml:20: filters[1].gain = 1.5 (filter "Ha"): this must be a whole number, it is not rounded
        for you; give a whole number from 0 to 100000 (camera gain, for goals that give none)
    """),
    Case("filter_of_a_set_misspelt",
        _with_set('[sets.colour]\nexposure_s = 60\nframes = 20\ngoals = ["L", "Lu"]'), """
    request.toml:31: sets.colour.goals[1] = "Lu" (2nd goal of set "colour"): there is no filter of this
        name; did you mean "L"?
    """),
    Case("done_in_a_set",
        _with_set('[sets.colour]\ngoals = [{filter = "L", exposure_s = 60, frames = 20, done = 3}]'), """
    request.toml:29: sets.colour.goals[0].done = 3 (1st goal of set "colour"): this key is not known
        here; it belongs under [[targets.goals]]: move it there
    """),
    Case("key_of_a_set_misspelt",
        _with_set('[sets.colour]\nexposures_s = 60\nframes = 20\ngoals = ["L"]'), """
    request.toml:29: sets.colour.exposures_s = 60 (set "colour"): this key is not known here; did you
        mean exposure_s (seconds)?
    """),
    Case("goal_of_a_set_is_a_number", _with_set('[sets.colour]\ngoals = [60]'), """
    request.toml:29: sets.colour.goals[0] = 60 (1st goal of set "colour"): this is not a table; open it
        with [[sets.colour.goals]] on a line of its own, its keys below
    """),
    Case("set_in_another_file",
        {"request.toml": 'include = ["rig.toml"]\n' + changed(GOOD, add("target", 'set = "colour"')),
         "rig.toml": '[sets.colour]\ngoals = [\n  {filter = "L", exposure_s = 60, frames = -1},\n  "Ha",\n]\n'}, """
    rig.toml:3: sets.colour.goals[0].frames = -1 (1st goal of set "colour"): too small; give a whole
        number from 1 to 100000 (subs wanted in all, for goals that give neither frames nor hours)
    rig.toml:4: sets.colour.goals[1] = "Ha" (2nd goal of set "colour"): there is no filter of this name;
        use "L", or add a filter named "Ha"
    """),
    Case("time_that_the_clocks_leave_out", _night("2026-03-28", 'clear = [["20:30", "02:30"]]'), """
    request.toml:5: night.clear[0][1] = "02:30" (1st span): there is no 02:30:00 on 2026-03-29 in
        Europe/Madrid, where the clocks go from UTC+01:00 to UTC+02:00; write the instant in UTC, like
        2026-03-29T01:30:00Z
    """),
    Case("time_that_comes_twice", _night("2026-10-24", 'blocked = [["23:00", "02:30"]]'), """
    request.toml:5: night.blocked[0][1] = "02:30" (1st span): 02:30:00 comes twice on 2026-10-25 in
        Europe/Madrid, where the clocks go from UTC+02:00 to UTC+01:00; say which:
        2026-10-25T02:30:00+02:00 or 2026-10-25T02:30:00+01:00
    """),
    Case("local_date_time_that_comes_twice",
        _night("2026-10-24", "clear_odds = [[2026-10-25T02:30:00, 70]]"), """
    request.toml:5: night.clear_odds[0][0] = 2026-10-25T02:30:00 (1st pair): 02:30:00 comes twice on
        2026-10-25 in Europe/Madrid, where the clocks go from UTC+02:00 to UTC+01:00; say which:
        2026-10-25T02:30:00+02:00 or 2026-10-25T02:30:00+01:00
    """),
    Case("time_of_day_that_there_is_not", _night("2026-11-14", 'clear = [["20:30", "24:00"]]'), """
    request.toml:5: night.clear[0][1] = "24:00" (1st span): there is no such time of day; write it like
        20:30, 2026-11-14T20:30 or 2026-11-14T19:30:00Z
    """),
    Case("time_of_day_to_the_tenth", _night("2026-11-14", 'clear = [["20:30", 23:00:00.5]]'), """
    request.toml:5: night.clear[0][1] = 23:00:00.500000 (1st span): there is a fraction of a second;
        give whole seconds
    """),
    Case("span_of_times_backwards", _night("2026-11-14", 'clear = [["01:00", "20:30"]]'), """
    request.toml:5: night.clear[0] = ["01:00", "20:30"] (1st span): the span ends no later than it
        starts; write [start, end] with the earlier instant first
    """),
    Case("time_of_day_with_a_strange_offset", _night("2026-11-14", 'clear = [["20:30+99:00", "23:00"]]'), """
    request.toml:5: night.clear[0][0] = "20:30+99:00" (1st span): there is no such offset from UTC;
        write it like +01:00
    """),
    Case("local_times_of_no_night", _night('"2026-11-31"', 'clear = [["20:30", "23:00"]]'), """
    request.toml:4: night.evening = "2026-11-31": there is no such day in the calendar; write it like
        2026-11-14
    """),
    Case("local_times_of_a_zone_that_there_is_not",
        request(add("night", 'clear = [["20:30", "23:00"]]'), add("site", 'time_zone = "CET+1"')), """
    request.toml:11: site.time_zone = "CET+1": no such time zone; give an IANA name like Europe/Madrid
    """),
]
