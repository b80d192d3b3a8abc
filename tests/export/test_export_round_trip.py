"""What is written reads back equal, whatever the texts; and no spreadsheet runs any of it."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from optimizer.diagnostics.csv_cells import guarded, unguarded
from optimizer.errors import InputError
from optimizer.export.csv_file import COLUMNS, HEADER, csv_text, read_csv, write_csv
from optimizer.export.json_file import json_text, read_json, shots_from_data, write_json
from optimizer.export.shot_files import read_shots, save_shots
from optimizer.models.shots import ShotList, Step
from optimizer.reading.files import LARGEST_BYTES, LARGEST_LIST_BYTES, read_text
from tests.support.checks import there
from tests.support.shot_strategies import STEPS, TEXTS, shot_lists

CONTRACT_HEADER = (
    "step,kind,start_utc,end_utc,latest_start_utc,target,ra_deg,dec_deg,position_angle_deg,filter,exposure_s,gain,"
    "offset,binning,pier_side,tracking,hour_angle_h,altitude_deg,azimuth_deg,airmass,moon_separation_deg,note"
)  # fmt: skip
DANGEROUS = ("=", "+", "-", "@", "\t", "\r")
TEXT_COLUMNS = ("target", "filter", "note")
SOME = settings(max_examples=100, deadline=None)
FEW = settings(max_examples=40, deadline=None)  # each waits for the disk several times


def step(**columns: object) -> Step:
    base = {"step": 1, "kind": "wait", "start_utc": "2026-11-14T20:00:00Z", "end_utc": "2026-11-14T20:00:09Z"}
    return Step.model_validate(base | columns)


def test_longest_list_that_can_be_written_can_be_read() -> None:
    """24 h of exposures of a second, a dither after each that takes none, with the longest names there are."""
    name, time = "\U0001f30c" * 300, "2026-11-14T20:00:00Z"
    columns = {each: -123.45678901 for each in COLUMNS if each.endswith(("_deg", "_h")) or each == "airmass"}
    texts = {"kind": "expose", "target": name, "filter": name, "pier_side": "west", "latest_start_utc": time}
    numbers = {"step": 172_800, "exposure_s": 0.12345678, "gain": 99_999, "offset": 99_999, "binning": 16}
    longest = step(**{**columns, **texts, **numbers, "tracking": True})
    as_json = json.dumps(longest.model_dump(mode="json"), indent=1, ensure_ascii=False).encode()
    indented = as_json.count(b"\n") * 2  # deeper in the list than alone
    assert 172_800 * (len(as_json) + indented) + LARGEST_BYTES < LARGEST_LIST_BYTES
    assert 172_800 * len(csv_text([longest]).encode()) < LARGEST_LIST_BYTES


def test_list_larger_than_any_request_is_read(tmp_path: Path) -> None:
    """As of a night of one-second exposures; a request of that size is refused."""
    path = tmp_path / "long.csv"
    row = csv_text([step(note="x" * 4000)]).splitlines()[1]
    many = LARGEST_BYTES // len(row) + 1
    path.write_text("\n".join([HEADER, *[row] * many]), encoding="utf-8")
    assert path.stat().st_size > LARGEST_BYTES
    assert len(read_csv(path)) == many
    with pytest.raises(InputError, match="larger than 20 MB"):
        read_text(path, "request.toml", content="the request")


def test_header_is_exactly_that_of_the_contract() -> None:
    assert HEADER == CONTRACT_HEADER
    assert csv_text([step()]).startswith(CONTRACT_HEADER + "\n")


@SOME
@given(steps=st.lists(STEPS, min_size=1, max_size=4))
def test_csv_reads_back_equal(steps: list[Step], tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("csv") / "a.csv"
    write_csv(path, steps)
    assert read_csv(path) == tuple(steps)


@SOME
@given(steps=st.lists(STEPS, min_size=1, max_size=4))
def test_csv_reads_back_equal_after_a_spreadsheet_saved_it(
    steps: list[Step], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Such programs quote everything, end lines with CRLF, write TRUE, and leave empty rows and cells."""
    rows = list(csv.reader(io.StringIO(csv_text(steps), newline="")))
    tracking = COLUMNS.index("tracking")
    for row in rows[1:]:
        row[tracking] = row[tracking].upper()
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerows([*([*row, "", ""] for row in rows), [""] * 24, []])
    path = tmp_path_factory.mktemp("csv") / "a.csv"
    path.write_bytes(b"\xef\xbb\xbf" + out.getvalue().encode())
    assert read_csv(path) == tuple(steps)


@SOME
@given(steps=st.lists(STEPS, min_size=1, max_size=4))
def test_no_text_cell_is_run_by_a_spreadsheet(steps: list[Step]) -> None:
    for row in csv.DictReader(io.StringIO(csv_text(steps), newline="")):
        assert not any(row[name].startswith(DANGEROUS) for name in TEXT_COLUMNS)


@given(text=TEXTS)
@example(text="'=1")
@example(text="''")
def test_guard_is_taken_off_as_it_was_put_on(text: str) -> None:
    assert unguarded(guarded(text)) == text


def test_only_what_needs_it_is_guarded() -> None:
    assert [guarded(text) for text in ("L", "'tis", "M 31", "=1", "'=1", "-", "'")] == [
        "L", "'tis", "M 31", "'=1", "''=1", "'-", "'"
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        (120.0, "120"),
        (0.1, "0.1"),
        (-3.5, "-3.5"),
        (-0.0, "-0.0"),
        (1e16, "1e+16"),
        (1 / 3, "0.3333333333333333"),
    ],
)
def test_numbers_are_plain_and_not_guarded(value: float, cell: str) -> None:
    assert f",{cell}," in csv_text([step(hour_angle_h=value)])


@SOME
@given(shots=shot_lists())
def test_json_reads_back_equal(shots: ShotList, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("json") / "a.json"
    write_json(path, shots)
    assert read_json(path) == shots
    assert shots_from_data(json.loads(json_text(shots)), "a") == shots


@FEW
@given(shots=shot_lists().filter(lambda shots: shots.steps))
def test_both_files_hold_the_same_steps(shots: ShotList, tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("both")
    clean = shots.audit_report.model_copy(update={"violations": ()})
    shots = shots.model_copy(update={"audit": clean})
    json_path, csv_path = save_shots(shots, folder / "night.shots.json")
    assert sorted(path.name for path in folder.iterdir()) == ["night.shots.csv", "night.shots.json"]
    assert read_shots(json_path).shots == shots
    assert read_shots(csv_path).shots is None
    assert read_shots(csv_path).steps == read_shots(json_path).steps == shots.steps


def test_empty_text_and_none_are_the_same() -> None:
    """A CSV cell cannot tell them apart, so a step that was read would differ from the one written."""
    assert step(note="", target="") == step(note=None, target=None)


def test_hand_typed_rows_may_end_early(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(f"{HEADER}\n\n1, park ,2026-11-14T20:00:00Z, 2026-11-14T21:00:00+01:00\n\n,,\n")
    assert read_csv(path) == (step(kind="park", end_utc="2026-11-14T20:00:00Z"),)


def test_line_numbers_count_the_lines_inside_cells(tmp_path: Path) -> None:
    """A note of three lines moves all rows below it down."""
    path = tmp_path / "a.csv"
    steps = [step(note="one\ntwo\nthree"), step(step=2)]
    path.write_text(csv_text(steps).replace("2,wait", "2,weight"))
    with pytest.raises(InputError, match=r'a\.csv:5: kind = "weight" \(step 2\)'):
        read_csv(path)


def test_every_wrong_cell_is_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    row = [
        "x",
        "y",
        "z",
        "",
        "q",
        "\x1b",
        "a",
        "b",
        "c",
        "\x1b",
        "e",
        "f",
        "g",
        "h",
        "i",
        "j",
        "k",
        "l",
        "m",
        "n",
        "o",
        "\x1b",
    ]
    path.write_text(f"{HEADER}\n{','.join(row)}\n{csv_text([step()]).splitlines()[1]}\n{','.join(row)}\n")
    with pytest.raises(InputError) as caught:
        read_csv(path)
    told = [(there(problem.line), problem.key) for problem in caught.value.problems]
    assert sorted(told) == sorted((line, name) for line in (2, 4) for name in COLUMNS)
    assert [line for line, _ in told] == sorted(line for line, _ in told)


@settings(max_examples=300, deadline=None)
@given(
    position=st.integers(0, 700),
    piece=st.text(alphabet=",\"'\n\r;=09.-TZxé\x00\x1b", max_size=4),
)
def test_csv_with_slips_is_read_or_told(
    position: int, piece: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    steps = [
        step(target="M 31", exposure_s=120.0, note='say "hi", then\nwait'),
        step(step=2, gain=100, tracking=True),
    ]
    text = csv_text(steps)
    path = tmp_path_factory.mktemp("slips") / "a.csv"
    path.write_bytes((text[:position] + piece + text[position + 1 :]).encode())
    try:
        read_csv(path)
    except InputError as error:
        for problem in error.problems:
            assert problem.message
            assert problem.remedy
            assert str(problem).removeprefix(str(path)).isprintable()
