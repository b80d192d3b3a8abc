"""What every page that is one file has in common: themes as variables, its script, and its strict policy."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Final

from optimizer.report.picture.colours import FILTER_COLOURS

THEME_WORDS: Final = {"light": "Light", "dark": "Dark", "red": "Red"}
DARK_SCHEMES = ("dark", "red")


def script_text(files: Sequence[Path]) -> str:
    """Scripts one after the other without indents and lines of comment, which are an eighth of them."""
    text = "\n".join(file.read_text(encoding="utf-8") for file in files)
    lines = (line.strip() for line in text.splitlines())
    return "\n".join(line for line in lines if line and not line.startswith("//"))


def themes_css(values_of: Callable[[str], Mapping[str, str]]) -> str:
    """The colours of each theme as variables: what the system asks for, unless the reader has chosen."""
    blocks = {theme: _variables(theme, values_of(theme)) for theme in FILTER_COLOURS}
    parts = [
        f":root{{{blocks['light']}}}",
        f"@media screen and (prefers-color-scheme:dark){{:root:not([data-theme]){{{blocks['dark']}}}}}",
    ]
    # paper is white, whatever the screen was
    parts += [f"@media screen{{:root[data-theme={theme}]{{{block}}}}}" for theme, block in blocks.items()]
    return "\n".join(parts)


def policy_text(style: str, script: str, connect: str = "") -> str:
    """The content-security policy: nothing may be loaded, nothing may run but this style and this script.

    `connect` is a directive with its semicolon and blank, for a page that may ask its own server.
    """
    return (
        f"default-src 'none'; style-src '{_digest(style)}'; script-src '{_digest(script)}'; "
        f"{connect}img-src data:; base-uri 'none'; form-action 'none'"
    )


def _digest(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _variables(theme: str, colours: Mapping[str, str]) -> str:
    scheme = "dark" if theme in DARK_SCHEMES else "light"
    values = "".join(f"--{key}:{value};" for key, value in colours.items())
    return f"color-scheme:{scheme};{values}--halo:var(--ground)"
