"""A plan as a table of planned observations: the columns of the IVOA's ObsLocTAP 1.0, as ECSV.

Names, order, types, units, UCDs and the closed lists of values are those of `ivoa.obsplan` in the
recommendation of 2021-07-24, after a validator of 2021-06-09 and a service's schema, which agree.
"""

from __future__ import annotations

import datetime as dt
import io
from typing import Any, NamedTuple

from optimizer.views.models import PlanView, VisitView

TABLE_UTYPE = "ivo://ivoa.net/std/obsloctap#table-1.0"
MJD_0 = dt.datetime(1858, 11, 17, tzinfo=dt.UTC)


class Column(NamedTuple):
    """A column of the standard's table; `kind` is a type of numpy, empty texts mean none."""

    name: str
    kind: str
    unit: str
    ucd: str
    description: str


COLUMNS = (
    Column("t_planning", "float64", "d", "", "MJD, UTC: when the list was made"),
    Column("target_name", "str", "", "meta.id;src", "name of the target"),
    Column("obs_id", "str", "", "meta.id", "evening, number of the visit, 8 digits of the request's SHA-256"),
    Column("obs_collection", "str", "", "meta.id", "not given"),
    Column("s_ra", "float64", "deg", "pos.eq.ra", "right ascension, ICRS"),
    Column("s_dec", "float64", "deg", "pos.eq.dec", "declination, ICRS"),
    Column("s_fov", "float64", "deg", "phys.angSize;instr.fov", "not known"),
    Column("s_region", "str", "", "pos.outline;obs.field", "not known"),
    Column("s_resolution", "float64", "arcsec", "pos.angResolution", "not known"),
    Column("t_min", "float64", "d", "time.start;obs.exposure", "MJD, UTC: when the first shutter opens"),
    Column("t_max", "float64", "d", "time.end;obs.exposure", "MJD, UTC: when the last shutter closes"),
    Column("t_exptime", "float64", "s", "time.duration;obs.exposure", "open shutter of the visit"),
    Column("t_resolution", "float64", "s", "time.resolution", "not known"),
    Column("em_min", "float64", "m", "em.wl;stat.min", "not known"),
    Column("em_max", "float64", "m", "em.wl;stat.max", "not known"),
    Column("em_res_power", "float64", "", "spect.resolution", "not known"),
    Column("o_ucd", "str", "", "meta.ucd", "not given"),
    Column("pol_states", "str", "", "meta.code;phys.polarization", "none"),
    Column("pol_xel", "int64", "", "meta.number", "none"),
    Column("facility_name", "str", "", "meta.id;instr.tel", "name of the site"),
    Column("instrument_name", "str", "", "meta.id;instr", "not known"),
    Column("t_plan_exptime", "float64", "s", "time.duration;obs.exposure", "open shutter of the visit"),
    Column("category", "str", "", "", "Fixed, Coordinated, Window or Other"),
    Column("priority", "int64", "", "", "0, 1 or 2; 1: may be shifted, but hardly"),
    Column("execution_status", "str", "", "", "Planned, Scheduled, Unscheduled, Performed or Aborted"),
    Column("tracking_type", "str", "", "", "Sidereal, Solar-system-object-tracking or Fixed-az-el-transit"),
)  # fmt: skip


def obsplan_text(view: PlanView) -> str:
    """Write one row for each visit that has subs, as ECSV; what is not known is masked, never 0.

    It announces what is planned. It holds no flips, so it is no list to be executed.
    """
    from astropy.table import MaskedColumn, Table

    rows = [_row(view, visit) for visit in view.visits if visit.subs]
    table = Table(meta={"utype": TABLE_UTYPE, "time_scale": "UTC", "site": view.plan.site})
    for column in COLUMNS:
        values = [row.get(column.name) for row in rows]
        blank: Any = "" if column.kind == "str" else 0
        table[column.name] = MaskedColumn(
            [blank if value is None else value for value in values],
            mask=[value is None for value in values],
            dtype=column.kind,
            unit=column.unit or None,
            description=column.description,
            meta={"ucd": column.ucd} if column.ucd else None,
        )
    out = io.StringIO(newline="")
    table.write(out, format="ascii.ecsv")
    return out.getvalue().replace("\r\n", "\n")


def _row(view: PlanView, visit: VisitView) -> dict[str, object]:
    subs = [step for step in view.steps if step.visit == visit.visit and step.kind == "expose"]
    open_s = dt.timedelta(seconds=subs[-1].exposure_s or 0.0)
    planned = view.plan.created_utc or subs[0].start_utc
    return {
        "t_planning": mjd(planned),
        "target_name": visit.target,
        "obs_id": f"{view.plan.evening}-{visit.visit:02d}-{view.plan.request_sha256[:8]}",
        "s_ra": visit.ra_deg,
        "s_dec": visit.dec_deg,
        "t_min": mjd(subs[0].start_utc),
        "t_max": mjd(subs[-1].start_utc + open_s),
        "t_exptime": visit.open_shutter_s,
        "facility_name": view.plan.site,
        "t_plan_exptime": visit.open_shutter_s,
        "category": "Other",
        "priority": 1,
        "execution_status": "Scheduled",
        "tracking_type": "Sidereal",
    }


def mjd(instant: dt.datetime) -> float:
    """The modified Julian day of an instant, in UTC; a day with a leap second counts 86,400 s like others."""
    return (instant - MJD_0) / dt.timedelta(days=1)
