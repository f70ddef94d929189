"""Plays a first repair in a real browser on the running page, and writes docs/guide.md with its pictures.

    python scripts/make_guide.py            plays it and writes guide and pictures again (some minutes)
    python scripts/make_guide.py --check    complains where a picture or a control that the guide names is missing

Every sentence stands beside what was done for its picture, so that a page that changed stops the script, and no picture
is older than the words. Needs the extras page, pdf and test, and Chromium.
"""

from __future__ import annotations

import io
import re
import shutil
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from playwright.sync_api import Page, expect  # noqa: E402

from tests.browser import Server, browser, settled, strict  # noqa: E402

DOCS, PICTURES = ROOT / "docs", ROOT / "docs" / "pictures"
UNIT = ROOT / "examples" / "larkfell-tarn-40.toml"
DEMO = resources.files("halfsplit.demo")
COLOURS = 48
PATIENCE = 1500.0

HEAD = """# Your first repair in the browser

Made by `make guide` from the running page; do not edit. The unit is the invented Larkfell Tarn 40, the readings are
those of the [demo](demo.md); yours will look the same.

Caution: sweeps are made with the transmitter off, its supply disconnected and the final stage lifted; an analyser or a
sweeper does not stand transmit power. Local codes and your licence decide what may be transmitted.
"""
TAIL = """
## Where to go from here

- The same job on the command line, at the same time if you like: `halfsplit suspects tarn.job`. Both say the
  same to the digit.
- A phone at the bench: `halfsplit bench tarn.job --lan` prints an address with a token; read the warning with it.
- Your own unit: write its schematic down under "Unit files" on the first page, form and text side by side; see
  [unit-file.md](unit-file.md).
"""


@dataclass(frozen=True)
class Step:
    """One paragraph with its picture. act : what is done on the page; shows : selector of what is photographed"""

    title: str
    words: str
    picture: str
    act: Callable[[Page, Path], None]
    shows: str


def begin(page: Page, _: Path) -> None:
    """The form of a new job, filled in."""
    page.fill("#new-name", "tarn")
    page.select_option("#new-unit", UNIT.stem)
    page.fill("#new-complaint", "second harmonic on 31 m heard far away")


def started(page: Page, _: Path) -> None:
    """The job, its worst band chosen."""
    page.click("#start")
    expect(page.locator("#path .strip")).to_be_visible()
    page.click("#path .bandpick a:has-text('31 m')")
    expect(page.locator("#path .station.filter")).to_contain_text("F4")


def tied(page: Page, _: Path) -> None:
    """Band, instrument, and two points pressed on the path."""
    page.select_option("#h-band", "31 m")
    page.select_option("#h-instrument", "analyser")
    page.select_option("#h-reference", "calibrated")
    page.locator("#tie .station.point:has-text('TP1') button").click()
    expect(page.locator("#tie-hint")).to_contain_text("Now press the point")
    page.locator("#tie .station.point:has-text('J2') button").click()
    expect(page.locator("#tie .station:has-text('J2') .tie.read")).to_be_visible()


def dropped(page: Page, folder: Path) -> None:
    """A file, understood and not yet kept."""
    page.set_input_files("#files", [folder / "analyser_31m.s2p"])
    expect(page.locator("#cards .understood")).to_contain_text("201 points")


def kept(page: Page, _: Path) -> None:
    """The reading kept and worked out."""
    page.locator("#cards [id^=keep-]").first.click()
    expect(page.locator("#journal")).to_contain_text("R1")
    settled(page, PATIENCE)
    expect(page.locator("#trace sweep-plot canvas").first).to_be_visible()


def nothing(page: Page, _: Path) -> None:
    """Another part of the same sheet."""
    settled(page, PATIENCE)


def opened(page: Page, _: Path) -> None:
    """The filter of the band, opened."""
    page.click("#path .station.filter a")
    expect(page.locator("#opened .ladder").first).to_be_attached()


def done(page: Page, _: Path) -> None:
    """The work, filled in."""
    page.click("#write-did > summary")
    page.select_option("#did-word", "resoldered")
    page.fill("#did-place", "E41")
    page.fill("#did-note", "old joint cracked round")


def proved(page: Page, folder: Path) -> None:
    """The work kept, and the same sweep again."""
    page.click("#keep-did")
    expect(page.locator("#journal")).to_contain_text("resoldered E41")
    page.set_input_files("#files", [folder / "analyser_31m_after.s2p"])
    expect(page.locator("#cards .understood")).to_contain_text("201 points")
    page.locator("#cards [id^=keep-]").first.click()
    expect(page.locator("#journal")).to_contain_text("R2")
    settled(page, PATIENCE)


def reported(page: Page, _: Path) -> None:
    """The report for the owner."""
    href = page.locator("#paper-owner").get_attribute("href")
    page.goto(page.url.partition("/job")[0] + str(href))


STEPS = (
    Step(
        "Start a job",
        "`halfsplit bench` opens the first page. One job is one unit on the bench. Give it a name, choose the unit "
        "file, which is the schematic in words, and write down what the owner says. Press **Start the job**.",
        "start", begin, "#new",
    ),
    Step(
        "The sheet",
        "The job is one sheet. At the top, what is believed by now. Below it, the signal path from the final stage to "
        "the socket on the chosen band. Everything is drawn dashed: nothing was measured yet.",
        "path", started, "#path",
    ),
    Step(
        "Say how you measured",
        "Under **Enter readings**, choose the band, then press two points on the path: the first is driven, the second "
        "is read. Generator and detector are drawn there.",
        "tied", tied, "#hookup",
    ),
    Step(
        "Drop the file",
        "Drop the file of the instrument anywhere on the sheet. What was understood is shown first: kind, points, "
        "quantities, what is missing. Correct it where it is wrong, then press **Keep this reading**.",
        "file", dropped, "#cards",
    ),
    Step(
        "What the reading shows",
        "Left, the trace over what sound units show; right, how far it is off, in dB and in units of tolerance. Drag "
        "across a plot to look closer.",
        "trace", kept, "#trace article:first-of-type",
    ),
    Step(
        "Who is suspected",
        "Causes that these readings cannot tell apart come as one group with one probability. What speaks for and "
        "against each is said, and what these readings could not have shown.",
        "suspects", nothing, "#suspects",
    ),
    Step(
        "Open the filter",
        "On the path every place says where it stands, in a word and a shape. Press the filter: its ladder opens, with "
        "the suspects marked.",
        "filter", opened, "#path",
    ),
    Step(
        "What to do next",
        "The best tests, with minutes and risk, and what each suspect would show.",
        "next", nothing, "#next",
    ),
    Step(
        "Write down what you did",
        "In the **Journal**: what, where, a remark. Nothing is ever erased; a wrong entry is withdrawn with a reason.",
        "did", done, "#write-did",
    ),
    Step(
        "Prove it",
        "Measure again in the same hook-up. Readings after the work are kept apart from those before it.",
        "proof", proved, "#bands",
    ),
    Step(
        "The report",
        "Under **Report**: one paper for the owner in plain words, one for the next technician with everything, as a "
        "page or as PDF. It says *repaired* only for what was measured since.",
        "owner", reported, "header",
    ),
)  # fmt: skip


def photographed(page: Page, step: Step) -> bytes:
    """A picture of one part, in few colours, so that it is small."""
    from PIL import Image

    page.wait_for_timeout(400)
    raw = page.locator(step.shows).first.screenshot(animations="allow", caret="initial")
    picture = Image.open(io.BytesIO(raw)).convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    out = io.BytesIO()
    picture.save(out, "PNG", optimize=True)
    return out.getvalue()


def play() -> list[tuple[Step, bytes]]:
    """The whole repair on a fresh desk."""
    out = []
    with tempfile.TemporaryDirectory() as name, browser() as chrome:
        folder = Path(name)
        shutil.copy(UNIT, folder)
        for reading in ("analyser_31m.s2p", "analyser_31m_after.s2p"):
            (folder / reading).write_bytes(DEMO.joinpath(reading).read_bytes())
        server = Server(folder)
        page = chrome.new_page(viewport={"width": 1120, "height": 900})
        wrong = strict(page)
        page.goto(f"{server.address}/jobs")
        try:
            for step in STEPS:
                print(step.title, flush=True)
                step.act(page, folder)
                out.append((step, photographed(page, step)))
        finally:
            server.end()
        if wrong:
            sys.exit(f"the page complained: {wrong[0]}")
    return out


def guide() -> str:
    """The text, with its pictures."""
    parts = [
        f"\n## {n}. {s.title}\n\n{s.words}\n\n![{s.title}](pictures/{s.picture}.png)\n" for n, s in enumerate(STEPS, 1)
    ]
    return HEAD + "".join(parts) + TAIL


def check() -> None:
    """The guide is that of this script, and each picture and each control that it presses is there."""
    problems = (
        [] if (DOCS / "guide.md").read_text("utf-8") == guide() else ["docs/guide.md: another text than the script's"]
    )
    problems += [
        f"docs/pictures/{s.picture}.png: missing" for s in STEPS if not (PICTURES / f"{s.picture}.png").is_file()
    ]
    markup = "".join(p.read_text("utf-8") for p in (ROOT / "src/halfsplit/page/templates").glob("*.html"))
    source = Path(__file__).read_text("utf-8")
    for name in sorted(set(re.findall(r'(?:click|fill|select_option)\("#([a-z-]+)"', source))):
        if f'id="{name}"' not in markup and not name.startswith("h-"):
            problems.append(f"the page has no #{name} any more; run make guide")
    if problems:
        sys.exit("\n".join(problems))


def main() -> None:
    """Write, or check."""
    if "--check" in sys.argv[1:]:
        check()
        return
    PICTURES.mkdir(exist_ok=True)
    for step, picture in play():
        (PICTURES / f"{step.picture}.png").write_bytes(picture)
    (DOCS / "guide.md").write_text(guide(), "utf-8")


if __name__ == "__main__":
    main()
