"""SVG text of drawings, and PNG and PDF of SVG."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimizer.errors import PrintingMissingError
from optimizer.report.picture.colours import theme_values
from optimizer.report.picture.drawing import Drawing

if TYPE_CHECKING:
    from jinja2 import Environment

TEMPLATES = Path(__file__).with_name("templates")
A4_LANDSCAPE_PT = (841.89, 595.28)  # ISO 216; one SVG pixel becomes one point
PNG_SCALE = 2.0
PLAIN = re.compile(r"[A-Za-z0-9.#-]+")
GROUNDED = ".ground{fill:var(--ground)}"


@lru_cache(maxsize=2)
def templates(folder: Path = TEMPLATES) -> Environment:
    """The templates of a folder; every text is escaped, a name that a template does not know is an error."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        keep_trailing_newline=False,
    )
    environment.filters["quoted"] = _quoted
    return environment


def _quoted(value: str, html: bool) -> str:
    """An attribute's value in quotes, escaped; HTML needs none around a value as plain as most are."""
    from markupsafe import Markup

    return Markup(value) if html and PLAIN.fullmatch(value) else Markup('"{}"').format(value)


def picture_css() -> str:
    """The picture's style sheet, colours as variables."""
    return (TEMPLATES / "picture.css").read_text(encoding="utf-8").strip()


def resolved_css(theme: str) -> str:
    """The style sheet with the colours of one theme, since not every renderer knows variables."""
    values = theme_values(theme)
    values["halo"] = values["ground"]
    return re.sub(r"var\(--(\w+)\)", lambda match: values[match[1]], picture_css() + GROUNDED)


def svg_text(drawing: Drawing, title: str, titles: list[str], theme: str, *, a4: bool = False) -> str:
    """A picture that stands by itself. `titles`: words for each step; `a4`: sized for a sheet of paper."""
    from markupsafe import Markup

    size = A4_LANDSCAPE_PT if a4 else (drawing.width, drawing.height)
    return (
        templates()
        .get_template("picture.svg.j2")
        .render(
            drawing=drawing,
            title=title,
            titles=titles,
            style=Markup(resolved_css(theme)),
            width=round(size[0], 2),
            height=round(size[1], 2),
        )
    )


def png_bytes(svg: str) -> bytes:
    """The PNG of an SVG, two pixels for one. Raises PrintingMissingError without the extra `print`."""
    return bytes(_converter().svg_to_png(svg, scale=PNG_SCALE))


def pdf_bytes(svg: str) -> bytes:
    """The PDF of an SVG. Raises PrintingMissingError without the extra `print`."""
    return bytes(_converter().svg_to_pdf(svg))


def _converter() -> Any:
    try:
        import vl_convert
    except ImportError as error:
        raise PrintingMissingError(
            "PNG and PDF need the extra 'print': pip install 'darkfill[print]'"
        ) from error
    return vl_convert
