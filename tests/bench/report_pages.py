"""How long pages take to open, and how smooth a season of 10,000 quotes on one page is.

Opens the sample report's pages in headless Chromium. Prints, for each page, the time from
asking for it until its charts are drawn (median), its size, the longest frame while it is
scrolled, and what naming a quote under the pointer takes. Asserts nothing.

    python tests/bench/report_pages.py [RUNS]
"""

from __future__ import annotations

import dataclasses
import random
import runpy
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

BROWSER = Path(__file__).parents[1] / "browser"
QUOTES = 10_000
SCROLL = """
new Promise(done => {
  const frames = []; let last = performance.now();
  const step = (now) => {
    frames.push(now - last); last = now; scrollBy(0, 40);
    if (frames.length < 60) requestAnimationFrame(step); else done(Math.max(...frames.slice(2)));
  };
  requestAnimationFrame(step);
})
"""
HOVER = """
(() => {
  const box = document.querySelector('.plot');
  const curve = box.data.findIndex(each => each.mode === 'markers');
  const begun = performance.now();
  for (let point = 0; point < 20; point += 1) {
    Plotly.Fx.hover(box, [{ curveNumber: curve, pointNumber: point % box.data[curve].x.length }]);
  }
  return (performance.now() - begun) / 20;
})()
"""


def crowded(page):
    """The same item with a season of quotes."""
    rng = random.Random(5)
    quotes = sorted(
        (
            dataclasses.replace(
                rng.choice(page.quotes),
                at=f"2026-{rng.randint(9, 10):02}-{rng.randint(1, 28):02}"
                f"T{rng.randint(0, 23):02}:{rng.randint(0, 59):02}:00Z",
            )
            for _ in range(QUOTES)
        ),
        key=lambda quote: quote.at,
    )
    return dataclasses.replace(page, quotes=tuple(quotes))


def main() -> None:
    """Measure and print."""
    from reports.write import write_report

    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    program = shutil.which("chromium")
    if program is None:
        sys.exit("no Chromium on this machine")
    report = runpy.run_path(str(BROWSER / "sample_report.py"))["harrow_fen"]()
    items = (crowded(report.items[0]), *report.items[1:])
    folder, profile = (Path(tempfile.mkdtemp()) for _ in range(2))
    write_report(folder, dataclasses.replace(report, items=items))
    browser = runpy.run_path(str(BROWSER / "conftest.py"))["Browser"](program, profile)
    browser.look()
    print(f"{'page':34} {'kB':>6} {'open ms':>8} {'frame ms':>9} {'name ms':>8}")
    for page in sorted(folder.glob("*.html")):
        taken = []
        for _ in range(runs):
            begun = time.perf_counter()
            browser.open(page)
            taken.append(1000 * (time.perf_counter() - begun))
        frame = browser.value(SCROLL)
        charts = browser.value(
            "!!document.querySelector('.plot')"
            " && document.querySelector('.plot').data.some(each => each.mode === 'markers')"
        )
        name = f"{browser.value(HOVER):8.1f}" if charts else " " * 8
        size = page.stat().st_size / 1000
        print(f"{page.name:34} {size:6.0f} {statistics.median(taken):8.0f} {frame:9.1f} {name}")
    browser.close()
    shutil.rmtree(folder)
    shutil.rmtree(profile, ignore_errors=True)


if __name__ == "__main__":
    main()
