"""Colours of the season's map: five steps of planned hours in each theme, beside those of the night's page.

What is written on a step can be read (4.5:1 with the ink that goes with it), and each step differs from the
next by 6 at least (CIEDE2000, the sights of `picture/colours.py`). Colour is not the only sign: the bar of a
step is higher than that of the step before, and where there is room the hours are written.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from optimizer.report.picture.colours import theme_values

# Open shutter in hours up to which a step goes; the last one has no end.
STEP_ENDS_H: Final = (1.0, 2.0, 4.0, 6.0)
STEPS: Final = len(STEP_ENDS_H) + 1
DARK_INK, LIGHT_INK = "#101418", "#ffffff"
STEP_COLOURS: Final[Mapping[str, tuple[str, ...]]] = {
    "light": ("#cfe0f2", "#9dc3e6", "#68a0d6", "#2b68a8", "#0f376b"),
    "dark": ("#1f4058", "#285f7f", "#4a9ac0", "#86c8e2", "#d3f1fb"),
    "red": ("#260604", "#480d09", "#d63a30", "#eb5046", "#ff6b62"),
}
# Ink for what is written on each step.
STEP_INKS: Final[Mapping[str, tuple[str, ...]]] = {
    "light": (*(DARK_INK,) * 3, *(LIGHT_INK,) * 2),
    "dark": (*(LIGHT_INK,) * 2, *(DARK_INK,) * 3),
    "red": (*("#ff4a3d",) * 2, *("#000000",) * 3),
}
# Edge of a bar, so that the palest step stands out from its ground; ground of nights that cannot serve.
MORE: Final[Mapping[str, Mapping[str, str]]] = {
    "light": {"edge": "#2b68a8", "shut": "#cdd2d8", "moonbar": "#8a7a2c", "darkbar": "#434d61"},
    "dark": {"edge": "#86c8e2", "shut": "#05070a", "moonbar": "#d8c884", "darkbar": "#8fa0bb"},
    "red": {"edge": "#ec4236", "shut": "#000000", "moonbar": "#ec4236", "darkbar": "#b9352b"},
}


def step_of(hours: float) -> int:
    """The step of the map for so many planned hours, from 1 on; 0 for none."""
    return 0 if hours <= 0 else 1 + sum(hours > end for end in STEP_ENDS_H)


def season_values(theme: str) -> dict[str, str]:
    """All named colours of a theme: the night's page's, the steps as `q1` on, the inks on them as `i1` on."""
    steps = {f"q{number}": colour for number, colour in enumerate(STEP_COLOURS[theme], start=1)}
    inks = {f"i{number}": colour for number, colour in enumerate(STEP_INKS[theme], start=1)}
    return {**theme_values(theme), **steps, **inks, **MORE[theme]}
