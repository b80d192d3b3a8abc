"""What a person types is read as it is meant, however the file was saved; what cannot be meant is told."""

from __future__ import annotations

import csv
import datetime as dt
import io
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.reading.typed_file import TypedRow
from tests.support.bad_input.hand_typed import TYPED
from tests.support.bad_input.table import Case
from tests.support.cli_cases import content, darkfill
from tests.support.typed_cases import FEW, PLANS, made, read, request_of

REQUEST = PLANS / "first-night" / "request.toml"
WITH_ALIASES = (("Pelican at the shore", ("Pélican",)), ("Whirl in Triangulum", ("M 33",)))
ROW = ("21:40", "Pelican at the shore", "Ha", "300", "5")


@pytest.mark.parametrize("case", TYPED, ids=lambda case: case.name)
def test_every_problem_is_told_with_line_column_value_and_remedy(
    case: Case, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    case.write(tmp_path)
    monkeypatch.chdir(tmp_path)
    before = content(tmp_path)
    ran = darkfill("check", case.input, REQUEST, "--json")
    assert (ran.code, ran.stdout) == (2, "")
    assert ran.stderr.splitlines() == case.lines
    assert content(tmp_path) == before


def rows_of(folder: Path, text: str | bytes) -> tuple[TypedRow, ...]:
    return read(folder, text).rows


@pytest.mark.parametrize(
    ("start", "utc"),
    [
        ("20:30", dt.datetime(2026, 10, 10, 18, 30, tzinfo=dt.UTC)),
        ("03:10:30", dt.datetime(2026, 10, 11, 1, 10, 30, tzinfo=dt.UTC)),
        ("2026-10-10T20:30", dt.datetime(2026, 10, 10, 18, 30, tzinfo=dt.UTC)),
        ("2026-10-10 20:30", dt.datetime(2026, 10, 10, 18, 30, tzinfo=dt.UTC)),
        ("2026-10-10T20:30Z", dt.datetime(2026, 10, 10, 20, 30, tzinfo=dt.UTC)),
        ("20:30Z", dt.datetime(2026, 10, 10, 20, 30, tzinfo=dt.UTC)),
        ("20:30+01:00", dt.datetime(2026, 10, 10, 19, 30, tzinfo=dt.UTC)),
    ],
)
def test_a_start_is_local_or_says_its_zone(start: str, utc: dt.datetime, tmp_path: Path) -> None:
    (row,) = rows_of(tmp_path, f"{FEW}{start},Hyades dust,L,120,\n")
    assert (row.start_utc, row.count) == (utc, 1)


def test_a_start_in_utc_has_a_column_of_its_own(tmp_path: Path) -> None:
    (row,) = rows_of(tmp_path, "start_utc,target,filter,exposure_s\n20:30,Hyades dust,L,120\n")
    assert row.start_utc == dt.datetime(2026, 10, 10, 20, 30, tzinfo=dt.UTC)


def test_names_are_matched_as_subs_are_counted(tmp_path: Path) -> None:
    """By name or alias, case and blanks set aside; what was taken for what is told."""
    request = request_of()
    targets = tuple(
        target.model_copy(update={"aliases": dict(WITH_ALIASES).get(target.name, ())})
        for target in request.targets
    )
    told = read(
        tmp_path,
        f"{FEW}20:20,PÉLICAN,ha,300,2\n23:50,m33,l,180,2\n23:58,WhirlinTriangulum,L,180,2\n".encode("cp1252"),
        request.model_copy(update={"targets": targets}),
    )
    assert [row.target.name for row in told.rows if row.target] == [
        "Pelican at the shore",
        "Whirl in Triangulum",
        "Whirl in Triangulum",
    ]
    assert told.said == (
        "Read 3 rows, commas between the columns and Windows-1252.",
        '"PÉLICAN" is taken as "Pelican at the shore".',
        '"ha" is taken as "Ha".',
        '"m33" is taken as "Whirl in Triangulum".',
        '"l" is taken as "L".',
        '"WhirlinTriangulum" is taken as "Whirl in Triangulum".',
    )


def test_a_target_may_be_typed_as_the_object_that_it_is(tmp_path: Path) -> None:
    told = read(tmp_path, f"{FEW}23:50,m33,L,180,2\n")
    assert [row.target.name for row in told.rows if row.target] == ["Whirl in Triangulum"]
    assert '"m33" is taken as "Whirl in Triangulum".' in told.said


def test_an_exposure_near_that_of_a_goal_in_hours_is_that_goals(tmp_path: Path) -> None:
    """Subs of a quite other length stay what they are."""
    request = request_of()
    first = request.targets[0]
    goals = (first.goals[0].model_copy(update={"hours": 3.0}),)
    hours = request.model_copy(update={"targets": (first.model_copy(update={"goals": goals}),)})
    told = read(tmp_path, f"{FEW}20:20,Pelican at the shore,Ha,299,2\n21:40,{first.name},Ha,120,2\n", hours)
    assert [row.exposure_s for row in told.rows] == [300, 120]
    assert "Subs of 299 s are taken as those of 300 s of their goal." in told.said


@pytest.mark.parametrize(("typed", "meant"), [("297", 300), ("303", 300), ("296.9", 296.9), ("304", 304)])
def test_an_exposure_is_that_of_its_goal_within_a_hundredth(typed: str, meant: float, tmp_path: Path) -> None:
    told = read(tmp_path, f"{FEW}20:20,Pelican at the shore,Ha,{typed},2\n")
    assert told.rows[0].exposure_s == meant
    assert (f"Subs of {typed} s are taken as those of 300 s of their goal." in told.said) == (meant == 300)


def test_goals_that_differ_in_gain_alone_need_it(tmp_path: Path) -> None:
    request = request_of()
    first = request.targets[0]
    goals = tuple(first.goals[0].model_copy(update={"gain": gain}) for gain in (100, 200))
    both = request.model_copy(update={"targets": (first.model_copy(update={"goals": goals}),)})
    with pytest.raises(InputError) as refused:
        read(tmp_path, f"{FEW}20:20,Pelican at the shore,Ha,300,2\n", both)
    assert str(refused.value).endswith(
        'typed.csv:2: gain: goals of "Pelican at the shore" differ in it; write 100 or 200'
    )
    header = "start,target,filter,exposure_s,gain\n"
    (row,) = read(tmp_path, f"{header}20:20,Pelican at the shore,Ha,300,200\n", both).rows
    assert (row.gain, row.offset, row.binning) == (200, None, 1)


def test_columns_that_are_worked_out_anew_are_told(tmp_path: Path) -> None:
    """A computed column that is wrong is no fault of the plan."""
    text = "start,target,filter,exposure_s,altitude_deg,airmass\n23:00,Pelican at the shore,Ha,300,12.5,9\n"
    assert read(tmp_path, text).said[1:] == ("Worked out anew: altitude_deg and airmass.",)
    assert all(step.altitude_deg is None for step in made(tmp_path, text).steps)


def test_a_fork_has_no_pier_sides(tmp_path: Path) -> None:
    request = request_of()
    fork = request.model_copy(update={"mount": request.mount.model_copy(update={"kind": "fork"})})
    text = "start,target,filter,exposure_s,pier_side\n23:00,Pelican at the shore,Ha,300,west\n"
    with pytest.raises(
        InputError, match=r'pier_side = "west": a fork mount has no pier sides; leave the cell'
    ):
        read(tmp_path, text, fork)


def test_a_short_plan_without_its_request_asks_for_it(tmp_path: Path) -> None:
    path = tmp_path / "plan.csv"
    path.write_text(FEW + ",".join(ROW) + "\n", encoding="utf-8")
    ran = darkfill("check", path)
    assert ran.code == 2
    assert "a CSV list does not say what it was made for; name its request too" in ran.stderr


names = st.sampled_from(["Pelican at the shore", "Whirl in Triangulum", "Hyades dust"])
cells = st.fixed_dictionaries(
    {
        "start": st.times(min_value=dt.time(19), max_value=dt.time(23, 59)).map(
            lambda time: time.strftime("%H:%M:%S")
        ),
        "target": names,
        "filter": st.sampled_from(["L", "Ha"]),
        "exposure_s": st.floats(1, 900).map(lambda seconds: f"{seconds:.2f}"),
        "count": st.integers(1, 20).map(str),
        "gain": st.one_of(st.just(""), st.integers(0, 500).map(str)),
        "pier_side": st.sampled_from(["", "west", "east"]),
    }
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), table=st.lists(cells, min_size=1, max_size=6))
def test_however_a_table_is_saved_the_same_rows_are_read(
    data: st.DataObject, table: list[dict[str, str]], tmp_path: Path
) -> None:
    """Columns in any order, header words in any case, four delimiters and encodings, blank rows, line ends."""
    names_of = list(table[0])
    values = (",".join(row[name] for name in names_of) for row in table)
    plain = "\n".join([",".join(names_of), *values]) + "\n"
    expected = [(row, row.line) for row in rows_of(tmp_path, plain)]
    order = data.draw(st.permutations(names_of))
    delimiter, comma = data.draw(
        st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", ","), (",", ",")])
    )
    encoding = data.draw(st.sampled_from(["utf-8", "utf-8-sig", "cp1252", "utf-16"]))
    end = data.draw(st.sampled_from(["\n", "\r\n"]))
    wording = data.draw(st.sampled_from([str.upper, str.title, str.lower]))
    shown = [wording(name).replace("_", data.draw(st.sampled_from(["_", " ", "-"]))) for name in order]
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, lineterminator=end)
    writer.writerow(shown)
    for row in table:
        writer.writerow(
            [row[name].replace(".", comma) if name == "exposure_s" else row[name] for name in order]
        )
    saved = text.getvalue() + data.draw(st.sampled_from(["", end, delimiter * 3 + end]))
    found = rows_of(tmp_path, saved.encode(encoding))
    assert [(row, row.line) for row in found] == expected


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    lines=st.lists(
        st.lists(
            st.one_of(
                st.sampled_from([*ROW, "", "expose", "flip", "west", "-1", "1e400", "'=1", '"']), st.text()
            ),
            max_size=8,
        ),
        max_size=6,
    )
)
def test_whatever_is_typed_is_read_or_refused_in_words(lines: list[list[str]], tmp_path: Path) -> None:
    header = "start,target,filter,exposure_s,count,kind,end_utc,pier_side\n"
    text = io.StringIO()
    csv.writer(text).writerows(lines)
    problems, steps = 0, 0
    try:
        steps = len(made(tmp_path, (header + text.getvalue()).encode(errors="replace")).steps)
    except InputError as error:
        problems = sum(bool(problem.message and problem.remedy) for problem in error.problems)
    assert bool(problems) != bool(steps)
