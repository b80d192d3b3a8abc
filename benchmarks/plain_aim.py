"""The plainest aim: hours of open shutter, each like the other, whatever the defaults of a request are."""

from __future__ import annotations

from typing import Any

# Nights of tests and benchmarks say so outright: what they check or measure does not hang on a default.
PLAIN_AIM: dict[str, Any] = {"value": "hours", "balance": 0.0, "scarcity": 0.0, "slack_s": 0}
PLAIN_AIM_LINES = "".join(
    f'{key} = "{value}"\n' if isinstance(value, str) else f"{key} = {value}\n"
    for key, value in PLAIN_AIM.items()
)
