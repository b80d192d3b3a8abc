"""What measured figures depend on, without naming the machine, and where they are kept."""

from __future__ import annotations

import datetime as dt
import json
import os
import platform
import subprocess
from importlib.metadata import version
from pathlib import Path
from typing import Any

RESULTS = Path(__file__).resolve().parent / "results"


def load() -> float | None:
    """The machine's load over the last minute; None where it does not tell."""
    return round(os.getloadavg()[0], 2) if hasattr(os, "getloadavg") else None


def surroundings(packages: tuple[str, ...]) -> dict[str, Any]:
    """Commit, versions of these packages and of Python, machine, priority, and the load now."""
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"],
        capture_output=True,
        text=True,
        cwd=Path(__file__).parent,
        check=False,
    )
    real_time = hasattr(os, "sched_getscheduler") and os.sched_getscheduler(0) in (os.SCHED_RR, os.SCHED_FIFO)
    return {
        "commit": commit.stdout.strip(),
        "versions": {name: version(name) for name in packages},
        "python": platform.python_version(),
        "machine": f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores",
        "real_time_priority": real_time,
        "load_before": load(),
    }


def keep(name: str, figures: dict[str, Any]) -> None:
    """Write figures with the date as a JSON file of that name, and say where."""
    date = dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
    path = RESULTS / name
    path.write_text(json.dumps({"date": date, **figures}, indent=1) + "\n", encoding="utf-8")
    print(f"\nraw figures: {path.relative_to(RESULTS.parents[1])}")
