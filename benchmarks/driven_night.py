"""The demo night on simulated devices that nobody here wrote: times and pier sides, planned beside measured.

    python -m benchmarks.driven_night [--rate N]

Mount, camera and filter wheel are those of the open device protocol that Debian packages. A small executor
drives them, with a clock that runs `rate` times as fast as the one on the wall. At 60 the night of ten hours
takes ten minutes. Prints a table of slews, flips and the subs beside them, and keeps it, and what was
measured of each step as JSON, under benchmarks/results/.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from benchmarks.surroundings import RESULTS, keep, load, surroundings
from optimizer import load_shots
from optimizer.pace.aligned import aligned
from optimizer.tally.folder import read_folder
from optimizer.tally.frames import Frame
from tests.support.outside.driven_night import (
    DEMO,
    Driven,
    cannot_drive,
    drive,
    farthest_off_deg,
    not_flipped,
    on_a_wrong_side,
    table,
    too_long,
)


def main() -> None:
    """Drive the night and tell of it."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--rate", type=int, default=60)
    rate = arguments.parse_args().rate
    reason = cannot_drive()
    if reason is not None:
        sys.exit(f"cannot drive a list here: {reason}")
    shots = load_shots(DEMO / "stored/request.2026-10-10.shots.json")
    figures = {"rate": rate, **surroundings(("astropy", "pyerfa"))}
    span_s = (shots.steps[-1].end_utc - shots.steps[0].start_utc).total_seconds()
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        driven = drive(shots, Path(folder) / "images", rate, span_s / rate * 1.2 + 30)
        figures["wall_s"] = round(time.perf_counter() - began, 1)
        frames = [each for each in read_folder(Path(folder) / "images") if isinstance(each, Frame)]
    text = "\n".join([*table(driven), "", *summary(driven, frames)])
    print(text)
    (RESULTS / "driven-night.md").write_text(text + "\n", encoding="utf-8")
    keep("driven-night.json", {**figures, "load_after": load(), "steps": [*rows(driven)]})


def summary(driven: Driven, frames: list[Frame]) -> list[str]:
    """What the night as a whole comes to, one line each."""
    subs, found = driven.of_kind("expose"), aligned(driven.shots, frames)
    planned = sum(step.kind == "expose" for step in driven.shots.steps)
    late = [each.late_s for each in driven.acts]
    by_header = sum(each.frame.pier_side == each.step.pier_side for each in found.taken)
    by_images = [each.late_s for each in found.taken]
    tail_s = [each.seconds - (each.step.exposure_s or 0.0) for each in subs]
    tail_planned_s = [each.step.seconds - (each.step.exposure_s or 0.0) for each in subs]
    return [
        f"- {driven.rate} times as fast as the clock on the wall",
        f"- subs planned {planned}, taken {len(subs)}, files laid beside the list {len(found.taken)}",
        f"- subs open on another side than planned: {len(on_a_wrong_side(driven))} by the mount, "
        f"{len(found.taken) - by_header} by the headers",
        f"- farthest from its target that a file says it was taken: {60 * farthest_off_deg(found):.1f}'",
        f"- flips {len(driven.of_kind('flip'))}, not as planned {len(not_flipped(driven))}; "
        f"slews and flips longer than planned {len(too_long(driven))}",
        f"- steps later than planned: median {statistics.median(late):.1f} s, at most {max(late):.1f} s; "
        f"subs by their images: at most {max(by_images):.1f} s",
        f"- beside a sub's open shutter: median {statistics.median(tail_s):.1f} s, at most "
        f"{max(tail_s):.1f} s, where {statistics.median(tail_planned_s):.1f} s are planned",
    ]


def rows(driven: Driven) -> list[dict[str, Any]]:
    """Each step as it went; seconds, degrees."""
    return [
        {
            "step": each.step.step,
            "kind": each.step.kind,
            "late_s": round(each.late_s, 2),
            "planned_s": each.step.seconds,
            "measured_s": round(each.seconds, 2),
            "turned_deg": None if each.turned_deg is None else round(each.turned_deg, 2),
            "planned_side": each.step.pier_side,
            "measured_sides": sorted(map(str, driven.sides_in(each.begins_utc, each.ends_utc))),
        }
        for each in driven.acts
    ]


if __name__ == "__main__":
    main()
