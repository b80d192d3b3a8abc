"""Objects by catalogue name: found, missed with a hint, and never asked where coordinates are given."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.catalogue.designations import name_key
from optimizer.catalogue.lookup import look_up
from optimizer.catalogue.objects import CatalogueObject, OwnCatalogue
from optimizer.errors import InputError
from optimizer.models import targets
from optimizer.reading.load import load_request

REQUEST = """\
schema = "darkfill-request/1"
[night]
evening = 2026-11-14
[site]
latitude_deg = 38.92
longitude_deg = -3.11
floor_deg = 25
[[filters]]
name = "L"
[[targets]]
name = "T"
PLACE
goals = [{filter = "L", exposure_s = 60, frames = 10}]
"""


def load(folder: Path, place: str) -> tuple[str, ...]:
    path = folder / "request.toml"
    path.write_text(REQUEST.replace("PLACE", place))
    return load_request(path).resolved


@pytest.mark.parametrize(
    ("name", "ra_deg", "dec_deg"),
    [
        ("M 33", 23.462, 30.660),  # the Triangulum galaxy, 01h33m50.9s +30d39m36s in every atlas
        ("Messier 33", 23.462, 30.660),
        ("NGC 598", 23.462, 30.660),
        ("ngc0598", 23.462, 30.660),
        ("IC 434", 85.25, -2.45),
        ("Caldwell 14", 35.1, 57.1),  # the double cluster
    ],
)
def test_names_people_use_lead_to_the_place_in_the_sky(name: str, ra_deg: float, dec_deg: float) -> None:
    found = look_up(name)
    assert found.ra_deg == pytest.approx(ra_deg, abs=0.1)
    assert found.dec_deg == pytest.approx(dec_deg, abs=0.1)


@pytest.mark.parametrize(
    "name", ["", " ", "%", "_", "[", "x'", "M", "NGC", "\ud800", "a\x00b", "a" * 300, "\u202e"]
)
def test_odd_names_are_missed_in_words(name: str) -> None:
    with pytest.raises(ValueError, match=r"^the offline catalogue .* lacks it; .*add ra_deg and dec_deg$"):
        look_up(name)


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("Messier 33", "Messier 33 is NGC 598: 01h33m51s +30d39m37s"),
        ("IC 5070", "IC 5070: 20h51m01s +44d24m05s"),
        ("ic5070", "IC 5070: 20h51m01s +44d24m05s"),
        ("Index Catalogue  5070", "IC 5070: 20h51m01s +44d24m05s"),
        ("NGC0598", "NGC 598: 01h33m51s +30d39m37s"),
    ],
)
def test_what_a_name_stands_for_is_told_and_nothing_is_called_itself(
    tmp_path: Path, name: str, told: str
) -> None:
    assert load(tmp_path, f'object = "{name}"') == (told,)


@pytest.mark.parametrize(
    "place",
    ["ra_deg = 1\ndec_deg = 2", 'ra = "1h"\ndec = "2d"', 'ra = "1h"\ndec_deg = 2', 'ra_deg = 1\ndec = "2d"'],
)
def test_given_coordinates_win_and_no_name_is_resolved(
    tmp_path: Path, place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A comet is in no catalogue; its name is still worth keeping."""
    monkeypatch.setattr(targets, "look_up", None)  # asking would fail
    assert load(tmp_path, f'object = "my comet"\n{place}') == ()


def test_half_a_place_is_not_made_whole_from_the_catalogue(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"targets\[0\]\.dec_deg .*: missing; add dec_deg"):
        load(tmp_path, 'object = "M 33"\nra = "1h"')


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("Sharpless 132", "Sh2-132: 22h18m48s +56d08m05s, from Sharpless's catalogue of 1959, to about 1'"),
        ("sh2132", "Sh2-132: 22h18m48s +56d08m05s, from Sharpless's catalogue of 1959, to about 1'"),
        ("Barnard 33", "B 33: 05h40m59s -02d27m30s"),
        ("Lynds bright nebula 620", "Lynds bright nebula 620 is IC 59: 00h57m29s +61d08m37s"),
        ("Collinder 399", "Cl 399: 19h25m24s +20d11m00s"),
    ],
)
def test_designations_that_imagers_use(tmp_path: Path, name: str, told: str) -> None:
    assert load(tmp_path, f'object = "{name}"') == (told,)


def test_all_of_sharpless_is_there() -> None:
    assert [look_up(f"Sh2-{number}").name for number in range(1, 314)] == [
        f"Sh2-{number}" for number in range(1, 314)
    ]


def refused(name: str, own: OwnCatalogue | None = None) -> str:
    with pytest.raises(ValueError) as told:  # noqa: PT011 - the words are what is tested
        look_up(name, own)
    return str(told.value)


@pytest.mark.parametrize(
    ("name", "which", "of"),
    [
        ("VdB142", "vdB 142", "van den Bergh's catalogue of reflection nebulae"),
        ("Lynds dark nebula 1251", "LDN 1251", "Lynds' catalogue of dark nebulae"),
        ("LBN 1000", "LBN 1000", "Lynds' catalogue of bright nebulae"),  # OpenNGC knows 86 of them
        ("B 150", "B 150", "Barnard's catalogue of dark nebulae"),
        ("A 39", "PN A66 39", "Abell's list of planetary nebulae"),
        ("Abell 2151", "ACO 2151", "Abell's catalogue of clusters of galaxies"),
        ("Cederblad 214", "Ced 214", "Cederblad's catalogue of bright nebulae"),
        ("gum12", "Gum 12", "Gum's catalogue of emission nebulae"),
        ("RCW 49", "RCW 49", "the RCW catalogue of emission nebulae"),
    ],
)
def test_a_designation_without_a_place_is_known_all_the_same(name: str, which: str, of: str) -> None:
    known = f"this is {which} of {of}, whose place no catalogue installed here has; add ra_deg and dec_deg, "
    lines = f"with its place (ICRS): name,ra,dec in the first line, {which},HHhMMmSSs,+DDdMMmSSs below"
    assert refused(name) == (
        f"{known}or put it into a CSV file of your own, named at the top of the request like "
        f'catalogue = "mine.csv", {lines}'
    )
    assert refused(name, OwnCatalogue("mine.csv", {})) == f"{known}or put it into mine.csv {lines}"


def test_numbers_beyond_sharpless() -> None:
    assert refused("Sh2-314") == (
        "Sharpless's catalogue of H II regions has the numbers 1 to 313; check the number"
    )


def test_a_name_that_neither_catalogue_has() -> None:
    own = OwnCatalogue("mine.csv", {name_key("Giant Squid"): CatalogueObject("Ou 4", 1.0, 2.0, "mine.csv")})
    assert refused("giant squit", own) == (
        'neither mine.csv nor the offline catalogue (OpenNGC) has it; did you mean "Ou 4"? Else add ra_deg and '
        "dec_deg"
    )
    assert refused("qqq", own) == (
        "neither mine.csv nor the offline catalogue (OpenNGC) has it; check the spelling, or add ra_deg and dec_deg"
    )


def test_names_that_may_be_two_are_asked_back() -> None:
    assert refused("Lynds 1251") == ("this may be LDN 1251 or LBN 1251; write the one that is meant")
    assert refused("Sh213") == "this may be Sh2-13 or Sh2-213; write the one that is meant"
