"""Objects by catalogue name: found, missed with a hint, and never asked where coordinates are given."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.catalogue.lookup import look_up
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
