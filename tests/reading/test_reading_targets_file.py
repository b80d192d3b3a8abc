"""Targets from a spreadsheet: what a table gives, however it was saved, and the identity of what is written."""

from __future__ import annotations

import json
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.export.targets_csv import COLUMNS, targets_csv
from optimizer.models.base import as_json_data
from optimizer.models.request import sha256_of
from optimizer.reading.load import load_request, load_targets
from optimizer.reading.targets_file import COLUMNS as WORDS
from optimizer.reading.targets_file import MOST_TOLD
from optimizer.words import folded
from tests.support.docs_files import KEYS, fences
from tests.support.request_strategies import NAMES, requests
from tests.support.speeds import deep
from tests.support.targets_cases import BASE, SHEET, by_commas, goals, loaded, write

OWN = """
[[targets]]
name = "Cradle"
ra_deg = 52.297
dec_deg = 31.31
goals = [{ filter = "L", exposure_s = 30, frames = 7 }]
"""
LOCALE = """\
<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema">
<item oor:path="/org.openoffice.Setup/L10N">
<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{}</value></prop>
</item>
</oor:items>
"""


def test_a_row_is_a_goal_and_empty_cells_are_keys_left_out(tmp_path: Path) -> None:
    request = loaded(tmp_path, SHEET).request
    assert goals(request) == [
        ("Triangulum", "L", 120.5, 90),
        ("Triangulum", "Ha", 300.0, 48),
        ("Triangulum", "L", 60.0, 20),
        ("Pelicanø", "Ha", 300.0, 60),
        ("Bode", "L", 60.0, 20),
        ("Plain", "Ha", 600.0, 5),
    ]
    tri, pelican, bode, plain = request.targets
    assert (tri.object, tri.aliases, tri.position_angle_deg, tri.weight) == (
        "M 33", ("tri", "pinwheel 2"), 22.5, 1.5,
    )  # fmt: skip
    assert [(goal.done, goal.gain, goal.in_set, goal.hours) for goal in tri.goals] == [
        (3, None, True, None), (0, 120, False, 4.0), (0, None, True, None),
    ]  # fmt: skip
    assert (pelican.ra_deg, pelican.dec_deg) == pytest.approx((312.75625, 44.4013888889))
    assert (pelican.floor_deg, pelican.least_min, pelican.sides) == (30.25, 12.0, "before")
    assert bode.object == "M 81"
    assert bode.ra_deg == pytest.approx(148.888, abs=0.01)
    assert (plain.ra_deg, plain.dec_deg) == (312.754, -4.5)


def test_the_table_of_the_page_of_keys_is_good(tmp_path: Path) -> None:
    (sheet,) = fences(KEYS, "csv", mark="example sheet")
    read = loaded(tmp_path, sheet)
    assert [name for name, *_ in goals(read.request)] == ["Triangulum", "Triangulum", "Shore", "Bode"]
    assert read.warnings == ()


@pytest.mark.parametrize(
    ("saved", "told"),
    [
        (SHEET.encode(), "commas between the columns and UTF-8"),
        (SHEET.encode("utf-8-sig"), "commas between the columns and UTF-8 with a byte order mark"),
        (SHEET.encode("cp1252"), "commas between the columns and Windows-1252"),
        (SHEET.encode("utf-16"), "commas between the columns and UTF-16"),
        (by_commas(SHEET).encode(), "semicolons between the columns, decimal commas and UTF-8"),
        (
            by_commas(SHEET).encode("cp1252"),
            "semicolons between the columns, decimal commas and Windows-1252",
        ),
        (by_commas(SHEET, "\t").encode(), "tabs between the columns, decimal commas and UTF-8"),
        (SHEET.replace("\n", "\r\n").encode(), "commas between the columns and UTF-8"),
    ],
)
def test_however_it_was_saved_it_gives_the_same_and_says_how(saved: bytes, told: str, tmp_path: Path) -> None:
    whole = loaded(tmp_path, SHEET)
    read = loaded(tmp_path, saved)
    assert read.sha256 == whole.sha256
    assert read.resolved[0] == f"{tmp_path / 'targets.csv'}: 4 targets. Read 5 rows, {told}."


def test_rows_may_be_sorted_if_each_has_its_name(tmp_path: Path) -> None:
    head, *rows = SHEET.splitlines()
    rows[1] = "Triangulum" + rows[1]
    request = loaded(tmp_path, "\n".join([head, *rows])).request
    for order in (sorted(rows), rows[::-1]):
        turned = loaded(tmp_path, "\n".join([head, *order])).request
        assert sorted(goals(turned)) == sorted(goals(request))
        for target in turned.targets:
            (same,) = (each for each in request.targets if each.name == target.name)
            assert target.model_copy(update={"goals": ()}) == same.model_copy(update={"goals": ()})


def test_targets_of_the_request_come_first_and_both_count(tmp_path: Path) -> None:
    request = loaded(tmp_path, SHEET, BASE + OWN).request
    assert [target.name for target in request.targets] == [
        "Cradle",
        "Triangulum",
        "Pelicanø",
        "Bode",
        "Plain",
    ]


def test_an_included_file_names_its_table_beside_itself(tmp_path: Path) -> None:
    (tmp_path / "wishes").mkdir()
    write(tmp_path / "wishes", SHEET)
    path = tmp_path / "tonight.toml"
    path.write_text('schema = "darkfill-request/1"\ninclude = ["wishes/request.toml"]\n', encoding="utf-8")
    assert len(load_request(path).request.targets) == 4
    # the including file's own table takes its place
    (tmp_path / "few.csv").write_text("\n".join(SHEET.splitlines()[:3]), encoding="utf-8")
    path.write_text(path.read_text(encoding="utf-8") + 'targets_csv = "few.csv"\n', encoding="utf-8")
    assert [target.name for target in load_request(path).request.targets] == ["Triangulum"]


def test_a_table_outside_the_folder_needs_leave(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    write(tmp_path, SHEET)
    path = write(tmp_path / "in", SHEET, BASE.replace("targets.csv", "../targets.csv"))
    with pytest.raises(InputError, match="lies outside the folder of the request"):
        load_request(path)
    assert len(load_request(path, allow_outside=True).request.targets) == 4


def test_hours_taken_for_degrees_are_doubted(tmp_path: Path) -> None:
    head = "name,ra,dec,filter,frames\n"
    rows = [f"T{number},{ra},40,Ha,5\n" for number, ra in enumerate(("20.85", "3,5", "0"))]
    sheet = (head + "".join(rows)).replace("3,5", '"3,5"')
    (doubt,) = loaded(tmp_path, sheet).warnings
    assert doubt == (
        f"{tmp_path / 'targets.csv'}: ra: all of them are plain numbers below 24, and are taken as degrees; "
        "write hours like 20h51m01s or 20:51:01; leave them so if they are degrees"
    )
    assert loaded(tmp_path, sheet.replace("name,ra,dec", "name,ra_deg,dec_deg")).warnings == ()
    assert loaded(tmp_path, sheet.replace("20.85", "120.85")).warnings == ()


def test_a_file_that_is_wrong_throughout_is_told_in_a_hundred_lines(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        loaded(tmp_path, SHEET + 150 * ",,,,,,,,,,,,60,60,,,\n")
    told = [problem for problem in caught.value.problems if problem.file.endswith(".csv")]
    assert len(told) == MOST_TOLD + 1
    assert told[-1].message == "from here on 50 more things are wrong with the rows of this file"
    assert (told[0].line, told[-2].line, told[-1].line) == (7, 106, 107)


JUNK = [
    "", "L", "Ha", "x", "1", "-5", "1e999", "=1", "'=1", '"', '""', '"a"', "a;b|c", ";;", "20h1m", "1,5", "TRUE",
    "either", "short", "M 33", "\x00", "\u2028", "nan", "99999999999999999999", "\uff19",
]  # fmt: skip


@given(
    columns=st.lists(st.sampled_from(WORDS), min_size=1, unique=True),
    rows=st.lists(st.lists(st.sampled_from(JUNK), max_size=12), max_size=4),
    delimiter=st.sampled_from(",;\t"),
)
def test_junk_is_read_or_told_with_its_line(
    columns: list[str], rows: list[list[str]], delimiter: str
) -> None:
    cells = [["name", *(each for each in columns if each != "name")], ["Bode", *["M 81"] * 2], *rows]
    quoted = [delimiter.join('"' + cell.replace('"', '""') + '"' for cell in row) for row in cells]
    with tempfile.TemporaryDirectory() as folder:
        try:
            loaded(Path(folder), "\n".join(quoted))
        except InputError as error:
            for problem in error.problems:
                assert problem.line is not None
                assert problem.remedy
                assert str(problem).isprintable()


# --- written and read back -----------------------------------------------------------------------------------


def read_back(folder: Path, data: dict[str, Any], sheet: str) -> str:
    """The fingerprint of a request whose targets are those of a sheet."""
    (folder / "targets.csv").write_bytes(sheet.encode())
    rest = {key: value for key, value in data.items() if key != "targets"}
    path = folder / "sheet.json"
    path.write_text(json.dumps({**rest, "targets_csv": "targets.csv"}), encoding="utf-8")
    return load_request(path).sha256


@given(data=requests(), draw=st.data())
def test_what_is_written_is_read_back_as_the_same(data: dict[str, Any], draw: st.DataObject) -> None:
    names = {folded(target["name"]) for target in data["targets"]}
    for target in data["targets"]:
        aliases = draw.draw(st.lists(NAMES, max_size=2))
        target["aliases"] = [
            each
            for each in aliases
            if folded(each) not in names and not names.add(folded(each))  # type: ignore[func-returns-value]
        ]
        if draw.draw(st.booleans()):
            target["object"] = draw.draw(NAMES)
        for goal in target["goals"]:
            if draw.draw(st.booleans()) and goal["exposure_s"] > 1:
                goal["hours"] = draw.draw(st.floats(0.001, 20))
                del goal["frames"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "request.json"
        path.write_text(json.dumps(data), encoding="utf-8")
        try:
            read = load_targets(path)
        except InputError:
            assume(False)
        sheet = targets_csv(read.as_written.targets)
        assert read_back(folder, data, sheet) == read.loaded.sha256
        assert sheet.splitlines()[0] == ",".join(COLUMNS)


def test_sets_and_defaults_are_written_out(tmp_path: Path) -> None:
    read = load_targets(write(tmp_path, SHEET, BASE + OWN))
    sheet = targets_csv(read.as_written.targets)
    assert loaded(tmp_path, sheet).sha256 == read.loaded.sha256
    assert ",no\n" in sheet  # office programs put true and false into their own language
    assert ",false" not in sheet
    # and once more: what was read from a table is written as it was
    assert targets_csv(load_targets(tmp_path / "request.toml").as_written.targets) == sheet


def test_formulas_are_written_as_text_and_come_back(tmp_path: Path) -> None:
    names = ["=1+1", "+x", "-5", "@SUM(A1)", "'=x", '"q"', " blanks ", "a,b;c|d", "'"]
    base = json.loads(json.dumps(as_json_data(loaded(tmp_path, SHEET).request)))
    goal = base["targets"][0]["goals"][0]
    base["targets"] = [
        {
            "name": name,
            "aliases": [name + "2", f"{name}; 3"],
            "ra_deg": 10.0,
            "dec_deg": -20.0,
            "goals": [goal],
        }
        for name in names
    ]
    path = tmp_path / "formulas.json"
    path.write_text(json.dumps(base), encoding="utf-8")
    read = load_targets(path)
    sheet = targets_csv(read.as_written.targets)
    assert read_back(tmp_path, base, sheet) == sha256_of(read.as_written)
    assert sheet.splitlines()[1].startswith("'=1+1,,10,-20,")
    assert not any(line.lstrip('"').startswith(("=", "+", "@", "-")) for line in sheet.splitlines())


@deep
@pytest.mark.skipif(shutil.which("soffice") is None, reason="no LibreOffice here")
@pytest.mark.parametrize(
    ("locale", "saving", "told"),
    [
        # delimiter (44 comma, 59 semicolon, 9 tab), double quotes, UTF-8 (76) or Windows-1252 (1)
        ("en-US", "44,34,76,1,,0,false,true,false", "commas between the columns and UTF-8"),
        (
            "de-DE",
            "59,34,1,1,,0,false,true,false",
            "semicolons between the columns, decimal commas and Windows-1252",
        ),
        ("fr-FR", "9,34,76,1,,0,true,true,true", "tabs between the columns, decimal commas and UTF-8"),
    ],
)
def test_an_office_program_saves_what_is_read_back(
    locale: str, saving: str, told: str, tmp_path: Path
) -> None:
    """It keeps 15 digits of a number, so places may differ by less than a millionth of an arcsecond."""
    read = load_targets(write(tmp_path, SHEET, BASE))
    (tmp_path / "written.csv").write_bytes(targets_csv(read.as_written.targets).encode())
    settings = tmp_path / "profile" / "user"
    settings.mkdir(parents=True)
    (settings / "registrymodifications.xcu").write_text(LOCALE.format(locale), encoding="utf-8")
    out = tmp_path / "again"
    # comma, double quotes, UTF-8, from line 1, English numbers, dates and numbers found, formulas run
    reading = "CSV:44,34,76,1,,1033,false,true,false,false,false,0,true"
    subprocess.run(
        [
            "soffice", "--headless", f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}",
            f"--infilter={reading}", "--convert-to", f"csv:Text - txt - csv (StarCalc):{saving}",
            "--outdir", str(out), str(tmp_path / "written.csv"),
        ],
        check=True, capture_output=True, timeout=300,
    )  # fmt: skip
    again = loaded(tmp_path, (out / "written.csv").read_bytes())
    assert again.resolved[0].endswith(f": 4 targets. Read 6 rows, {told}.")
    assert goals(again.request) == goals(read.as_written)
    for one, other in zip(read.as_written.targets, again.request.targets, strict=True):
        assert (other.ra_deg, other.dec_deg) == pytest.approx((one.ra_deg, one.dec_deg), abs=2e-10)
        same = {"ra_deg": 0.0, "dec_deg": 0.0}
        assert other.model_copy(update=same) == one.model_copy(update=same)
