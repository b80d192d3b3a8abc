"""The season's page in a real Chromium, without a network: keyboard, touch, themes, widths, print."""

from __future__ import annotations

import re
from typing import Any

import pytest

from optimizer.report.season_page.facts import season_facts
from tests.support.season_page_cases import dense
from tests.support.speeds import deep

pytestmark = deep

each_theme = pytest.mark.parametrize("theme", ["light", "dark", "red"])
each_width = pytest.mark.parametrize("width", [390, 820, 1280, 2560])
each_season = pytest.mark.parametrize("name", ["long", "short", "hostile"])
FOCUSED = "document.activeElement.getAttribute('aria-label')"


def said(page: Any) -> str:
    return str(page.text_content("#readout"))


def press(page: Any, *keys: str) -> str:
    for key in keys:
        page.keyboard.press(key)
    return said(page)


def into_map(page: Any) -> None:
    page.evaluate("document.querySelector('#map [tabindex=\"0\"]').focus()")


@each_season
@each_width
def test_nothing_is_fetched_and_nothing_complains(name: str, width: int, open_page: Any) -> None:
    opened = open_page(name, width)
    opened.page.click("[data-set=red]")
    opened.page.click("[data-sort='1']")
    opened.page.click("#on")
    outside = [url for url in opened.requests if not url.startswith(("file:", "data:"))]
    assert (outside, opened.complaints) == ([], [])
    assert len([url for url in opened.requests if url.startswith("file:")]) == 1


@each_season
@each_width
def test_page_is_no_wider_than_the_screen(name: str, width: int, open_page: Any) -> None:
    page = open_page(name, width).page
    page.evaluate("document.querySelectorAll('details.target').forEach(each => { each.open = true })")
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [1280, 2560])
def test_wide_screen_shows_every_night_at_once(width: int, open_page: Any) -> None:
    page = open_page("long", width).page
    box = "document.querySelector('.map')"
    assert page.evaluate(f"{box}.scrollWidth <= {box}.clientWidth")


@each_width
def test_names_stay_in_view_while_a_phone_scrolls_the_nights(width: int, open_page: Any) -> None:
    page = open_page("long", width).page
    page.evaluate("document.querySelector('.map').scrollLeft = 600")
    left = page.evaluate("document.querySelector('tbody th').getBoundingClientRect().left")
    assert 0 <= left <= 40


def test_arrow_keys_reach_every_cell_and_tell_what_it_holds(open_page: Any) -> None:
    file, page = dense(9, 7), open_page("short").page
    facts = season_facts(file)
    ranks = facts.orders["finish"]
    into_map(page)
    assert "for Target" in said(page)
    press(page, "ArrowDown", "ArrowDown", "ArrowDown")  # past Moon, dark hours and odds
    for row in sorted(facts.rows, key=lambda row: ranks[row.number]):
        told = press(page, "ArrowDown", "Home")
        for cell in row.cells:
            assert told.startswith(f"{row.project.target}, ")
            assert page.evaluate(FOCUSED) == told
            if cell.serves == "used":
                shown = float(re.findall(r"\(([\d.]+) h\)", told)[0])
                assert shown == pytest.approx(cell.hours, abs=0.06 if cell.hours < 9.95 else 0.51)
                assert f"open {round(10 * cell.open_h) / 10:g} h" in told
            else:
                words = {"open": "not used", "moon": "moonlight", "closed": "all night", "done": "in hand"}
                assert words[cell.serves] in told
            told = press(page, "ArrowRight")
    assert page.evaluate("document.querySelectorAll('#map [tabindex=\"0\"]').length") == 1


def test_keys_stop_at_the_edges_and_jump_to_them(open_page: Any) -> None:
    page = open_page("short").page
    into_map(page)
    first = press(page, "ArrowUp", "ArrowUp")
    assert first.startswith("Sat 14 November 2026")
    assert press(page, "End").startswith("Sun 22 November 2026")
    assert press(page, "ArrowRight").startswith("Sun 22 November 2026")
    assert press(page, "Control+End").startswith("Target")
    assert press(page, "Control+Home") == first


def test_head_rows_tell_the_sky_of_the_night(open_page: Any) -> None:
    page = open_page("short").page
    into_map(page)
    assert "% lit" in press(page, "ArrowDown")
    assert "dark" in press(page, "ArrowDown")
    assert "likely clear" in press(page, "ArrowDown")


def test_focus_is_seen(open_page: Any) -> None:
    page = open_page("long").page
    into_map(page)
    for keys in ((), ("ArrowDown",) * 6, ("ArrowLeft",)):
        press(page, *keys)
        width = page.evaluate("parseFloat(getComputedStyle(document.activeElement).outlineWidth)")
        assert width >= 2


def test_focus_never_lies_under_the_names(open_page: Any) -> None:
    page = open_page("long", 390).page
    into_map(page)
    press(page, *("ArrowDown",) * 8, "End", *("ArrowLeft",) * 60)
    boxes = "[document.activeElement, document.activeElement.closest('tr').cells[0]].map(e => e.getBoundingClientRect())"
    cell, names = page.evaluate(f"{boxes}.map(b => [b.left, b.right])")
    assert cell[0] >= names[1] - 1


def test_enter_shows_the_night_and_escape_goes_back(open_page: Any) -> None:
    page = open_page("short").page
    into_map(page)
    told = press(page, "ArrowRight", "ArrowRight", "ArrowDown", "ArrowDown", "ArrowDown", "ArrowDown")
    press(page, "Enter")
    opened = page.evaluate("[...document.querySelectorAll('details.night[open]')].map(e => e.id)")
    assert opened == ["n2"]
    assert page.evaluate("document.activeElement.closest('details').id") == "n2"
    assert page.locator("#n2 svg.lanes").is_visible()
    assert page.locator("#n2 table.visits").is_visible()
    assert not page.locator("#n0").is_visible()
    press(page, "Escape")
    assert page.evaluate(FOCUSED) == told


def test_enter_on_a_name_shows_the_target(open_page: Any) -> None:
    page = open_page("short").page
    into_map(page)
    told = press(page, *("ArrowDown",) * 5, "ArrowLeft")
    press(page, "Enter")
    summary = page.evaluate(
        "document.activeElement.closest('details[open].target').querySelector('summary').textContent"
    )
    assert summary.strip() == told
    assert page.locator("details.target[open] table.goals").is_visible()


def test_links_of_the_verdict_and_of_a_target_lead_there(open_page: Any) -> None:
    page = open_page("short").page
    page.click(".verdict a")
    assert page.locator("details.target[open]").count() == 1
    page.click("details.target[open] a >> nth=0")
    night = page.evaluate("document.querySelector('details.night[open]').id")
    assert page.evaluate("document.activeElement.closest('details').id") == night


def test_buttons_walk_from_night_to_night(open_page: Any) -> None:
    page = open_page("short").page
    assert page.is_disabled("#back")
    for _ in range(8):
        page.click("#on")
    assert page.is_disabled("#on")
    assert page.evaluate("document.querySelector('details.night[open]').id") == "n8"
    page.click("#back")
    assert page.evaluate("document.querySelector('.days [aria-current=true]').hash") == "#n7"


@pytest.mark.parametrize(("button", "order"), [(0, "finish"), (1, "urgency"), (2, "request")])
def test_rows_are_sorted_as_was_chosen(button: int, order: str, open_page: Any) -> None:
    facts, page = season_facts(dense(90, 30)), open_page("long").page
    into_map(page)
    press(page, *("ArrowDown",) * 6)
    page.click(f"[data-sort='{button}']")
    shown = page.evaluate("[...document.querySelectorAll('#map tbody tr')].map(row => Number(row.dataset.t))")
    assert shown == sorted(range(30), key=lambda number: facts.orders[order][number])
    assert page.get_attribute(f"[data-sort='{button}']", "aria-pressed") == "true"
    assert page.evaluate("document.querySelectorAll('#map [tabindex=\"0\"]').length") == 1


def test_first_touch_reads_and_the_second_shows(open_page: Any) -> None:
    page = open_page("short", 390, has_touch=True, is_mobile=True).page
    cell = page.locator("#map tbody tr >> nth=2").locator("td:not(.f) >> nth=3")
    cell.scroll_into_view_if_needed()
    cell.tap()
    assert "touch again" in said(page)
    assert page.evaluate("document.querySelector('details.night[open]').id") == "n0"
    cell.tap()
    assert page.evaluate("document.querySelector('details.night[open]').id") == "n3"


def test_pointer_reads_without_a_click(open_page: Any) -> None:
    page = open_page("long").page
    page.hover("#map tbody tr:nth-child(4) td:nth-child(30)")
    assert said(page).startswith("Target")


@each_theme
def test_theme_is_switched_and_remembered(theme: str, open_page: Any) -> None:
    page = open_page("short", color_scheme="dark" if theme == "light" else "light").page
    page.click(f"[data-set={theme}]")
    page.reload()
    assert page.evaluate("document.documentElement.dataset.theme") == theme
    assert page.get_attribute(f"[data-set={theme}]", "aria-pressed") == "true"


@each_theme
def test_bars_say_by_height_what_their_colour_says(theme: str, open_page: Any) -> None:
    page = open_page("short").page
    page.click(f"[data-set={theme}]")
    heights = page.evaluate(
        "[1, 2, 3, 4, 5].map(q => parseFloat(getComputedStyle(document.querySelector(`.legend .q${q}`)).getPropertyValue('--h')))"
    )
    assert heights == sorted(set(heights))
    grounds = [
        page.evaluate(f"getComputedStyle(document.querySelector('.legend .{sign}')).background")
        for sign in "xm"
    ]
    assert len(set(grounds)) == 2


def test_without_script_the_page_still_tells_all(open_page: Any) -> None:
    page = open_page("short", java_script_enabled=False).page
    assert page.locator("#map tbody tr").count() == 7
    assert page.locator("details.night").count() == 9
    page.click("#n3 summary")
    assert page.locator("#n3 svg.lanes").is_visible()
    page.click("#t2 summary")
    assert page.locator("#t2 table.goals").is_visible()
    for useless in (".themes", ".sorts", ".walk", ".reader"):
        assert not page.locator(useless).is_visible(), useless


@each_theme
@pytest.mark.parametrize("width", [390, 1280, 2560])
def test_axe_finds_nothing_serious(theme: str, width: int, open_page: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = open_page("short", width, bypass_csp=True).page  # the checker puts its own script into the page
    page.click(f"[data-set={theme}]")
    page.evaluate("document.querySelector('details.target').open = true")
    into_map(page)
    press(page, *("ArrowDown",) * 5)
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response
    assert len(found["passes"]) > 10
    serious = [each for each in found["violations"] if each["impact"] in ("serious", "critical")]
    assert [(each["id"], each["nodes"][0]["html"]) for each in serious] == []


def test_print_is_light_and_leaves_out_what_paper_cannot_do(open_page: Any) -> None:
    page = open_page("long").page
    page.click("[data-set=red]")
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    for hidden in (".themes", ".sorts", ".walk", ".reader", "#n1", "#t1"):
        assert not page.locator(hidden).is_visible(), hidden
    assert page.locator("#map").is_visible()
    assert page.locator("#n0 svg.lanes").is_visible()


def test_print_is_few_sheets_and_no_wider_than_they_are(open_page: Any) -> None:
    page = open_page("long").page
    pdf = page.pdf(prefer_css_page_size=True)
    boxes = set(re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf))
    assert {(round(float(width)), round(float(height))) for width, height in boxes} == {(842, 595)}
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) <= 3
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 1054, "height": 700})  # A4 between its margins
    assert page.evaluate("document.getElementById('map').getBoundingClientRect().right") <= 1054


def test_hostile_names_stay_names(open_page: Any) -> None:
    opened = open_page("hostile", 390)
    page = opened.page
    assert page.title().startswith("Season from")
    assert page.locator("img, main script, b script").count() == 0
    assert page.locator(".verdict").is_visible()
    assert opened.complaints == []
