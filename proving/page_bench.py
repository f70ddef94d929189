"""Figures of the page in a real browser, taken in one run. Run: python -m proving.page_bench

1. First paint and first plot of a job with one reading, ms after the request.
2. Frames while zooming 10 traces of 2,000 points in three plots: 50th and 95th percentile of the time from frame to
   frame, and of the work of one frame alone.
The machine is shared and noisy: the load is printed beside the figures.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from pathlib import Path

import numpy as np
from playwright.sync_api import Page

from halfsplit import jobs
from tests.browser import Server, browser, settled
from tests.pages import ROOT

TRACES, POINTS, FRAMES = 10, 2000, 150
UNIT = ROOT / "examples" / "brackenwell-10.toml"
LINES = ("2 MHz -0.1 dB", "10.1 MHz -3.1 dB", "10.15 MHz -3.2 dB", "20.3 MHz -43 dB", "30.3 MHz -52 dB")
MEASURE = """async ([frames, zooming]) => {
  const plot = document.querySelector("#many"), gaps = [], work = [];
  let last = await new Promise(requestAnimationFrame);
  for (let n = 0; n < frames; n++) {
    const begun = performance.now();
    if (zooming) plot.shift(0.004 * Math.sin(n / 7), n % 60 < 30 ? 0.96 : 1 / 0.96);
    if (zooming) plot.show();
    work.push(performance.now() - begun);
    const now = await new Promise(requestAnimationFrame);
    gaps.push(now - last);
    last = now;
  }
  return [gaps, work];
}"""


def curve(n: int) -> str:
    """One made-up reading over 2,000 points, as the page sends it."""
    f = np.geomspace(1e6, 60e6, POINTS)
    middle = -10 * np.log10(1 + (f / 11e6) ** 14)
    wide = 0.3 + 0.05 * np.abs(middle)
    read = middle + wide * np.sin(9 * np.log(f) + n)
    arrays = {
        "f": f, "read": read, "expected": middle, "low": middle - wide, "high": middle + wide, "off": read - middle,
        "off_low": -wide, "off_high": wide, "sigma": (read - middle) / wide,
    }  # fmt: skip
    facts = {
        "key": f"R{n}", "label": "made up", "band": "30 m", "word": "within", "headline": "", "quantity": "level, dB",
        "served": [10.1e6, 10.15e6], "at_least": [False] * POINTS,
    }  # fmt: skip
    return json.dumps(facts | {k: v.tolist() for k, v in arrays.items()})


def drawn(page: Page, selector: str) -> None:
    """Wait until a plot has drawn; the page's policy forbids a condition that is evaluated from text."""
    while page.evaluate("s => document.querySelector(s)?.plots?.length", selector) != 3:
        page.wait_for_timeout(5)


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as name, browser() as chrome:
        folder = Path(name)
        shutil.copy(UNIT, folder)
        jobs.start(folder / "well.job", UNIT, "well", "half the power")
        jobs.add_typed(folder / "well.job", list(LINES), None, {})
        server = Server(folder, "well")
        page = chrome.new_page(viewport={"width": 1360, "height": 900})
        page.goto(f"{server.address}/job/well")
        settled(page)
        page.goto(f"{server.address}/job/well")
        drawn(page, "sweep-plot")
        plotted = page.evaluate("performance.now()")
        paint = page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
        page.route(
            "**/made/*.json",
            lambda route: route.fulfill(body=curve(int(route.request.url[-6])), content_type="application/json"),
        )
        addresses = " ".join(f"/made/{n}.json" for n in range(TRACES))
        page.evaluate(
            "a => { const p = document.createElement('sweep-plot'); p.id = 'many'; p.setAttribute('src', a); "
            "document.querySelector('#trace').prepend(p); p.scrollIntoView(); }",
            addresses,
        )
        drawn(page, "#many")
        still, _ = page.evaluate(MEASURE, [FRAMES, False])
        gaps, work = page.evaluate(MEASURE, [FRAMES, True])
        server.end()
    at = lambda values: " / ".join(f"{np.percentile(values, q):.1f}" for q in (50, 95))  # noqa: E731
    print("50th / 95th percentile where two figures stand")
    print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"first paint {paint:.0f} ms, first plot at most {plotted:.0f} ms after the request")
    print(f"zooming {TRACES} x {POINTS} points: frame {at(gaps)} ms, its work {at(work)} ms, at rest {at(still)} ms")


if __name__ == "__main__":
    main()
