"""Sexagesimal text, against an outside reference: astropy.coordinates.Angle."""

from __future__ import annotations

import pytest
from astropy.coordinates import Angle
from hypothesis import example, given, settings
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.models.angles import degrees_from_text
from optimizer.reading.load import request_from_data

PARTS = st.tuples(
    st.sampled_from(["", "+", "-"]),
    st.integers(0, 89),
    st.integers(0, 59),
    st.one_of(st.integers(0, 59).map(str), st.decimals(0, 59, places=3).map(lambda value: f"{value:f}")),
)
TOLERANCE_DEG = 1e-12


@settings(max_examples=200, deadline=None)
@given(parts=PARTS, form=st.sampled_from(["{}{}d{}m{}s", "{}{}:{}:{}", "{}{} {} {}", "{}{}°{}′{}″"]))
@example(parts=("-", 0, 0, "1"), form="{}{}d{}m{}s")  # minus zero degrees: the sign must not get lost
def test_degrees_agree_with_astropy(parts: tuple[str, int, int, str], form: str) -> None:
    text = form.format(*parts)
    expected = Angle("{}{}d{}m{}s".format(*parts)).degree
    assert degrees_from_text(text, axis="dec") == pytest.approx(expected, abs=TOLERANCE_DEG)


@settings(max_examples=200, deadline=None)
@given(
    hours=st.integers(0, 23),
    rest=PARTS,
    form=st.sampled_from(["{}h{}m{}s", "{}:{}:{}", "{} {} {}", "{:02d}h {}m {}s"]),
)
def test_hours_agree_with_astropy(hours: int, rest: tuple[str, int, int, str], form: str) -> None:
    text = form.format(hours, rest[2], rest[3])
    expected = Angle(f"{hours}h{rest[2]}m{rest[3]}s").degree
    assert degrees_from_text(text, colon_means_hours=True, axis="ra") == pytest.approx(
        expected, abs=TOLERANCE_DEG
    )


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("38°55'12\"N", 38.92),
        ("38d55m12s S", -38.92),
        ("38.92N", 38.92),
        ("−31d30m", -31.5),  # a typographic minus, as copied from a page
        ("31.5", 31.5),
        ("+0d30m", 0.5),
        ("-0d30m", -0.5),
        (" 31d ", 31.0),
        ("31d30.5m", 31 + 30.5 / 60),
    ],
)
def test_forms_people_copy_from_elsewhere(text: str, degrees: float) -> None:
    assert degrees_from_text(text) == pytest.approx(degrees, abs=TOLERANCE_DEG)


@pytest.mark.parametrize(
    ("axis", "text", "told"),
    [
        ("ra", "52.297", "it does not say whether it counts hours or degrees"),
        ("ra", "3h29m N", "the letter N makes no sense here"),
        ("dec", "5h18m", "only right ascensions are counted in hours"),
        ("dec", "31d60m", "minutes and seconds must be below 60"),
        ("dec", "31.5d30m", "only the last number may have decimals"),
        ("dec", "31d30.5m10s", "only the last number may have decimals"),
        ("dec", "31d30m10s5", "this is not an angle"),
        ("dec", "", "this is not an angle"),
        ("dec", "north", "this is not an angle"),
        ("dec", "1e1", "this is not an angle"),
        ("dec", "+-31d", "this is not an angle"),
        ("dec", "٣d", "this is not an angle"),
        ("latitude", "-38d55mS", "it has a sign and a letter"),
        ("latitude", "38d55mE", "the letter E makes no sense here"),
        ("longitude", "3d6mN", "the letter N makes no sense here"),
    ],
)
def test_what_makes_no_sense_is_refused(axis: str, text: str, told: str) -> None:
    with pytest.raises(ValueError, match="; ") as caught:
        degrees_from_text(text, colon_means_hours=axis == "ra", axis=axis)  # type: ignore[arg-type]
    assert str(caught.value).startswith(told)


def test_both_angles_wrong_are_both_told_with_the_rest() -> None:
    """A model validator that gives up at the first would hide the others."""
    target = {"name": "T", "ra": "x", "dec": "y", "weight": -1, "goals": []}
    data = {"schema": "darkfill-request/1", "night": {"evening": "2026-11-14"}, "targets": [target]}
    data |= {"site": {"latitude": "z", "longitude": "3h", "floor_deg": 200}, "filters": [{"name": "L"}]}
    with pytest.raises(InputError) as caught:
        request_from_data(data, "x")
    assert [problem.key for problem in caught.value.problems] == [
        "site.latitude",
        "site.longitude",
        "site.floor_deg",
        "targets[0].ra",
        "targets[0].dec",
        "targets[0].weight",
        "targets[0].goals",
    ]
