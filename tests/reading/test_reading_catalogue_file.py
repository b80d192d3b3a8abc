"""A catalogue of one's own: found however spelled, before the built-in ones, and gone from the request."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from optimizer.api import plan, save
from optimizer.errors import InputError
from optimizer.models.base import as_json_data
from optimizer.reading.catalogue_file import MOST_TOLD, own_catalogue
from optimizer.reading.load import LoadedRequest, load_request, request_from_data
from optimizer.reading.shots_file import read_json
from tests.support.docs_files import ROOT

REQUEST = """\
schema = "darkfill-request/1"
catalogue = "mine.csv"
[night]
evening = 2026-11-14
[site]
latitude_deg = 38.92
longitude_deg = -3.11
floor_deg = 25
[mount]
contact_min = 40
[[filters]]
name = "L"
[[targets]]
name = "T"
object = "Squid"
goals = [{filter = "L", exposure_s = 60, frames = 10}]
"""
MINE = "name,aliases,ra,dec\nOu 4,squid; The  Giant Squid|vdB 1000,21h11m48s,+59d59m12s\n"


@pytest.fixture(autouse=True)
def _work_in_the_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def loaded(mine: str = MINE, asked: str = "Squid", rest: str = REQUEST) -> LoadedRequest:
    Path("mine.csv").write_text(mine, encoding="utf-8")
    Path("request.toml").write_text(rest.replace('"Squid"', f'"{asked}"'), encoding="utf-8")
    return load_request(Path("request.toml"))


def place(text: str) -> tuple[float, float]:
    """The place of the one object of a catalogue whose row ends with this text."""
    own, problems = own_catalogue(f"name,ra,dec\nX,{text}\n", "mine.csv")
    assert problems == []
    found = own.find("x")
    assert found is not None
    return found.ra_deg, found.dec_deg


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ("Squid", "Squid is Ou 4"),
        ("SQUID", "SQUID is Ou 4"),
        ("the giant squid", "the giant squid is Ou 4"),
        ("ou4", "Ou 4"),
        ("van den Bergh 1000", "van den Bergh 1000 is Ou 4"),
    ],
)
def test_names_and_aliases_lead_to_the_place_and_where_it_is_from_is_told(asked: str, told: str) -> None:
    night = loaded(asked=asked)
    (target,) = night.request.targets
    assert (target.ra_deg, target.dec_deg) == pytest.approx((317.95, 59.98667), abs=1e-5)
    assert target.object == asked
    assert night.resolved == (f"{told}: 21h11m48s +59d59m12s, from mine.csv",)
    assert night.warnings == ()


@pytest.mark.parametrize(
    ("text", "ra_deg", "dec_deg"),
    [
        ("20h51m01s,+44d24m05s", 312.754167, 44.401389),
        ("20:51:01,44:24:05", 312.754167, 44.401389),
        ("20 51 01.0, +44 24 05.0", 312.754167, 44.401389),
        ("312.754167,44.401389", 312.754167, 44.401389),
        ('"312.754167d","44.401389d"', 312.754167, 44.401389),
        ("20h51m,−44d24m", 312.75, -44.4),
        ("20.5,-.5", 20.5, -0.5),  # a plain number is degrees
        ("0,'-44.4", 0.0, -44.4),  # guarded against a spreadsheet
        ("00:00:00,-00:30:00", 0.0, -0.5),
        ("23h59m59.9s,90", 359.999583, 90.0),
    ],
)
def test_ways_to_write_a_place(text: str, ra_deg: float, dec_deg: float) -> None:
    assert place(text) == pytest.approx((ra_deg, dec_deg), abs=1e-6)


def test_columns_in_any_order_with_others_between() -> None:
    mine = "Dec,Size,RA,Name\n+59d59m12s,60,21h11m48s,Ou 4\n\n,,,\n"
    assert loaded(mine, asked="ou 4").resolved == ("Ou 4: 21h11m48s +59d59m12s, from mine.csv",)


def test_it_comes_before_the_built_in_ones_and_leaves_them_the_rest() -> None:
    other = REQUEST + REQUEST[REQUEST.index("[[targets]]") :].replace('"T"', '"U"').replace("Squid", "M 33")
    night = loaded(f"{MINE}my rim,Sharpless 2-132,22h20m,+56d\n", asked="sh2-132", rest=other)
    assert night.resolved == (
        "sh2-132 is my rim: 22h20m00s +56d00m00s, from mine.csv",
        "M 33 is NGC 598: 01h33m51s +30d39m37s",
    )


def test_given_coordinates_win() -> None:
    night = loaded(rest=REQUEST.replace("goals", 'ra = "21h"\ndec = "59d30m"\ngoals'))
    assert night.resolved == ()
    assert (night.request.targets[0].ra_deg, night.request.targets[0].dec_deg) == (315.0, 59.5)
    far = loaded(rest=REQUEST.replace("goals", 'ra = "20h"\ndec = "59d30m"\ngoals'))
    assert "9.0 degrees from that of its object (Squid is Ou 4: 21h11m48s +59d59m12s)" in far.warnings[0]


def test_the_request_is_the_one_with_the_place_written_out() -> None:
    """Neither the file nor its name is needed any more, and one name more in it changes nothing."""
    night = loaded()
    assert "catalogue" not in as_json_data(night.request)
    assert loaded(f"{MINE}Else,,1h,2d\n").sha256 == night.sha256
    plain = REQUEST.replace('catalogue = "mine.csv"\n', "")
    written = plain.replace("goals", "ra_deg = 317.95\ndec_deg = 59.986666666666665\ngoals")
    assert loaded(rest=written).sha256 == night.sha256


def test_plain_data_names_no_file() -> None:
    data = {**as_json_data(loaded().request), "catalogue": "mine.csv"}
    with pytest.raises(InputError) as caught:
        request_from_data(data, "data")
    assert [str(problem) for problem in caught.value.problems] == [
        'data: catalogue = "mine.csv": this key is not known here; only a request\'s own file may name one to be '
        "read; remove it"
    ]


def test_a_list_is_read_without_the_file() -> None:
    night = loaded(rest=REQUEST + "[aim]\ntime_limit_s = 1\nworkers = 1\n")
    shots = plan(night)
    path = save(shots, Path())[0]
    Path("mine.csv").unlink()
    assert read_json(Path(path)).request == night.request


def test_an_included_file_names_its_own_beside_it_and_the_request_overrides_it() -> None:
    Path("rig").mkdir()
    Path("rig/rig.toml").write_text('catalogue = "theirs.csv"\n')
    Path("rig/theirs.csv").write_text("name,ra,dec\nSquid,1h,+2d\nOnly theirs,3h,+4d\n")
    includes = REQUEST.replace('catalogue = "mine.csv"', 'include = ["rig/rig.toml"]')
    assert loaded(rest=includes).resolved == ("Squid: 01h00m00s +02d00m00s, from theirs.csv",)
    both = REQUEST.replace('catalogue = "mine.csv"', 'catalogue = "mine.csv"\ninclude = ["rig/rig.toml"]')
    assert loaded(rest=both).resolved == ("Squid is Ou 4: 21h11m48s +59d59m12s, from mine.csv",)
    with pytest.raises(InputError, match=r"neither mine\.csv nor the offline catalogue"):
        loaded(asked="Only theirs", rest=both)


def test_one_from_outside_is_allowed_by_name(tmp_path: Path) -> None:
    (tmp_path / "night").mkdir()
    Path("mine.csv").write_text(MINE)
    Path("night/request.toml").write_text(REQUEST.replace("mine.csv", "../mine.csv"))
    os.chdir("night")
    with pytest.raises(InputError, match="outside the folder of the request"):
        load_request(Path("request.toml"))
    allowed = load_request(Path("request.toml"), allow_outside=True)
    assert allowed.resolved == ("Squid is Ou 4: 21h11m48s +59d59m12s, from mine.csv",)


def test_a_place_far_from_the_built_in_one_is_told() -> None:
    assert loaded("name,ra,dec\nPelican,20:51:01,44.4\nIC 5070,312.75,54.4\n", asked="ic5070").warnings == (
        'request.toml:15: targets[0].object = "ic5070" (target "T"): the place in mine.csv is 20h51m00s '
        "+54d24m00s, 10.0 degrees from that of its object (IC 5070: 20h51m01s +44d24m05s); check the "
        "coordinates and the name; leave them so if that is the place you mean",
    )


def test_hours_where_degrees_are_wanted_are_told() -> None:
    """Three plain numbers below 24 are enough to ask; one that is written otherwise says what they are."""
    three = "name,ra,dec\nSquid,21.197,59.99\nIC 5070,20.85,44.4\nElse,3.5,1\n"
    assert loaded(three, asked="ic5070").warnings == (
        'request.toml:15: targets[0].object = "ic5070" (target "T"): these degrees look like hours: the place '
        "in mine.csv is 01h23m24s +44d24m00s, 47.2 degrees from that of its object (IC 5070: 20h51m01s "
        "+44d24m05s); write 20h51m01s or 312.753 there",
        "mine.csv: ra: all of them are plain numbers below 24, and are taken as degrees; write hours like "
        "20h51m01s or 20:51:01; leave them so if they are degrees",
    )
    assert loaded(three.replace("3.5", "3h30m")).warnings == ()
    assert loaded(three.replace("Else,3.5,1\n", "")).warnings == ()


def test_of_very_many_problems_the_first_are_told() -> None:
    _, problems = own_catalogue("name,ra,dec\n" + "X,1h\n" * (MOST_TOLD + 5), "mine.csv")
    assert len(problems) == MOST_TOLD + 1
    assert str(problems[-1]) == "mine.csv: 5 more things are wrong with this file; mend those above first"


def test_what_is_wrong_with_the_file_is_told_rather_than_what_it_lacks() -> None:
    with pytest.raises(InputError) as caught:
        loaded(f"{MINE}Else,,1h,100\n", asked="Elsewhere")
    assert [str(problem) for problem in caught.value.problems] == [
        'mine.csv:3: dec = "100": out of range; give degrees from -90 to 90'
    ]


def test_the_sample_of_the_page_of_keys_is_read() -> None:
    page = (ROOT / "plans/KEYS.md").read_text(encoding="utf-8")
    sample = page[page.index("name,aliases,ra,dec\n") :].split("```")[0]
    own, problems = own_catalogue(sample, "mine.csv")
    assert problems == []
    names = ["Pelican  at the SHORE", "my pelican", "pelican 2", "sh2-132", "lion"]
    found = [own.find(name) for name in names]
    assert [one and round(one.ra_deg, 2) for one in found] == [312.75, 312.75, 312.75, 334.7, 334.7]
