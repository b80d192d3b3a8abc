"""The choice of a rig in a real Chromium: by keyboard, on a phone, in every theme, printed, without script."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from optimizer.report.season_page.facts import rig_cells, season_facts
from optimizer.report.season_page.marks import short_hours
from optimizer.report.season_page.page import season_page
from tests.support.browser import opened_offline
from tests.support.page_cases import Opened
from tests.support.season_rigs_cases import dense_rigs, hostile_rigs, lacks
from tests.support.speeds import deep

pytestmark = deep

RIGS, NIGHTS, TARGETS = 3, 9, 7
SHOWN = "[...document.querySelectorAll('#map tbody tr')].filter(row => !row.hidden).map(row => Number(row.dataset.t))"
CELLS = "[...document.querySelectorAll('#map tbody tr')].filter(row => !row.hidden).map(row => [row.dataset.t, [...row.cells].slice(3).map(cell => `${cell.className}|${cell.textContent}`)])"


@pytest.fixture(scope="module")
def rigs_pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The pages as files, by name."""
    folder = tmp_path_factory.mktemp("rigs")
    files = {"three": dense_rigs(NIGHTS, TARGETS, RIGS), "hostile": hostile_rigs()}
    for name, file in files.items():
        (folder / f"{name}.html").write_text(season_page(file), encoding="utf-8")
    return {name: folder / f"{name}.html" for name in files}


@pytest.fixture
def open_rigs(browser: Any, rigs_pages: dict[str, Path]) -> Iterator[Any]:
    """Opens a season of several rigs; what it fetches and what it complains of is kept."""
    contexts: list[Any] = []

    def open_season(name: str = "three", width: int = 1280, **more: Any) -> Opened:
        return opened_offline(browser, rigs_pages[name], contexts, width, 900, **more)

    yield open_season
    for context in contexts:
        context.close()


def choose(page: Any, rig: int) -> None:
    page.select_option("#rig", str(rig))


def said(page: Any) -> str:
    return str(page.text_content("#readout"))


def into_map(page: Any) -> None:
    page.evaluate("document.querySelector('#map [tabindex=\"0\"]').focus()")


def test_choice_narrows_the_map_to_what_a_rig_does_and_back(open_rigs: Any) -> None:
    facts, opened = season_facts(dense_rigs(NIGHTS, TARGETS, RIGS)), open_rigs()
    page = opened.page
    of_all = page.evaluate(CELLS)
    for rig in facts.rigs:
        choose(page, rig.number)
        cells = rig_cells(facts, rig)
        shown = {int(number): texts for number, texts in page.evaluate(CELLS)}
        assert sorted(shown) == sorted(cells)
        for number, own in cells.items():
            for cell, text in zip(own, shown[number], strict=True):
                state, _, hours = text.partition("|")
                kinds = {"used": f"q{cell.step}", "moon": "m", "closed": "x", "done": "d"}
                assert (kinds.get(cell.serves, "") or "·") in (*state.split(), hours)
                assert hours == {"used": short_hours(cell.hours), "open": "·"}.get(cell.serves, "")
        assert page.text_content("#maphead") == f"Targets by nights: {rig.name}"
    choose(page, -1)
    assert page.evaluate(CELLS) == of_all
    assert page.text_content("#maphead") == "Targets by nights"
    assert opened.complaints == []


def test_finish_marks_stay_where_they_are_for_every_rig(open_rigs: Any) -> None:
    page = open_rigs().page
    marks = "[...document.querySelectorAll('#map tbody tr')].filter(row => !row.hidden).map(row => [row.dataset.t, [...row.cells].map((cell, at) => cell.matches('.h') ? `h${at}` : cell.matches('.k') ? `k${at}` : '').join('')])"
    of_all = dict(page.evaluate(marks))
    choose(page, 0)
    assert dict(page.evaluate(marks)) == of_all
    assert any(of_all.values())


def test_rig_is_chosen_by_keyboard_and_arrow_keys_walk_its_rows_alone(open_rigs: Any) -> None:
    page = open_rigs().page
    page.focus("#rig")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    assert page.input_value("#rig") == "1"
    own = page.evaluate(SHOWN)
    assert own
    assert not any(lacks(1, number) for number in own)
    into_map(page)
    for key in ("ArrowDown",) * 3:  # Moon, dark hours and odds
        page.keyboard.press(key)
    seen = []
    for _ in own:
        page.keyboard.press("ArrowDown")
        seen.append(page.evaluate("Number(document.activeElement.closest('tr').dataset.t)"))
    assert seen == own
    page.keyboard.press("ArrowDown")
    assert page.evaluate("Number(document.activeElement.closest('tr').dataset.t)") == own[-1]
    assert page.evaluate("document.querySelectorAll('#map [tabindex=\"0\"]').length") == 1


def test_row_that_goes_away_leaves_the_keys_a_place(open_rigs: Any) -> None:
    """Where the reader stood on a target that the rig has not, the keys begin at the first night."""
    page = open_rigs().page
    gone = next(number for number in range(TARGETS) if lacks(1, number))
    page.click(f"#map tbody tr[data-t='{gone}'] td:nth-child(6)")
    choose(page, 1)
    assert page.evaluate("document.querySelectorAll('#map [tabindex=\"0\"]').length") == 1
    into_map(page)
    page.keyboard.press("ArrowRight")
    assert said(page).startswith("Sun 15 November 2026, rig B: ")


def test_readout_tells_the_rig_or_each_of_them(open_rigs: Any) -> None:
    facts, page = season_facts(dense_rigs(NIGHTS, TARGETS, RIGS)), open_rigs().page
    row = next(row for row in facts.rows if row.cells[1].serves == "used" and not lacks(2, row.number))
    place = f"#map tbody tr[data-t='{row.number}'] td:nth-child(5)"
    page.hover(place)
    told = said(page)
    assert "of all rigs" in told
    for rig in facts.rigs:
        assert (f"{rig.name} " in told) == (not lacks(rig.number, row.number))
    choose(page, 2)
    page.hover("#readout")
    page.hover(place)
    told = said(page)
    assert "rig A" not in told
    assert "of all rigs" not in told
    cell = rig_cells(facts, facts.rigs[2])[row.number][1]
    assert f"({float(short_hours(cell.hours)):g} h); open {round(10 * cell.open_h) / 10:g} h" in told
    page.hover(".odds td:nth-child(5)")
    assert "likely clear" in said(page)


def test_night_shows_the_lanes_of_each_rig_or_of_the_chosen_one(open_rigs: Any) -> None:
    page = open_rigs().page
    page.click("#map .days a >> nth=2")
    assert page.locator("#n2 svg.lanes").count() == RIGS
    assert all(page.locator(f"#n2 [data-r='{rig}']").is_visible() for rig in range(RIGS))
    choose(page, 1)
    assert [page.locator(f"#n2 [data-r='{rig}']").is_visible() for rig in range(RIGS)] == [False, True, False]
    page.click("#on")
    assert [page.locator(f"#n3 [data-r='{rig}']").is_visible() for rig in range(RIGS)] == [False, True, False]


def test_order_holds_with_a_rig_chosen(open_rigs: Any) -> None:
    facts, page = season_facts(dense_rigs(NIGHTS, TARGETS, RIGS)), open_rigs().page
    choose(page, 2)
    page.click("[data-sort='2']")
    own = [number for number in range(TARGETS) if not lacks(2, number)]
    assert page.evaluate(SHOWN) == sorted(own, key=lambda number: facts.orders["request"][number])
    choose(page, -1)
    assert page.evaluate(SHOWN) == list(range(TARGETS))


def test_phone_chooses_too(open_rigs: Any) -> None:
    page = open_rigs(width=390, has_touch=True, is_mobile=True).page
    box = page.locator("#rig").bounding_box()
    assert box["height"] >= 40
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 390
    choose(page, 1)
    assert not any(lacks(1, number) for number in page.evaluate(SHOWN))


@pytest.mark.parametrize("name", ["three", "hostile"])
@pytest.mark.parametrize("width", [390, 1280, 2560])
def test_page_is_no_wider_than_the_screen_and_asks_for_nothing(name: str, width: int, open_rigs: Any) -> None:
    opened = open_rigs(name, width)
    page = opened.page
    page.evaluate("document.querySelectorAll('details.target').forEach(each => { each.open = true })")
    choose(page, 1)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    outside = [url for url in opened.requests if not url.startswith(("file:", "data:"))]
    assert (outside, opened.complaints) == ([], [])


def test_without_script_all_rigs_are_shown(open_rigs: Any) -> None:
    page = open_rigs(java_script_enabled=False).page
    assert not page.locator(".pick").is_visible()
    assert page.locator("#map tbody tr").count() == TARGETS
    page.click("#n3 summary")
    for rig in range(RIGS):
        assert page.locator(f"#n3 [data-r='{rig}'] svg.lanes").is_visible()


def test_print_says_which_rig_it_shows(open_rigs: Any) -> None:
    page = open_rigs().page
    choose(page, 1)
    page.emulate_media(media="print")
    assert not page.locator(".pick").is_visible()
    assert page.locator("#maphead").is_visible()
    assert "rig B" in str(page.text_content("#maphead"))


@pytest.mark.parametrize("theme", ["light", "dark", "red"])
@pytest.mark.parametrize("width", [390, 1280, 2560])
def test_axe_finds_nothing_serious(theme: str, width: int, open_rigs: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = open_rigs("three", width, bypass_csp=True).page  # the checker puts its own script into the page
    page.click(f"[data-set={theme}]")
    choose(page, 1)
    page.evaluate("document.querySelector('details.target').open = true")
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response
    assert len(found["passes"]) > 10
    serious = [each for each in found["violations"] if each["impact"] in ("serious", "critical")]
    assert [(each["id"], each["nodes"][0]["html"]) for each in serious] == []
