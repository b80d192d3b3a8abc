"""Requests spread over several files: what wins over what, and what may be named at all."""

from __future__ import annotations

import datetime as dt
import json
import os
from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.reading.include import gather
from optimizer.reading.load import load_request

SITE = "[site]\nlatitude_deg = 38.92\nlongitude_deg = -3.11\nfloor_deg = 25\n"
REST = """\
schema = "darkfill-request/1"
[night]
evening = 2026-11-14
[mount]
contact_min = 40
[[filters]]
name = "L"
[[targets]]
name = "T"
ra_deg = 52
dec_deg = 31
goals = [{filter = "L", exposure_s = 60, frames = 10}]
"""


@pytest.fixture(autouse=True)
def _in_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "requests"
    folder.mkdir()
    monkeypatch.chdir(folder)


def write(**files: str) -> None:
    """`a__b_toml` is the file a/b.toml."""
    for name, text in files.items():
        folder, _, stem = name.rpartition("__")
        path = Path(folder.replace("__", "/")) / stem.replace("_", ".")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)


def test_tables_are_merged_and_lists_replaced() -> None:
    write(
        a_toml="[site]\nlatitude_deg = 1\nskyline = [[0, 1], [90, 2]]\nname = 'a'\n[focus]\nrun_s = 10\n",
        b_toml="[site]\nlatitude_deg = 2\nskyline = [[0, 3]]\nlongitude_deg = 2\n",
        night_toml='include = ["a.toml", "b.toml"]\n[site]\nlongitude_deg = 9\nfloor_deg = 25\n'
        + REST.replace('schema = "darkfill-request/1"\n', ""),
    )
    text = Path("night.toml").read_text()
    Path("night.toml").write_text('schema = "darkfill-request/1"\n' + text)
    site = load_request(Path("night.toml")).request.site
    assert site.name == "a"  # only the first file says it
    assert site.latitude_deg == 2  # a later file wins over an earlier one
    assert site.longitude_deg == 9  # the including file wins over both
    assert site.skyline == ((0, 3),)  # lists are not joined
    assert load_request(Path("night.toml")).request.focus.run_s == 10


def test_included_files_may_include_others_relative_to_themselves() -> None:
    write(
        parts__rigs__rig_toml="[focus]\nrun_s = 77\n", parts__site_toml='include = ["rigs/rig.toml"]\n' + SITE
    )
    write(night_toml='include = ["parts/site.toml"]\n' + REST)
    request = load_request(Path("night.toml")).request
    assert (request.focus.run_s, request.site.floor_deg) == (77, 25)


def test_two_routes_to_the_same_file_are_no_circle() -> None:
    write(
        c_toml=SITE, a_toml='include = ["c.toml"]\n', b_toml='include = ["c.toml"]\n[site]\nfloor_deg = 30\n'
    )
    write(night_toml='include = ["a.toml", "b.toml"]\n' + REST)
    assert load_request(Path("night.toml")).request.site.floor_deg == 30


def test_toml_and_json_include_each_other() -> None:
    write(site_toml=SITE)
    Path("rig.json").write_text(json.dumps({"include": ["site.toml"], "focus": {"run_s": 77}}))
    write(night_toml='include = ["rig.json"]\n' + REST)
    assert load_request(Path("night.toml")).request.focus.run_s == 77


def test_a_file_outside_is_refused_unless_allowed_and_never_opened() -> None:
    """What it says would otherwise show up in messages."""
    Path("../site.toml").write_text("secret = [")
    write(night_toml='include = ["../site.toml"]\n' + REST)
    with pytest.raises(InputError) as caught:
        load_request(Path("night.toml"))
    assert "secret" not in str(caught.value)
    Path("../site.toml").write_text(SITE)
    assert load_request(Path("night.toml"), allow_outside=True).request.site.floor_deg == 25


def test_a_symbolic_link_does_not_lead_outside() -> None:
    Path("../site.toml").write_text(SITE)
    Path("site.toml").symlink_to("../site.toml")
    write(night_toml='include = ["site.toml"]\n' + REST)
    with pytest.raises(InputError, match="outside the folder of the request"):
        load_request(Path("night.toml"))
    assert load_request(Path("night.toml"), allow_outside=True).request.site.floor_deg == 25


def test_a_nested_file_may_go_up_but_not_out() -> None:
    write(site_toml=SITE, parts__a_toml='include = ["../site.toml"]\n')
    write(night_toml='include = ["parts/a.toml"]\n' + REST)
    assert load_request(Path("night.toml")).request.site.floor_deg == 25
    write(parts__a_toml='include = ["../../site.toml"]\n')
    with pytest.raises(InputError, match=r"parts/a\.toml:1: .*outside the folder of the request"):
        load_request(Path("night.toml"))


def test_links_in_a_circle_are_told() -> None:
    Path("a.toml").symlink_to("b.toml")
    Path("b.toml").symlink_to("a.toml")
    write(night_toml='include = ["a.toml"]\n' + REST)
    with pytest.raises(InputError, match="cannot be found"):
        load_request(Path("night.toml"))


def test_a_nul_in_a_name_is_told() -> None:
    write(night_toml='include = ["a\\u0000.toml"]\n' + REST)
    with pytest.raises(InputError, match=r'night\.toml:1: include\[0\] = "a\\u0000\.toml": '):
        load_request(Path("night.toml"))


def test_a_long_chain_is_cut_short() -> None:
    for index in range(30):
        write(**{f"n{index}_toml": f'include = ["n{index + 1}.toml"]\n'})
    write(n30_toml=SITE, night_toml='include = ["n0.toml"]\n' + REST)
    with pytest.raises(InputError, match="more than 10 deep"):
        load_request(Path("night.toml"))


def test_many_routes_do_not_take_for_ever() -> None:
    """Each file names the next one twenty times: 20^8 readings, if none were remembered."""
    for index in range(8):
        write(**{f"n{index}_toml": "include = [" + f'"n{index + 1}.toml", ' * 20 + "]\n"})
    write(n8_toml=SITE, night_toml='include = ["n0.toml"]\n' + REST)
    assert load_request(Path("night.toml")).request.site.floor_deg == 25


def test_every_key_knows_the_file_it_came_from() -> None:
    write(site_toml=SITE, night_toml='include = ["site.toml"]\n[site]\nfloor_deg = 30\n' + REST)
    text = Path("night.toml").read_text().replace('schema = "darkfill-request/1"\n', "")
    Path("night.toml").write_text('schema = "darkfill-request/1"\n' + text)
    document = gather(Path("night.toml"))
    assert document.source(("site", "latitude_deg")).file == "site.toml"
    assert document.source(("site", "floor_deg")).file == "night.toml"
    assert document.source(("targets", 0, "goals", 0)).file == "night.toml"
    assert document.source(("nowhere",)).file == "night.toml"


def test_evening_from_outside_replaces_the_one_in_the_file() -> None:
    write(night_toml=REST + SITE)
    loaded = load_request(Path("night.toml"), evening=dt.date(2027, 1, 2))
    assert loaded.request.night.evening == dt.date(2027, 1, 2)
    assert loaded.sha256 != load_request(Path("night.toml")).sha256
    write(night_toml=REST.replace("[night]\nevening = 2026-11-14\n", "") + SITE)
    assert load_request(Path("night.toml"), evening=dt.date(2027, 1, 2)).sha256 == loaded.sha256


def test_a_bad_evening_from_outside_is_not_blamed_on_the_file() -> None:
    write(night_toml=REST + SITE)
    with pytest.raises(InputError) as caught:
        load_request(Path("night.toml"), evening=dt.date(1950, 1, 1))
    assert str(caught.value) == (
        "--evening: night.evening = 1950-01-01: the year is out of reach; give one from 1973 to 2100"
    )


def test_a_pipe_is_refused_at_once() -> None:
    """Reading it would wait for ever."""
    os.mkfifo("night.toml")
    with pytest.raises(InputError, match="not a regular file"):
        load_request(Path("night.toml"))


def test_a_file_without_the_right_to_read_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    write(night_toml=REST + SITE)

    def refuse(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied")  # the tests may run as a user who may read all

    monkeypatch.setattr(Path, "read_bytes", refuse)
    with pytest.raises(InputError, match=r"^night\.toml: the file may not be read; give yourself"):
        load_request(Path("night.toml"))
