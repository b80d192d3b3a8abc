"""Steps of the season's map are told apart by every eye, and what is written on them can be read."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from coloraide import Color

from optimizer.report.picture.colours import THEMES
from optimizer.report.season_page.colours import STEP_COLOURS, STEP_INKS, STEPS, season_values
from optimizer.report.season_page.page import TEMPLATES
from tests.picture.test_picture_colours import SIGHTS, seen

LEAST_DIFFERENCE = 6.0
each_theme = pytest.mark.parametrize("theme", list(THEMES))


@each_theme
@pytest.mark.parametrize("sight", SIGHTS)
def test_each_step_differs_from_the_next(theme: str, sight: str) -> None:
    assert len(STEP_COLOURS[theme]) == STEPS
    for one, two in pairwise(STEP_COLOURS[theme]):
        assert seen(one, sight).delta_e(seen(two, sight), method="2000") >= LEAST_DIFFERENCE, (one, two)


@each_theme
def test_steps_go_one_way_from_their_ground(theme: str) -> None:
    """The more hours, the farther from the ground: no step can be taken for a lesser one."""
    ground = THEMES[theme]["ground"]
    contrasts = [Color(each).contrast(ground, method="wcag21") for each in STEP_COLOURS[theme]]
    assert contrasts == sorted(contrasts)


@each_theme
def test_hours_can_be_read_on_their_step(theme: str) -> None:
    for colour, ink in zip(STEP_COLOURS[theme], STEP_INKS[theme], strict=True):
        assert Color(colour).contrast(ink, method="wcag21") >= 4.5, (colour, ink)


@each_theme
@pytest.mark.parametrize("ground", ["open", "panel", "shut"])
def test_edges_and_signs_stand_out_from_every_ground(theme: str, ground: str) -> None:
    values = season_values(theme)
    for sign in ("edge", "soft", "ink", "moonbar", "darkbar"):
        if ground != "shut" or sign in ("soft", "ink"):
            contrast = Color(values[sign]).contrast(values[ground], method="wcag21")
            assert contrast >= 3.0, (sign, ground, contrast)


def test_red_theme_holds_no_light_but_red() -> None:
    for name, value in season_values("red").items():
        red, green, blue = Color(value).convert("srgb-linear").coords()
        assert green <= 0.15 * max(red, 1e-9) + 1e-6, name
        assert blue <= 0.15 * max(red, 1e-9) + 1e-6, name


def test_every_variable_of_the_style_has_a_value() -> None:
    style = "".join((TEMPLATES / name).read_text(encoding="utf-8") for name in ("season.css", "numbers.css"))
    wanted = set(re.findall(r"var\(--(\w+)[,)]", style))
    local = {"c", "h", "i", "l", "n", "figures", "cell"}
    for theme in THEMES:
        assert wanted - local <= set(season_values(theme))
