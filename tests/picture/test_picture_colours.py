"""Filters are told apart by every eye: CIEDE2000 under normal sight and three kinds of colour-blind sight.

Simulation: Machado, Oliveira & Fernandes (2009), "A Physiologically-based Model for Simulation of Color Vision
Deficiency", IEEE TVCG 15, 1291-1298, as coloraide has it.
"""

from __future__ import annotations

import re
from itertools import combinations

import pytest
from coloraide import Color

from optimizer.report.picture.colours import FILTER_COLOURS, SLOTS, THEMES, filter_slots, theme_values
from optimizer.report.picture.rendering import TEMPLATES, picture_css

LEAST_DIFFERENCE = 15.0
SIGHTS = ("normal", "protan", "deutan", "tritan")
WORDS = ("ink", "soft")


def seen(colour: str, sight: str) -> Color:
    return Color(colour) if sight == "normal" else Color(colour).filter(sight, method="machado")


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("sight", SIGHTS)
def test_any_two_filters_differ(theme: str, sight: str) -> None:
    pairs = list(combinations(FILTER_COLOURS[theme], 2))
    assert len(pairs) == SLOTS * (SLOTS - 1) / 2
    for one, two in pairs:
        difference = seen(one, sight).delta_e(seen(two, sight), method="2000")
        assert difference >= LEAST_DIFFERENCE, (theme, sight, one, two, difference)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_filters_stand_out_from_their_ground(theme: str) -> None:
    for colour in FILTER_COLOURS[theme]:
        assert Color(colour).contrast(THEMES[theme]["ground"], method="wcag21") >= 3.0, colour


@pytest.mark.parametrize("theme", list(THEMES))
@pytest.mark.parametrize("ground", ["ground", "panel", "open", "some", "closed"])
def test_words_can_be_read(theme: str, ground: str) -> None:
    for words in WORDS:
        contrast = Color(THEMES[theme][words]).contrast(THEMES[theme][ground], method="wcag21")
        assert contrast >= 4.5, (theme, words, ground, contrast)


def test_red_theme_holds_no_light_but_red() -> None:
    """Eyes stay adapted: hardly any green or blue in any of its colours."""
    for name, value in theme_values("red").items():
        red, green, blue = Color(value).convert("srgb-linear").coords()
        assert green <= 0.15 * max(red, 1e-9) + 1e-6, name
        assert blue <= 0.15 * max(red, 1e-9) + 1e-6, name


def test_every_slot_has_a_texture_of_its_own() -> None:
    """What tells filters apart in grey and in the red theme."""
    template = (TEMPLATES / "shapes.svg.j2").read_text(encoding="utf-8")
    found = re.search(r"for d in \[(.*?)\] -%}", template)
    assert found is not None
    textures = re.findall(r'"([^"]*)"', found[1])
    assert len(textures) == SLOTS
    assert len(set(textures)) == SLOTS


def test_every_variable_of_the_style_has_a_colour() -> None:
    wanted = set(re.findall(r"var\(--(\w+)\)", picture_css())) - {"halo"}
    for theme in THEMES:
        assert wanted <= set(theme_values(theme))


def test_filters_keep_to_their_wonted_slots() -> None:
    assert filter_slots(["L", "R", "G", "B", "Ha", "OIII", "SII"]) == dict(
        zip(["L", "R", "G", "B", "Ha", "OIII", "SII"], range(SLOTS), strict=True)
    )
    slots = filter_slots(["Clear", "H-alpha", "Duo", "ha"])
    assert slots["H-alpha"] == 4
    assert len(set(slots.values())) == 4
    many = filter_slots([f"filter {number}" for number in range(10)])
    assert set(many.values()) == set(range(SLOTS))
