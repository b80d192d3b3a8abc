"""Blocks and steps as CSV: read by pandas and by an office program they are the views, and no cell is a formula."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import math
import shutil
import subprocess
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest

from optimizer.diagnostics.csv_cells import guarded, unguarded
from optimizer.export.view_files import blocks_csv, steps_csv, views_json
from optimizer.models.base import Frozen
from optimizer.models.shots import ShotList
from optimizer.models.site import iso_utc
from optimizer.views.models import BlockView, PlanView, StepView
from optimizer.views.view import view_of
from tests.support.replan_nights import flipping_list
from tests.support.speeds import deep
from tests.support.timeline_nights import fork
from tests.support.view_cases import LISTS, NAMES, renamed

FORMULA = ("=", "+", "-", "@", "\t", "\r")
MAKERS = [pytest.param(maker, id=name) for name, maker in LISTS.items()]


def tables(view: PlanView) -> list[tuple[str, type[Frozen], Sequence[Frozen]]]:
    return [(blocks_csv(view), BlockView, view.blocks), (steps_csv(view), StepView, view.steps)]


def as_text(value: Any) -> Any:
    """What a cell means, before it is guarded: numbers stay numbers."""
    return iso_utc(value) if isinstance(value, dt.datetime) else value


@pytest.mark.parametrize("maker", MAKERS)
def test_pandas_reads_the_views(maker: Callable[[], ShotList]) -> None:
    import pandas

    for text, model, rows in tables(view_of(maker())):
        table = pandas.read_csv(io.StringIO(text), keep_default_na=False, na_values={}, dtype=str)
        assert list(table.columns) == list(model.model_fields)
        assert len(table) == len(rows)
        for told, row in zip(table.to_dict("records"), rows, strict=True):
            for name, value in dict(row).items():
                assert means(told[name], as_text(value)), (name, told[name], value)


def means(cell: str, value: Any) -> bool:
    if value is None:
        return cell == ""
    if isinstance(value, bool):
        return cell == str(value).lower()
    if isinstance(value, int | float):
        return float(cell) == value
    return cell == guarded(value) and unguarded(cell) == value


@pytest.mark.parametrize("maker", MAKERS)
def test_pandas_by_its_own_types_sees_no_nought_where_nothing_is_known(maker: Callable[[], ShotList]) -> None:
    import pandas

    for text, _, rows in tables(view_of(maker())):
        table = pandas.read_csv(io.StringIO(text))
        for name in table.columns:
            none = [getattr(row, name) is None for row in rows]
            assert list(table[name].isna()) == none, name


@pytest.mark.parametrize("maker", MAKERS)
def test_no_cell_is_a_formula(maker: Callable[[], ShotList]) -> None:
    for text, model, _ in tables(view_of(maker())):
        for row in csv.DictReader(io.StringIO(text)):
            for name in model.model_fields:
                cell = row[name]
                if cell.startswith(FORMULA):
                    assert math.isfinite(float(cell)), (name, cell)


@pytest.mark.parametrize("name", NAMES)
def test_names_come_back_from_csv(name: str) -> None:
    shots = renamed(flipping_list(), name)
    rows = list(csv.DictReader(io.StringIO(blocks_csv(view_of(shots)))))
    assert {unguarded(row["target"]) for row in rows} == {name}
    assert {row["target"] for row in rows} == {guarded(name)}


@pytest.mark.parametrize("maker", MAKERS)
def test_json_is_the_document(maker: Callable[[], ShotList]) -> None:
    view = view_of(maker())
    assert PlanView.model_validate_json(views_json(view)) == view
    assert json.loads(views_json(view))["schema"] == "darkfill-views/1"


@deep
@pytest.mark.skipif(shutil.which("soffice") is None, reason="no LibreOffice here")
def test_an_office_program_reads_the_views(tmp_path: Path) -> None:
    """Opened and saved again each cell holds the same value, and none has become a formula's result."""
    lists = {
        "fork": fork(),
        **{f"name{number}": renamed(flipping_list(), name) for number, name in enumerate(NAMES)},
    }
    views = {key: view_of(shots) for key, shots in lists.items()}
    for key, view in views.items():
        for kind, text in (("blocks", blocks_csv(view)), ("steps", steps_csv(view))):
            (tmp_path / f"{key}.{kind}.csv").write_bytes(text.encode())
    out = tmp_path / "again"
    # comma, double quotes, UTF-8, from line 1, dates and numbers found, formulas run: the last `true`
    reading = "CSV:44,34,76,1,,1033,false,true,false,false,false,0,true"
    saving = "csv:Text - txt - csv (StarCalc):44,34,76,1,,1033,false,false,false"
    subprocess.run(
        [
            "soffice", "--headless", f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}",
            f"--infilter={reading}", "--convert-to", saving, "--outdir", str(out),
            *sorted(str(path) for path in tmp_path.glob("*.csv")),
        ],
        check=True, capture_output=True, timeout=300,
    )  # fmt: skip
    for key, view in views.items():
        for kind, rows in (("blocks", view.blocks), ("steps", view.steps)):
            saved = list(csv.DictReader(io.StringIO((out / f"{key}.{kind}.csv").read_text(encoding="utf-8"))))
            assert len(saved) == len(rows)
            for cells, row in zip(saved, rows, strict=True):
                for name, value in dict(row).items():
                    assert same_cell(cells[name], as_text(value)), (key, kind, name, cells[name], value)


def same_cell(cell: str, value: Any) -> bool:
    """An office program writes truth in capitals and rounds numbers to its 15 digits."""
    if isinstance(value, bool):
        return cell.lower() == str(value).lower()
    if isinstance(value, int | float):
        return cell != "" and math.isclose(float(cell), value, rel_tol=1e-13)
    return means(cell, value)
