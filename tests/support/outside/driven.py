"""A shot list run step by step on simulated devices, by the clock of this process, however fast that goes.

    python -m tests.support.outside.driven JOB LOG

An executor that knows the list alone, as `plans/SHOTS.md` tells how to follow one. JOB is a JSON file with the
steps, instants being seconds since 1970, and where the targets are today; what was done goes to LOG. Slews,
flips, filter changes and exposures last as long as the devices take; centring (a second goto) and acts without a
device (settling, autofocus, dithers) as long as the list says. Whoever starts this gives it a clock and a network of
its own.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import Any

from tests.support.outside.simulated_rig import SimulatedRig, Span

Steps = list[dict[str, Any]]


def main() -> None:
    """Run the job that the command line names."""
    job = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))
    with SimulatedRig(job["site"], job["filters"], Path(job["folder"])) as rig:
        executor = Executor(rig, job["places"])
        ready_s = time.time()
        executor.run(job["steps"])
        log = {"ready_s": ready_s, "acts": executor.acts, "sides": rig.sides()}
    Path(sys.argv[2]).write_text(json.dumps(log), encoding="utf-8")


class Executor:
    """Goes through the steps of a list and writes down when each began and ended."""

    def __init__(self, rig: SimulatedRig, places: dict[str, tuple[float, float]]) -> None:
        self.rig, self.places = rig, places
        self.acts: list[dict[str, Any]] = []

    def run(self, steps: Steps) -> None:
        """No step begins before its time, and none after its latest start; a visit goes with its slew or flip.

        What would still run when the mount must leave its target is left out, and the mount leaves.
        """
        place = 0
        while place < len(steps):
            step, leaving = steps[place], _next_leaving(steps, place)
            self.rig.client.listen_until(step["start_s"])
            lasts_s = step["end_s"] - step["start_s"]
            if step["kind"] in ("slew", "flip") and _too_late(step):
                self.rig.stand()
                place = _next_leaving(steps, place + 1)
            elif step["kind"] == "expose" and _too_late(step):
                place += 1
            elif (
                step["kind"] != "expose"
                and place < leaving < len(steps)
                and _too_late(steps[leaving], lasts_s)
            ):
                place = leaving
            else:
                self._act(step)
                place += 1

    def _act(self, step: dict[str, Any]) -> None:
        act: dict[str, Any] = {"step": step["step"]}
        moves = step["kind"] in ("slew", "flip")
        if moves:
            act["axes_before_deg"] = self.rig.axes()
        act["begins_s"], act["ends_s"] = self._done(step)
        if moves:
            act["axes_after_deg"] = self.rig.axes_next()
        self.acts.append(act)

    def _done(self, step: dict[str, Any]) -> Span:
        kind, target = step["kind"], step["target"]
        if kind in ("slew", "flip"):
            return self.rig.goto(*self.places[target])
        if kind == "filter":
            return self.rig.put_in(step["filter"])
        if kind == "expose":
            return self.rig.expose(step["exposure_s"], target, f"sub_{step['step']:04d}")
        if kind == "park":
            return self.rig.park()
        begins_s = time.time()
        if kind == "wait" and not step["tracking"]:
            self.rig.stand()
        if kind == "centre":  # the mount ends a slew where the target was as it began
            self.rig.goto(*self.places[target])
        until_s = step["end_s"] if kind == "wait" else begins_s + step["end_s"] - step["start_s"]
        self.rig.client.listen_until(until_s)
        return begins_s, time.time()


def _too_late(step: dict[str, Any], after_s: float = 0.0) -> bool:
    """Whether a step would come too late if it began so many seconds from now."""
    return step["latest_s"] is not None and time.time() + after_s > step["latest_s"]


def _next_leaving(steps: Steps, place: int) -> int:
    """The next step with which the mount leaves what it tracks; the number of steps if there is none."""
    while place < len(steps):
        step = steps[place]
        if step["kind"] in ("slew", "flip", "park") or (step["kind"] == "wait" and not step["tracking"]):
            break
        place += 1
    return place


if __name__ == "__main__":
    main()
