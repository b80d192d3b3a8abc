"""The table of planned observations as astropy reads it: the standard's columns, and what is not known masked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from optimizer.export.obsplan_file import COLUMNS, mjd, obsplan_text
from optimizer.models.shots import ShotList
from optimizer.views.view import view_of, view_of_steps
from tests.support.replan_nights import flipping_list, laid_list
from tests.support.view_cases import LISTS

NEVER_NULL = (
    "t_planning", "obs_id", "t_min", "t_max", "t_exptime", "facility_name", "category", "priority",
    "execution_status", "tracking_type",
)  # fmt: skip
NOT_KNOWN = (
    "obs_collection", "s_fov", "s_region", "s_resolution", "t_resolution", "em_min", "em_max", "em_res_power",
    "o_ucd", "pol_states", "pol_xel", "instrument_name",
)  # fmt: skip
# In the order of the standard.
NAMES = [
    "t_planning", "target_name", "obs_id", "obs_collection", "s_ra", "s_dec", "s_fov", "s_region",
    "s_resolution", "t_min", "t_max", "t_exptime", "t_resolution", "em_min", "em_max", "em_res_power",
    "o_ucd", "pol_states", "pol_xel", "facility_name", "instrument_name", "t_plan_exptime", "category",
    "priority", "execution_status", "tracking_type",
]  # fmt: skip
MAKERS = [pytest.param(maker, id=name) for name, maker in LISTS.items()]


def read(text: str) -> Any:
    from astropy.table import Table

    return Table.read(text, format="ascii.ecsv")


@pytest.mark.parametrize("maker", MAKERS)
def test_astropy_reads_what_was_planned(maker: Callable[[], ShotList]) -> None:
    view = view_of(maker())
    table = read(obsplan_text(view))
    visits = [visit for visit in view.visits if visit.subs]
    assert table.colnames == NAMES
    assert len(table) == len(visits)
    for row, visit in zip(table, visits, strict=True):
        assert row["target_name"] == visit.target
        for name, known in (("s_ra", visit.ra_deg), ("s_dec", visit.dec_deg)):
            assert row[name] is np.ma.masked if known is None else row[name] == known
        assert row["t_exptime"] == row["t_plan_exptime"] == visit.open_shutter_s
        assert mjd(visit.start_utc) <= row["t_min"] < row["t_max"] <= mjd(visit.end_utc)
        assert (row["t_max"] - row["t_min"]) * 86400 >= visit.open_shutter_s - 1e-3
        assert (row["priority"], row["category"]) == (1, "Other")
        assert (row["execution_status"], row["tracking_type"]) == ("Scheduled", "Sidereal")
    for name in NOT_KNOWN:
        assert np.ma.getmaskarray(table[name]).all()
    for name in NEVER_NULL:
        assert not np.ma.getmaskarray(np.ma.asarray(table[name])).any()
    assert len(set(table["obs_id"])) == len(visits)


def test_units_and_ucds_stand_beside_the_columns() -> None:
    table = read(obsplan_text(view_of(flipping_list())))
    for column in COLUMNS:
        told = table[column.name]
        assert str(told.unit or "") == column.unit
        assert told.meta.get("ucd", "") == column.ucd
        assert told.description
    assert table.meta["time_scale"] == "UTC"


def test_days_are_those_of_astropy() -> None:
    from astropy.time import Time

    view = view_of(flipping_list())
    table = read(obsplan_text(view))
    begin, end = view.blocks[0], view.blocks[-1]
    assert table["t_min"][0] == pytest.approx(Time(begin.start_utc, scale="utc").mjd, abs=1e-9)
    assert table["t_max"][-1] < Time(end.end_utc, scale="utc").mjd
    assert table["t_planning"][0] == pytest.approx(Time(view.plan.created_utc, scale="utc").mjd, abs=1e-9)


def test_bare_steps_are_dated_by_their_first_sub() -> None:
    shots = laid_list()
    table = read(obsplan_text(view_of_steps(shots.steps, shots.request)))
    assert table["t_planning"][0] == mjd(shots.steps[5].start_utc)
    assert np.ma.getmaskarray(table["s_ra"]).all()  # hand-laid rows tell no coordinates
