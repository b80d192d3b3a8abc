"""Colours and textures of the filters, and the grounds and inks of the themes.

Chosen by a search (CIEDE2000 over normal sight and protan, deutan and tritan sight after Machado, Oliveira &
Fernandes 2009, IEEE TVCG 15, 1291): in the light and the dark theme any two filters differ by 15 at least,
and each stands out from its ground by 3:1. By red light hue carries nothing: texture, letter and place must.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

SLOTS: Final = 7
# What observers call their filters, and the hue that goes with it where it is still free.
WONTED = {
    "l": 0,
    "lum": 0,
    "luminance": 0,
    "r": 1,
    "red": 1,
    "g": 2,
    "green": 2,
    "b": 3,
    "blue": 3,
    "ha": 4,
    "h-alpha": 4,
    "hα": 4,
    "oiii": 5,
    "o3": 5,
    "sii": 6,
    "s2": 6,
}
FILTER_COLOURS: Final[Mapping[str, tuple[str, ...]]] = {
    "light": ("#1b171a", "#731a06", "#649a79", "#290792", "#ad6600", "#276261", "#984de9"),
    "dark": ("#a3a09b", "#d22133", "#dafdc3", "#6e71f5", "#eaa40b", "#70c4eb", "#8f5c83"),
    "red": ("#ff5a45", "#c02b1d", "#ff5a45", "#c02b1d", "#ff5a45", "#c02b1d", "#ff5a45"),
}
# Names as in the style sheets: --ground and so on.
THEMES: Final[Mapping[str, Mapping[str, str]]] = {
    "light": {
        "ground": "#ffffff",
        "panel": "#f3f4f6",
        "ink": "#14181d",
        "soft": "#555d66",
        "rule": "#c3c8ce",
        "closed": "#dfe2e6",
        "some": "#f0f1f3",
        "open": "#ffffff",
        "sky0": "#ffffff",
        "sky1": "#d8dee8",
        "sky2": "#a9b3c4",
        "sky3": "#77839a",
        "sky4": "#434d61",
        "moon": "#fffbe6",
        "moonedge": "#14181d",
    },
    "dark": {
        "ground": "#12161b",
        "panel": "#1b2128",
        "ink": "#e9edf1",
        "soft": "#a7b0ba",
        "rule": "#4a545f",
        "closed": "#090b0e",
        "some": "#171c22",
        "open": "#232a33",
        "sky0": "#6c7d96",
        "sky1": "#4a5a73",
        "sky2": "#303d52",
        "sky3": "#1d2736",
        "sky4": "#05070b",
        "moon": "#fff6cf",
        "moonedge": "#05070b",
    },
    "red": {
        "ground": "#000000",
        "panel": "#140201",
        "ink": "#ff4a3d",
        "soft": "#ec4236",
        "rule": "#6b1610",
        "closed": "#000000",
        "some": "#1a0403",
        "open": "#2c0806",
        "sky0": "#6b1610",
        "sky1": "#4d0f0b",
        "sky2": "#330a07",
        "sky3": "#1f0604",
        "sky4": "#000000",
        "moon": "#ff4a3d",
        "moonedge": "#000000",
    },
}


def theme_values(theme: str) -> dict[str, str]:
    """All named colours of a theme, filters as `f0` to `f6`."""
    colours = {f"f{slot}": colour for slot, colour in enumerate(FILTER_COLOURS[theme])}
    return {**THEMES[theme], **colours}


def filter_slots(names: Sequence[str]) -> dict[str, int]:
    """A slot (colour and texture) for each filter: the usual one where it has one, else the next free one.

    Beyond seven filters slots come twice; letters still tell them apart.
    """
    slots: dict[str, int] = {}
    for name in names:
        slot = WONTED.get(name.strip().lower())
        if slot is not None and slot not in slots.values():
            slots[name] = slot
    free = [slot for slot in range(SLOTS) if slot not in slots.values()]
    for index, name in enumerate(name for name in names if name not in slots):
        slots[name] = free[index] if index < len(free) else (index - len(free)) % SLOTS
    return {name: slots[name] for name in names}
