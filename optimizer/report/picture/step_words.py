"""One step in one line, for tooltips."""

from __future__ import annotations

from optimizer.models.shots import Step
from optimizer.report.words import clock, minus, name

KIND_WORDS = {
    "slew": "slew",
    "centre": "plate solve",
    "settle": "settle",
    "filter": "filter change",
    "focus": "autofocus",
    "expose": "expose",
    "dither": "dither",
    "flip": "flip",
    "rotate": "rotate",
    "wait": "wait",
    "park": "park",
}


def step_line(step: Step, zone: str) -> str:
    """One step in a line: number, times, what is done, on which target and where."""
    start, end = (clock(instant, zone, seconds=True) for instant in (step.start_utc, step.end_utc))
    parts = [f"{step.step}: {start} to {end}"]
    words = KIND_WORDS[step.kind]
    if step.kind == "expose":
        words = f"{name(step.filter or '-', 40)} {step.exposure_s or 0:g} s"
    parts.append(words)
    if step.target:
        parts.append(name(step.target, 60))
    if step.pier_side:
        parts.append(f"pier side {step.pier_side}")
    if step.altitude_deg is not None:
        parts.append(minus(f"altitude {step.altitude_deg:.1f}°"))
    return ", ".join(parts)
