"""What the audit's messages say: the trade's words for each kind of step, and one unit for hour angles."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from optimizer.audit import audit_steps, rules
from optimizer.audit.rule import angle_words, kind_words, meridian_words, span_words
from tests.support.hand_laid.edges import ask_flip
from tests.support.hand_laid.mutations import bare, edited, number_of, without
from tests.support.hand_laid.night_cases import Night, flipped


def messages(night: Night) -> list[str]:
    return [violation.message for violation in audit_steps(*night).violations]


def test_kinds_of_steps_have_the_trades_words() -> None:
    assert [kind_words(kind) for kind in ("centre", "focus", "expose", "filter", "settle", "flip")] == [
        "plate solve", "autofocus", "sub", "filter change", "settling", "flip",
    ]  # fmt: skip


def test_a_missing_plate_solve_is_called_by_its_name() -> None:
    night = flipped()
    assert "sub without plate solve after the slew" in messages(without(night, number_of(night, "centre")))


def test_a_step_without_coordinates_is_called_by_its_name() -> None:
    number = number_of(flipped(), "focus")
    assert "autofocus of Cradle lacks its coordinates" in messages(
        edited(bare(flipped()), number, ra_deg=None, dec_deg=None)
    )


def test_no_message_falls_back_to_the_key_of_a_kind() -> None:
    """No f-string of a rule puts in a step's `kind` bare."""
    modules = list(Path(rules.__file__).parent.glob("*.py"))
    assert len(modules) > 15
    for module in modules:
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FormattedValue) and isinstance(node.value, ast.Attribute):
                assert node.value.attr != "kind", f"{module.name}:{node.lineno}"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (4600.4, "76 min 40.4 s past the meridian"),
        (59.97, "1 min 0.0 s past the meridian"),
        (-12.5, "12.5 s before the meridian"),
        (0.04, "at the meridian"),
    ],
)
def test_hour_angles_are_minutes_and_seconds(seconds: float, words: str) -> None:
    assert meridian_words(seconds) == words


def test_a_flip_too_soon_is_told_in_one_unit() -> None:
    """It begins 96 s before the pier side is allowed; the limit is told as the excess is."""
    night = flipped()
    begins_s = 3600 * (night.steps[number_of(night, "flip") - 1].hour_angle_h or 0.0)
    too_soon = [each for each in messages(ask_flip(night, begins_s + 96.0)) if "too soon" in each]
    assert too_soon[0].startswith("flip of Cradle on pier side east begins 1 min 3")
    assert " s of hour angle too soon: that side may be used from " in too_soon[0]
    assert too_soon[0].endswith(" s past the meridian on")


def test_spans_and_angles_are_rounded_once() -> None:
    assert (span_words(0.26), span_words(119.96)) == ("0.3 s", "2 min 0.0 s")
    assert (angle_words(-11.6, 3), angle_words(25.0)) == ("−11.600°", "25°")
