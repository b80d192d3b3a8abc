"""A skyline kept in a file of its own: its forms, and its faults told on the file's lines."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.reading.load import load_request
from optimizer.reading.skyline_file import skyline_pairs

REQUEST = """\
schema = "darkfill-request/1"
[night]
evening = 2026-11-14
[site]
latitude_deg = 38.92
longitude_deg = -3.11
floor_deg = 25
skyline = "horizon.txt"
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
    (tmp_path / "requests").mkdir()
    monkeypatch.chdir(tmp_path / "requests")
    Path("request.toml").write_text(REQUEST)


def told() -> list[str]:
    with pytest.raises(InputError) as caught:
        load_request(Path("request.toml"))
    return str(caught.value).split("\n")


@pytest.mark.parametrize(
    "text",
    [
        "0 12\n90 -1.5\n",
        "0,12\r\n90,-1.5\r\n",
        "0; 12\n\n90;\t-1.5 # the barn\n",
        "azimuth,altitude\n0.,12\n+90,-1.50\n",
        "# surveyed by hand\n0 12\n90 -1.5",
        "\ufeff0 12\n90 -1.5\n",
    ],
)
def test_forms_that_other_programs_and_people_write(text: str) -> None:
    Path("horizon.txt").write_bytes(text.encode())
    assert load_request(Path("request.toml")).request.site.skyline == ((0, 12), (90, -1.5))


@pytest.mark.parametrize("row", ["1", "1 2 3", "nan 3", "1 inf", "1_0 2", "1e3 2", "a b", "1 °"])
def test_rows_that_are_no_pairs_are_told_by_line(row: str) -> None:
    pairs, problems = skyline_pairs(f"0 12\n{row}\n90 5\n{row}\n", "h")
    assert list(pairs.values()) == [[0, 12], [90, 5]]
    assert [problem.line for problem in problems] == [2, 4]


@pytest.mark.parametrize("row", ["90,5;25", "90,5 25,5", "90\t25,5"])
def test_rows_with_decimal_commas_are_told_so(row: str) -> None:
    _, (problem,) = skyline_pairs(f"0 12\n{row}\n", "h")
    assert problem.remedy == "write azimuth and altitude in degrees, decimals with a point, like 90.5; 25"


def test_values_out_of_range_are_told_on_the_lines_of_the_file() -> None:
    Path("horizon.txt").write_text("# from the barn\n0 12\n\n90 95\n80 5\n")
    assert told() == [
        "horizon.txt:4: site.skyline[1][1] = 95.0 (2nd pair): too large; give a number from -5 to 90",
    ]
    Path("horizon.txt").write_text("# from the barn\n0 12\n\n90 9\n80 5\n")
    assert told() == [
        "horizon.txt:5: site.skyline[2][0] = 80.0 (3rd pair): the azimuth is smaller than the one before it; "
        "sort the pairs from north through east"
    ]


def test_a_file_that_is_missing_or_holds_nothing_is_told() -> None:
    assert told() == [
        'request.toml:8: site.skyline = "horizon.txt": horizon.txt: there is no such file; '
        "check the name and the folder"
    ]
    Path("horizon.txt").write_text("azimuth altitude\n# nothing yet\n")
    assert told() == ["horizon.txt: the file holds no pair; write one pair a line"]


def test_a_file_outside_is_refused_unless_allowed() -> None:
    Path("../horizon.txt").write_text("0 12\n")
    Path("request.toml").write_text(REQUEST.replace("horizon.txt", "../horizon.txt"))
    assert told() == [
        'request.toml:8: site.skyline = "../horizon.txt": this file lies outside the folder of the request; '
        "move it there, or allow it with --include-outside"
    ]
    loaded = load_request(Path("request.toml"), allow_outside=True)
    assert loaded.request.site.skyline == ((0, 12),)


def test_the_file_is_looked_for_beside_the_file_that_names_it() -> None:
    site = REQUEST[REQUEST.index("[site]") : REQUEST.index("[[filters]]")]
    Path("site").mkdir()
    Path("site/site.toml").write_text(site)
    Path("site/horizon.txt").write_text("0 12\n")
    rest = REQUEST.replace(site, "")
    Path("request.toml").write_text('include = ["site/site.toml"]\n' + rest)
    assert load_request(Path("request.toml")).request.site.skyline == ((0, 12),)
