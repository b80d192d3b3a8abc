"""Measures the demo line's command with nothing compiled yet, and again: first plan told, whole process.

    python -m benchmarks.first_plan [ROUNDS]

Each cold round has an empty folder for machine code. The first plan counts as told once its hours stand on
the terminal. Of each process both the time on the clock and that of the processor (its children's too), which
other work disturbs less. POSIX alone. Writes `benchmarks/results/first-plan.json`.
"""

from __future__ import annotations

import json
import os
import platform
import pty
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]
REQUEST = ROOT / "plans" / "first-night" / "request.toml"
RESULTS = Path(__file__).parent / "results" / "first-plan.json"
START = "from optimizer.cli.start import main; main()"
TOLD = "h of at most"


def one_run(cache: Path, out: Path) -> dict[str, float | str]:
    """Seconds until the first plan is told and until the process has ended; what the last line of it said."""
    ours, theirs = pty.openpty()
    used, began, first_s, told = _children_s(), time.perf_counter(), 0.0, ""
    process = subprocess.Popen(
        [sys.executable, "-c", START, "plan", str(REQUEST), "--out", str(out)],
        stdout=subprocess.PIPE,
        stderr=theirs,
        env={**os.environ, "NUMBA_CACHE_DIR": str(cache)},
        text=True,
    )
    os.close(theirs)
    while True:
        try:
            told += os.read(ours, 4096).decode()
        except OSError:  # the process has ended
            break
        if TOLD in told and not first_s:
            first_s = time.perf_counter() - began
    shown, _ = process.communicate()
    ended_s = time.perf_counter() - began
    os.close(ours)
    if process.returncode:
        raise SystemExit(told)
    (proof,) = (line for line in shown.splitlines() if line.startswith("Proof"))
    return {
        "first_plan_s": round(first_s, 2),  # 0: the whole plan was shown before the line was first written
        "whole_s": round(ended_s, 2),
        "processor_s": round(_children_s() - used, 2),
        "load": round(os.getloadavg()[0], 1),
        "proof": proof.removeprefix("Proof").strip(),
    }


def _children_s() -> float:
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


def main(rounds: int) -> None:
    """Run cold and warm in turn, print each, store all."""
    found: dict[str, list[dict[str, float | str]]] = {"cold": [], "warm": []}
    for _ in range(rounds):
        with tempfile.TemporaryDirectory() as folder:
            cache, out = Path(folder) / "cache", Path(folder) / "out"
            for name in found:
                found[name].append(one_run(cache, out))
                print(name, found[name][-1], flush=True)
    machine = {"cores": os.cpu_count(), "python": platform.python_version(), "system": platform.system()}
    RESULTS.write_text(json.dumps({"machine": machine, **found}, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
