"""The season's page as a file: size, policy, structure, words; no browser needed."""

from __future__ import annotations

import base64
import hashlib
import re
from typing import Any

from optimizer.models.season import Project, SeasonFile, TargetOnNight
from optimizer.report.season_page.details import finish_dates, summary
from optimizer.report.season_page.facts import season_facts
from optimizer.report.season_page.lanes import night_lanes
from optimizer.report.season_page.page import season_page
from optimizer.report.season_page.verdict import MOST_ITEMS, verdict
from tests.picture.test_page_text import elements
from tests.support.season_cases import NAMES, PROJECTS, goal, night, project, season
from tests.support.season_page_cases import VISITS, dense, hostile, renamed_plainly

MOST_BYTES = 500_000


def words(file: SeasonFile) -> str:
    page = season_page(file)
    return " ".join(" ".join(elements(page[page.index("<body>") :]).words).split())


def without_weather(file: SeasonFile) -> SeasonFile:
    none: dict[str, Any] = dict.fromkeys(("finish_50", "finish_90", "finish_share", "left_after"))
    bare = tuple(each.model_copy(update={**none, "steps": ()}) for each in file.projects)
    return file.model_copy(update={"policy": None, "projects": bare})


def unplanned(projects: tuple[Project, ...]) -> SeasonFile:
    (*_, last) = season().nights
    return season(nights=(last,), projects=projects)


def test_dense_season_of_ninety_nights_is_no_larger_than_it_may_be() -> None:
    assert len(season_page(dense(90, 30)).encode()) <= MOST_BYTES


def test_policy_allows_this_style_and_this_script_alone() -> None:
    page = season_page(dense(9, 7))
    (policy,) = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]*)"', page)
    directives = dict(part.strip().split(" ", 1) for part in policy.replace("&#39;", "'").split(";"))
    assert directives["default-src"] == "'none'"
    for tag, directive in (("style", "style-src"), ("script", "script-src")):
        (content,) = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()
        assert directives[directive] == f"'sha256-{digest}'"
    assert "connect-src" not in directives
    body = page[page.index("<body>") :]
    assert not re.search(r"\b(?:src|action|style|on\w+)=", body)
    assert set(re.findall(r'\bhref="([^"]{2})', body)) <= {"#n", "#t", "#a"}
    assert page.index("Content-Security-Policy") < page.index("<style>") < page.index("<script>")


def test_every_link_leads_somewhere() -> None:
    page = season_page(dense(9, 7))
    named = set(re.findall(r'\bid="(\w+)"', page))
    assert set(re.findall(r'href="#(\w+)"', page)) <= named
    assert {f"n{number}" for number in range(9)} | {f"t{number}" for number in range(7)} <= named


def test_map_holds_a_cell_for_each_target_and_night_without_any_script() -> None:
    page = season_page(dense(9, 7))
    body = page[page.index("<tbody>") : page.index("</tbody>")]
    rows = re.findall(r"<tr data-t.*?</tr>", body, re.DOTALL)
    assert len(rows) == 7
    for row in rows:
        assert len(re.findall(r"<td", row)) == 9 + 2


def test_hostile_names_are_text() -> None:
    nasty, plain = (elements(season_page(file)) for file in (hostile(), renamed_plainly()))
    assert nasty.found == plain.found
    page = season_page(hostile())
    assert not [char for char in page if char in "\u202e\u202c\u2066\u200f\x1b"]
    assert page.count("<script>") == 1
    assert "javascript:alert(1)" in " ".join(nasty.words)
    assert "{{ 7 * 7 }}" in " ".join(nasty.words)


def test_verdict_parts_what_is_likely_from_what_cannot_be() -> None:
    lines = {line.key: line for line in verdict(season_facts(season()))}
    assert list(lines) == ["tonight", "likely", "unlikely", "never", "done", "proven", "expected"]
    assert [(item.name, item.words) for item in lines["likely"].items] == [(NAMES[0], "by 16 Nov")]
    assert [(item.name, item.words) for item in lines["unlikely"].items] == [(NAMES[1], "(31 %)")]
    assert [(item.name, item.words) for item in lines["never"].items] == [(NAMES[2], "(L)")]
    assert [item.name for item in lines["done"].items] == ["Old Friend"]
    assert lines["tonight"].label == "Tonight, the evening of 14 Nov"
    assert [item.words for item in lines["tonight"].items] == ["L 24×120s", "Ha 20×300s, OIII 6×300s"]


def test_proven_and_expected_are_told_apart() -> None:
    lines = {line.key: line for line in verdict(season_facts(season()))}
    assert lines["proven"].words.startswith(
        "the plans of all nights bring 150 h, and none can bring more than 153 h: within 1.5 %"
    )
    assert "It is no forecast." in lines["proven"].words
    assert "200 simulated seasons" in lines["expected"].words
    assert "come from these seasons (seed 1, persistence 0.3)" in lines["expected"].words


def test_without_weather_no_date_is_claimed_nor_sorted_by() -> None:
    page, told = season_page(without_weather(dense(9, 7))), words(without_weather(dense(9, 7)))
    assert "no weather was simulated for this file" in told
    assert not re.search(r"\d+ % of the simulated|finished by|finished at all|Finished in|50 %, 90 %", told)
    assert 'data-sort="0"' not in page
    assert re.search(r'data-sort="1" aria-pressed="true"', page)


def test_long_lists_of_the_verdict_say_how_many_more_there_are() -> None:
    likely = tuple(project(f"Target {number}") for number in range(MOST_ITEMS + 3))
    sky = tuple(TargetOnNight(target=each.target, open_s=4e4, moonless_s=4e4) for each in likely)
    nights = (night(0, plan=(), visits=(), targets=sky),)
    line = verdict(season_facts(season(nights=nights, projects=likely)))[1]
    assert (len(line.items), line.more) == (MOST_ITEMS, "and 3 more in the map")
    assert "11 targets" in line.label


def test_each_night_tells_every_frame_of_its_plan() -> None:
    file = dense(9, 7)
    page = season_page(file)
    for number, of_night in enumerate(file.nights):
        part = page[page.index(f'id="n{number}"') :]
        table = part[part.index("<tbody>") : part.index("</table>")]
        shown = sum(int(count) for count in re.findall(r"(\d+)×", table))
        assert shown == sum(each.frames for each in of_night.plan)
        assert len(re.findall("<tr", table)) == len(of_night.visits) <= VISITS


def test_two_visits_of_a_target_share_a_lane_and_keep_their_sides() -> None:
    facts = season_facts(dense(9, 7))
    _, nights = night_lanes(facts)
    shared = [lane for each in nights for lane in each[0].lanes if len(lane.bars) > 1]
    assert shared
    for lane in shared:
        assert {bar.side for bar in lane.bars} == {"east", "west"}
        ends = [float(bar.x[:-1]) for bar in lane.bars]
        assert ends == sorted(ends)


def test_hours_of_the_clock_follow_it_when_it_changes() -> None:
    """Before and after the clocks change the same hour of the night has another name."""
    file = dense(9, 7)
    spring = {"evening": "2027-03-27"}, {"evening": "2027-03-28"}
    nights = tuple(
        each.model_copy(update={**date, "visits": (), "plan": (), "dusk_utc": None, "dawn_utc": None})
        for each, date in zip(file.nights[:2], spring, strict=True)
    )
    axes, lanes = night_lanes(season_facts(file.model_copy(update={"nights": nights})))
    assert [each[0].axis for each in lanes] == [0, 1]
    before, after = ([words for _, words in axis.hours] for axis in axes)
    assert before[:10] == ["19", "20", "21", "22", "23", "0", "1", "3", "4", "5"]
    assert after[:10] == ["19", "20", "21", "22", "23", "0", "1", "2", "3", "4"]


def test_target_tells_its_goals_its_last_evening_and_its_steps() -> None:
    told = words(season())
    for step in PROJECTS[1].steps:
        assert step.sentence[:1].upper() + step.sentence[1:] in told
    assert "3 nights can serve it, the last of them 17 Nov." in told
    assert re.search(r"Ha 300 s, gain 100 72 18 10 3 16 Nov 0.4", told)
    assert "In the plan of 3 nights" in told
    assert "cannot be finished in these nights" in told


def test_step_that_hardly_helps_is_not_told() -> None:
    same = tuple(step.model_copy(update={"finish_share": 0.33}) for step in PROJECTS[1].steps)
    told = words(season(projects=(PROJECTS[0], PROJECTS[1].model_copy(update={"steps": same}))))
    assert "one more clear night it is finished" not in told


def test_urgency_is_put_into_words() -> None:
    done = project(NAMES[1], goals=(goal("Ha", 10, 10, 0),))
    assert "Nothing is left to do." in words(unplanned((done,)))
    shut = project(NAMES[2], nights=0, goals=(goal("Ha", 10, 0, 0),))
    assert "no night that may be clear has room for them" in words(unplanned((shut,)))


def test_nothing_moves_by_itself() -> None:
    assert not re.search("transition|animation|smooth", season_page(dense(9, 7)))


def test_season_of_one_night_without_a_plan_is_a_page() -> None:
    told = words(unplanned(PROJECTS[:1]))
    assert "Nothing is planned." in told
    assert "In the plan of no night." in told


def test_dates_beside_the_map_say_why_there_is_none() -> None:
    shown = {row.project.target: finish_dates(row) for row in season_facts(season()).rows}
    assert shown[NAMES[0]] == ("15 Nov", "16 Nov")
    assert shown[NAMES[1]] == ("in 31 %", "")
    assert shown[NAMES[2]] == ("cannot", "")
    assert shown["Old Friend"] == ("in hand", "")
    first, *_ = season_facts(without_weather(season())).rows
    assert finish_dates(first) == ("16 Nov", "")


def test_what_no_weather_finishes_is_told_as_such_by_the_page_as_by_the_terminal() -> None:
    """No goal by itself is beyond these nights, and all of them together are."""
    own = project(NAMES[1], cannot=True, finish_50=None, finish_90=None, finish_share=0.0)
    facts = season_facts(unplanned((own,)))
    (row,) = facts.rows
    lines = {line.key: line for line in verdict(facts)}
    assert [(item.name, item.words) for item in lines["never"].items] == [(NAMES[1], "")]
    assert "unlikely" not in lines
    assert finish_dates(row) == ("cannot", "")
    assert "cannot be finished in these nights" in summary(row)
    goals = (goal("SII", 72, 0, 3, most=60, cannot=True),)
    (row,) = season_facts(unplanned((own.model_copy(update={"goals": goals}),))).rows
    assert row.never == ("SII",)
