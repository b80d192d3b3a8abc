"""Designations as people write them: each spelling is read as the object that is meant, or as none."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.catalogue.designations import designation, name_key
from optimizer.catalogue.lookup import catalogued


@pytest.mark.parametrize(
    ("written", "spellings"),
    [
        ("Sh2-132", ["Sh2-132", "Sh 2 132", "SH2-132", "Sharpless 132", "Sharpless 2-132", "sharpless2-132",
                     "Sh 2-132", "Sh2 132", "SH2_132", "sh2132", "Sh2–132", "  Sh2  -  132 ", "Sharpless-132"]),
        ("Sh2-13", ["Sh2-13", "Sharpless 2-13", "Sh 2 13", "Sharpless 13", "Sh2-013"]),
        ("Sh2-213", ["Sh2-213", "Sharpless 213", "Sharpless213"]),
        ("Sh2-2", ["Sharpless 2", "Sh2-2", "Sh 2-2"]),
        ("vdB 142", ["vdB 142", "VdB142", "van den Bergh 142", "VDB-142", "vdb 0142"]),
        ("LDN 1251", ["LDN 1251", "ldn1251", "Lynds dark nebula 1251", "Lynds Dark 1251", "LDN-1251"]),
        ("LBN 620", ["LBN 620", "LBN620", "Lynds bright nebula 620", "Lynds Bright 620"]),
        ("B 33", ["B 33", "B33", "Barnard 33", "barnard33", "B-33", "Barnard  033"]),
        ("PN A66 39", ["Abell 39", "A 39", "A39", "PN A66 39", "A66 39", "A66-39", "PN Abell 39", "PN A39",
                       "Abell planetary 39", "Abell PN 39", "PNA66 39"]),
        ("PN A66 66", ["A66", "A 66", "Abell 66", "PN A66 66"]),
        ("PN A66 86", ["Abell 86"]),
        ("ACO 87", ["Abell 87", "ACO 87"]),
        ("ACO 39", ["ACO 39", "Abell galaxy cluster 39", "Abell cluster 39"]),
        ("ACO 2151", ["Abell 2151", "A2151", "ACO 2151"]),
        ("Ced 214", ["Ced 214", "Cederblad 214", "CED214"]),
        ("Ced 9b", ["Ced 9b", "Cederblad 9B"]),
        ("Gum 12", ["Gum 12", "GUM12"]),
        ("RCW 49", ["RCW 49", "rcw-49"]),
        ("C 33", ["C 33", "C33", "Caldwell 33"]),
        ("M 33", ["M 33", "M33", "Messier 33", "m-33"]),
        ("NGC 598", ["NGC 598", "ngc0598", "New General Catalogue 598"]),
        ("NGC 1333A", ["NGC 1333a"]),
        ("IC 5070", ["IC 5070", "Index Catalogue 5070"]),
        ("Cl 399", ["Cr 399", "Collinder 399", "Cl 399"]),
        ("Mel 25", ["Mel 25", "Melotte 25"]),
    ],
)  # fmt: skip
def test_spellings_of_one_object(written: str, spellings: list[str]) -> None:
    assert {spelling: str(designation(spelling)) for spelling in spellings} == dict.fromkeys(
        spellings, written
    )


@pytest.mark.parametrize(
    "name",
    [
        "Sh213",  # Sh2-13 or Sharpless 213
        "Lynds 1251",  # dark or bright
        "Sh2", "LDN", "Barnard", "Barnard's Loop", "M 1-92", "M1-67", "vdBH 1", "B 142-3", "B 0", "B 33 B 34",
        "Abell", "A 39 1", "Sharpless 2-", "Ba 33", "Sh1-101", "Sh3-132", "C/2026 A1", "my comet", "", "33",
        "NGC 7317 NED01", "ESO 56-115", "MCG +01-02-003", "PN G 000.0-01.3", "A 1E5", "B ３３x1",
    ],
)  # fmt: skip
def test_names_that_are_no_designation_or_may_be_two(name: str) -> None:
    assert designation(name) is None


@pytest.mark.parametrize(
    ("one", "other"),
    [("B 33", "C 33"), ("M 33", "Mel 33"), ("LDN 33", "LBN 33"), ("Abell 39", "ACO 39"), ("UGC 12", "UGCA 12"),
     ("Sh2-13", "Sharpless 213"), ("Ced 9a", "Ced 9b"), ("H 13", "HCG 13"), ("squid", "squib")],
)  # fmt: skip
def test_false_friends_stay_apart(one: str, other: str) -> None:
    assert name_key(one) != name_key(other)


@pytest.mark.parametrize(
    ("one", "other"), [("Squid", " SQUID"), ("my rim", "My  Rim"), ("B 33", "barnard 33")]
)
def test_case_and_blanks_make_no_difference(one: str, other: str) -> None:
    assert name_key(one) == name_key(other)


CATALOGUES = {
    "Sh2-{}": ("Sh2{}", "Sh 2{}", "Sharpless{}", "Sharpless 2{}", "Sharpless 2{}"),
    "vdB {}": ("vdB{}", "van den Bergh{}"),
    "LDN {}": ("LDN{}", "Lynds dark nebula{}", "Lynds dark{}"),
    "LBN {}": ("LBN{}", "Lynds bright nebula{}", "Lynds bright{}"),
    "B {}": ("B{}", "Barnard{}"),
    "Ced {}": ("Ced{}", "Cederblad{}"),
    "Gum {}": ("Gum{}",),
    "RCW {}": ("RCW{}",),
    "M {}": ("M{}", "Messier{}"),
    "C {}": ("C{}", "Caldwell{}"),
    "NGC {}": ("NGC{}", "New General Catalogue{}"),
    "IC {}": ("IC{}", "Index Catalogue{}"),
}


@settings(max_examples=300, deadline=None)
@given(
    spelled=st.sampled_from([(right, one) for right, ones in CATALOGUES.items() for one in ones]),
    number=st.integers(1, 99),
    between=st.sampled_from([" ", "-", "_", " - ", "  "]),
    blank=st.sampled_from([" ", "-", "_", ""]),
    write=st.sampled_from([str.upper, str.lower, str.title, str]),
    noughts=st.integers(0, 3),
)
def test_every_spelling_gives_one_object(
    spelled: tuple[str, str], number: int, between: str, blank: str, write: Callable[[str], str], noughts: int
) -> None:
    right, one = spelled
    text = write(one.replace(" ", blank).format(f"{between}{'0' * noughts}{number}"))
    assert str(designation(text)) == right.format(number)
    assert name_key(text) == name_key(right.format(number))
    assert catalogued(text) == catalogued(right.format(number))
