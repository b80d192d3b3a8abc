"""The lane of the odds of clear sky, where a request gives them: a strip as high as the odds are good."""

from __future__ import annotations

from optimizer.report.odds_facts import GAMBLE_PERCENT
from optimizer.report.picture.frame import EDGE, Frame
from optimizer.report.picture.shapes import Shape, fitted, label, line, path, rect
from optimizer.report.picture.target_lane import Lane

HEIGHT = 34.0
NAME_PX = 18.0  # above the lane on the narrow sheet


def odds_lane(frame: Frame, y: float) -> Lane:
    """The odds as a filled course from 0 to 100 %, with a line at the odds below which hours are a gamble."""
    layout, odds = frame.layout, frame.facts.odds
    top = y + (NAME_PX if layout.names == "above" else 0.0)
    bottom = top + HEIGHT
    ground = rect(layout.left, top, layout.right - layout.left, HEIGHT, class_="open")
    points = [(frame.x(t), bottom - HEIGHT * percent / 100.0) for t, percent in odds]
    half = bottom - HEIGHT * GAMBLE_PERCENT / 100.0
    shapes: list[Shape] = [
        path([(points[0][0], bottom), *points, (points[-1][0], bottom)], closed=True, class_="odds"),
        path(points, class_="oddsedge"),
        line(layout.left, half, layout.right, half, class_="floor"),
        label(layout.left - 3, half + 3.5, f"{GAMBLE_PERCENT:g}%", class_="scale", text_anchor="end"),
    ]
    words = _range(frame)
    if layout.names == "above":
        shapes.append(label(EDGE, y + 11, f"Odds of clear sky as given: {words}"))
        return Lane(tuple(shapes), NAME_PX + HEIGHT, (ground,))
    shapes.append(label(EDGE, top + 14, "Odds of clear sky", class_="name"))
    shapes.append(label(EDGE, top + 30, fitted(f"as given: {words}", layout.names_px), class_="soft"))
    return Lane(tuple(shapes), HEIGHT, (ground,))


def _range(frame: Frame) -> str:
    """Least and greatest odds of the stretch that is shown."""
    percents = [percent for _, percent in frame.facts.odds]
    least, most = f"{min(percents):.0f}", f"{max(percents):.0f}"
    return f"{most} %" if least == most else f"{least} to {most} %"
