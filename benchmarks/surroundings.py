"""What measured figures depend on, without naming the machine."""

from __future__ import annotations

import os
import platform
import subprocess
from importlib.metadata import version
from pathlib import Path
from typing import Any


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
