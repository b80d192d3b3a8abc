"""The bytes of a page or a picture of a plan, by the file's ending."""

from __future__ import annotations

from optimizer.report.picture.drawing import draw
from optimizer.report.picture.facts import picture_facts
from optimizer.report.picture.frame import WIDE
from optimizer.report.picture.headline import title
from optimizer.report.picture.page import page_text
from optimizer.report.picture.rendering import pdf_bytes, png_bytes, svg_text
from optimizer.report.picture.shown import ShownPlan
from optimizer.report.picture.step_words import step_line


def chart_bytes(plan: ShownPlan, ending: str, theme: str | None = None) -> bytes:
    """The bytes of a file that ends in `.html`, `.svg`, `.png` or `.pdf`.

    Raises PrintingMissingError for the last two where the extra `print` is not installed.
    """
    if ending == ".html":
        return page_text(plan, theme).encode()
    drawing = draw(picture_facts(plan), WIDE, titled=True)
    zone = plan.request.site.time_zone
    # words for the pointer are of use where a browser shows the picture
    titles = [step_line(step, zone) for step in plan.steps] if ending == ".svg" else []
    svg = svg_text(drawing, title(plan), titles, theme or "light", a4=ending == ".pdf")
    if ending == ".svg":
        return svg.encode()
    return png_bytes(svg) if ending == ".png" else pdf_bytes(svg)
