"""Measures page and picture: process of `darkfill chart`, size of the file, time to the first drawing, print.

Of each process both the time on the clock and that of the processor, which other work disturbs less.

The last two need Chromium (`DARKFILL_CHROMIUM` or `chromium`); without it those columns are left out.
"""

from __future__ import annotations

import os
import re
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PLANS = sorted((Path(__file__).parents[1] / "plans").glob("*/stored/request.*.shots.json"))
DARKFILL = str(Path(sys.executable).with_name("darkfill"))
ROUNDS = 5
# Style, layout and script are done when a frame after the load has been asked for and has come.
DRAWN_JS = """() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => {
    const entry = performance.getEntriesByType("navigation")[0];
    const paint = performance.getEntriesByName("first-contentful-paint")[0];
    done({now: performance.now(), loaded: entry.loadEventEnd, paint: paint ? paint.startTime : null});
})))"""


def chart_seconds(shots: Path, out: Path) -> str:
    """Middle of several whole processes, after one to warm up: clock and processor."""
    clock, processor = [], []
    for _ in range(ROUNDS + 1):
        began, used = time.perf_counter(), _children_s()
        subprocess.run([DARKFILL, "chart", str(shots), "-o", str(out)], check=True, capture_output=True)
        clock.append(time.perf_counter() - began)
        processor.append(_children_s() - used)
    return f"{statistics.median(clock[1:]):5.2f} ({statistics.median(processor[1:]):.2f}) s"


def _children_s() -> float:
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


def in_browser(pages: list[Path]) -> list[str]:
    """First paint, load, and a frame after it, in ms after navigation began; sheets and kB of the print.

    Times are the middle of several loads.
    """
    chromium = shutil.which(os.environ.get("DARKFILL_CHROMIUM", "chromium"))
    if chromium is None:
        return []
    from playwright.sync_api import sync_playwright

    found = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        for path in pages:
            loads = []
            for _ in range(ROUNDS):
                page = browser.new_page(viewport={"width": 1280, "height": 900})
                page.goto(path.as_uri())
                loads.append(page.evaluate(DRAWN_JS))
                page.close()
            middle = [
                statistics.median(load[key] or 0.0 for load in loads) for key in ("paint", "loaded", "now")
            ]
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            page.goto(path.as_uri())
            pdf = page.pdf(prefer_css_page_size=True)
            page.close()
            sheets = len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))
            times = ", ".join(f"{value:.0f}" for value in middle)
            found.append(f"{times}  {sheets} sheets, {len(pdf) / 1000:.0f} kB")
        browser.close()
    return found


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        pages, lines = [], []
        for shots in PLANS:
            night = shots.parents[1].name
            page = Path(folder) / f"{night}.html"
            html, svg = (chart_seconds(shots, page.with_suffix(ending)) for ending in (".html", ".svg"))
            pages.append(page)
            lines.append(f"{night:18} {page.stat().st_size / 1000:7.1f} kB  {html}  {svg}")
        drawn = in_browser(pages)
        print(f"{'night':18} {'page':>10}  {'html':>14}  {'svg':>14}  first paint, loaded, drawn (ms)  print")
        for index, line in enumerate(lines):
            print(f"{line}  {drawn[index]}" if drawn else line)


if __name__ == "__main__":
    main()
