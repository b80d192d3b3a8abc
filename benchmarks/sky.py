"""Time to place targets in the sky: our tracks against two libraries, and whole processes from a cold start.

    python -m benchmarks.sky [--rounds N]

For 1, 10, 50 and 200 targets: altitude, azimuth and hour angle at every 30 s of 12 h. Instants, site and
frames are set up within the time; files that a library keeps open or in memory are read before it. All ways
take turns in each round, so that load hits them alike; medians count. The loop over targets is measured once,
and for 200 targets taken as 200/50 of that for 50.
Prints tables and keeps the raw figures as JSON under benchmarks/results/. Compare within one run only; with
other work on the machine, `chrt -r 10 python -m benchmarks.sky` keeps figures steady.
"""

from __future__ import annotations

import argparse
import datetime as dt
import functools
import statistics
import subprocess
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import skyfield_data
from astropy import units as u
from astropy.coordinates import AltAz, EarthLocation, HADec, SkyCoord
from astropy.coordinates.erfa_astrom import ErfaAstromInterpolator, erfa_astrom
from astropy.time import Time
from astropy.utils import iers
from skyfield.api import Loader, Star, wgs84

from benchmarks.surroundings import keep, load, surroundings
from optimizer.models.site import Night, Site
from optimizer.sky.bodies import NightSky
from optimizer.sky.clock import night_clock
from optimizer.sky.orientation import earth_orientation

REQUEST = Path(__file__).resolve().parents[1] / "plans" / "long-winter-night" / "request.toml"
COUNTS = (1, 10, 50, 200)
LOOP_MOST = 50
SECONDS = np.arange(6 * 3600.0, 18 * 3600.0 + 1.0, 30.0)
SITE = Site(latitude_deg=50.0, longitude_deg=8.0, elevation_m=300.0, floor_deg=20.0)
NIGHT = Night(evening=dt.date(2026, 11, 14))
IMPORTS = {
    "python alone": "pass",
    "numpy": "import numpy",
    "ours": "import optimizer.sky.bodies",
    "skyfield": "import skyfield.api",
    "astropy": "import astropy.coordinates, astropy.time",
}
Places = list[tuple[float, float]]
Angles = np.ndarray  # altitude, azimuth, hour angle in degrees; target; time


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--rounds", type=int, default=5)
    rounds = arguments.parse_args().rounds
    iers.conf.auto_download = False
    iers.conf.auto_max_age = None
    warnings.filterwarnings("ignore", message="The file finals2000A.all has expired")
    before = surroundings(("astropy", "pyerfa", "numpy", "skyfield", "skyfield-data", "astropy-iers-data"))
    places = place_rows(rounds)
    imports = {name: starts([sys.executable, "-c", code], rounds) for name, code in IMPORTS.items()}
    darkfill = str(Path(sys.executable).with_name("darkfill"))
    commands = {
        "darkfill --help": starts([darkfill, "--help"], rounds),
        "darkfill windows": starts([darkfill, "windows", str(REQUEST)], rounds),
    }
    print("\n".join(["", *place_table(places), "", *start_table(imports, commands)]))
    figures = {
        **before,
        "load_after": load(),
        "rounds": rounds,
        "samples": SECONDS.size,
        "places": places,
        "imports_s": imports,
        "commands_s": commands,
    }
    keep(f"{dt.datetime.now(dt.UTC):%Y-%m-%d-%H%M}-sky.json", figures)


def targets(count: int) -> Places:
    rng = np.random.default_rng(count)
    ra, dec = rng.uniform(0, 360, count), rng.uniform(-30, 85, count)
    return list(zip(ra.tolist(), dec.tolist(), strict=True))


def ours(places: Places) -> Angles:
    clock = night_clock(NIGHT, SITE)
    sky = NightSky(SITE, clock, earth_orientation(clock.middle))
    tracks = sky.stars(places)
    return np.stack(
        [
            [track.altitude_deg(SECONDS) for track in tracks],
            [track.azimuth_deg(SECONDS) for track in tracks],
            [track.hour_angle_s(SECONDS) / 240 for track in tracks],
        ]
    )


def _frames() -> tuple[Any, Any]:
    origin = night_clock(NIGHT, SITE).origin
    times = Time(origin.replace(tzinfo=None), scale="utc") + SECONDS * u.s
    place = EarthLocation.from_geodetic(
        SITE.longitude_deg * u.deg, SITE.latitude_deg * u.deg, SITE.elevation_m * u.m
    )
    return AltAz(obstime=times, location=place), HADec(obstime=times, location=place)


def _angles(stars: Any, horizon: Any, equator: Any) -> list[Any]:
    seen, turned = stars.transform_to(horizon), stars.transform_to(equator)
    return [seen.alt.deg, seen.az.deg, turned.ha.deg]


def astropy_loop(places: Places) -> Angles:
    horizon, equator = _frames()
    rows = [_angles(SkyCoord(ra * u.deg, dec * u.deg, frame="icrs"), horizon, equator) for ra, dec in places]
    return np.swapaxes(np.array(rows), 0, 1)


def astropy_broadcast(places: Places) -> Angles:
    horizon, equator = _frames()
    ra, dec = np.array(places).T
    stars = SkyCoord(ra * u.deg, dec * u.deg, frame="icrs")[:, None]
    return np.array(_angles(stars, horizon[None, :], equator[None, :]))


def astropy_interpolated(places: Places) -> Angles:
    """The library's own short cut: its astrometry every five minutes, interpolated between."""
    with erfa_astrom.set(ErfaAstromInterpolator(300 * u.s)):
        return astropy_broadcast(places)


@functools.cache
def _skyfield_files() -> tuple[Any, Any]:
    load = Loader(skyfield_data.get_skyfield_data_path(), expire=False)
    return load.timescale(builtin=True), load("de421.bsp")


def skyfield(places: Places) -> Angles:
    """Star by star, as it has no products of stars and times; the observer is placed once."""
    scale, planets = _skyfield_files()
    origin = night_clock(NIGHT, SITE).origin
    clock = (origin.hour, origin.minute, origin.second + SECONDS)
    times = scale.utc(origin.year, origin.month, origin.day, *clock)
    place = wgs84.latlon(SITE.latitude_deg, SITE.longitude_deg, SITE.elevation_m)
    at = (planets["earth"] + place).at(times)
    rows = []
    for ra, dec in places:
        seen = at.observe(Star(ra_hours=ra / 15, dec_degrees=dec)).apparent()
        altitude, azimuth, _ = seen.altaz()
        rows.append([altitude.degrees, azimuth.degrees, seen.hadec()[0]._degrees])
    return np.swapaxes(np.array(rows), 0, 1)


LOOP = "astropy, one target after the other"
BROADCAST = "astropy, broadcast"
WAYS: dict[str, Callable[[Places], Angles]] = {
    "ours": ours,
    LOOP: astropy_loop,
    BROADCAST: astropy_broadcast,
    "astropy, broadcast, interpolated": astropy_interpolated,
    "skyfield": skyfield,
}


def place_rows(rounds: int) -> list[dict[str, Any]]:
    """One row for each way and count: seconds of wall clock and of processor, and how far from ours."""
    for way in WAYS.values():
        way(targets(1))  # tables are read and caches filled: once in a process, whoever is first
    rows: list[dict[str, Any]] = []
    for count in COUNTS:
        places = targets(count)
        reference = ours(places)
        found: dict[str, dict[str, Any]] = {
            name: {"way": name, "targets": count, "wall_s": [], "processor_s": [], "off_arcsec": 0.0}
            for name in WAYS
        }
        for turn in range(rounds):
            for name, way in WAYS.items():
                if name == LOOP and (turn or count > LOOP_MOST):
                    continue
                wall, processor = time.perf_counter(), time.process_time()
                angles = way(places)
                found[name]["wall_s"].append(round(time.perf_counter() - wall, 5))
                found[name]["processor_s"].append(round(time.process_time() - processor, 5))
                found[name]["off_arcsec"] = round(farthest_arcsec(angles, reference), 4)
            print(f"{count} targets, round {turn + 1} of {rounds}", flush=True)
        for row in found.values():
            if not row["wall_s"]:
                measured = next(r for r in rows if (r["way"], r["targets"]) == (LOOP, LOOP_MOST))
                row["extrapolated_from"] = LOOP_MOST
                for key in ("wall_s", "processor_s"):
                    row[key] = [round(value * count / LOOP_MOST, 5) for value in measured[key]]
                row["off_arcsec"] = None
            rows.append(row)
    return rows


def farthest_arcsec(angles: Angles, reference: Angles) -> float:
    """Largest difference on the sky: all ways must have computed the same thing.

    Skyfield's UT1 is a forecast of some years ago, 0.1 to 0.2 s off.
    """
    altitude = np.radians(reference[0])
    up = np.abs(angles[0] - reference[0])
    around = np.abs((angles[1] - reference[1] + 180) % 360 - 180) * np.cos(altitude)
    worst = float(max(up.max(), around.max())) * 3600
    if worst > 5.0:
        raise RuntimeError(f'two ways differ by {worst:.1f}": they do not compute the same')
    return worst


def starts(command: list[str], rounds: int) -> list[float]:
    """Seconds of wall clock of whole processes."""
    found = []
    for _ in range(rounds):
        began = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        found.append(round(time.perf_counter() - began, 4))
    return found


def place_table(rows: list[dict[str, Any]]) -> list[str]:
    """Milliseconds, and how many times as long as ours."""
    lines = [
        "| targets, ms (times ours) | " + " | ".join(map(str, COUNTS)) + ' | farthest from ours, " |',
        "|---|" + "---|" * (len(COUNTS) + 1),
    ]
    medians = {(row["way"], row["targets"]): statistics.median(row["wall_s"]) for row in rows}
    for way in WAYS:
        mine = [row for row in rows if row["way"] == way]
        cells = []
        for row in mine:
            seconds = medians[way, row["targets"]]
            times = seconds / medians["ours", row["targets"]]
            mark = "~" if row.get("extrapolated_from") else ""
            cells.append(f"{mark}{1000 * seconds:.1f} ({times:.0f}x)")
        off = max(row["off_arcsec"] for row in mine if row["off_arcsec"] is not None)
        lines.append(f"| {way} | " + " | ".join(cells) + f" | {off:.4f} |")
    return [*lines, f"~: {LOOP_MOST} targets measured, the rest in proportion"]


def start_table(imports: dict[str, list[float]], commands: dict[str, list[float]]) -> list[str]:
    rows = {f"import: {name}": values for name, values in imports.items()} | commands
    return [
        "| from a cold start | median s | first s | worst s |",
        "|---|---|---|---|",
        *(
            f"| {name} | {statistics.median(values):.3f} | {values[0]:.3f} | {max(values):.3f} |"
            for name, values in rows.items()
        ),
    ]


if __name__ == "__main__":
    main()
