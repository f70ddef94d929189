"""The look of the page, measured: accessible in light and dark, inks that stand out, plots that answer to hand and key.

Rules of accessibility: axe-core (Deque, MPL-2.0), all that it knows. Contrast: W3C WCAG 2.1, 1.4.3, 1.4.6 and 1.4.11.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_core_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

import halfsplit.page
from halfsplit import jobs
from halfsplit.journal import open_job
from tests.browser import Server, browser, settled, strict
from tests.pages import ROOT
from tests.test_report import contrast

expect.set_options(timeout=20_000)
CSS = (Path(halfsplit.page.__file__).parent / "static" / "sheet.css").read_text("utf-8")
UNIT = ROOT / "examples" / "brackenwell-10.toml"
MHZ = (2.0, 5.0, 8.0, 10.1, 10.12, 10.15, 11.0, 13.0, 16.0, 20.2, 20.3, 25.0, 30.3, 40.4)
DB = (-0.1, -0.2, -0.6, -3.1, -3.2, -3.3, -6.0, -18.0, -33.0, -43.0, -44.0, -50.0, -52.0, -55.0)
SPAN = "document.querySelector('sweep-plot').span"


@pytest.fixture(scope="module")
def chrome() -> Iterator[Browser]:
    with browser() as made:
        yield made


@pytest.fixture(scope="module")
def well(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A desk with a one-filter job that loses 3 dB in its band, and one with nothing in it."""
    desk = tmp_path_factory.mktemp("desk")
    (desk / UNIT.name).write_bytes(UNIT.read_bytes())
    for name in ("well", "empty"):
        jobs.start(desk / f"{name}.job", UNIT, name, "half the power on 30 m")
    lines = [f"{f} MHz {v} dB" for f, v in zip(MHZ, DB, strict=True)]
    jobs.add_typed(desk / "well.job", lines, None, {}, resolution_db=0.1)
    jobs.note(desk / "well.job", "<b>lid</b> off")
    return desk


@pytest.fixture(scope="module")
def server(well: Path) -> Iterator[Server]:
    made = Server(well, "well")
    yield made
    made.end()


@pytest.fixture
def page(chrome: Browser, server: Server) -> Iterator[Page]:
    """The sheet of the job, worked out."""
    made = chrome.new_page(viewport={"width": 1360, "height": 900})
    wrong = strict(made)
    made.goto(f"{server.address}/job/well")
    settled(made)
    expect(made.locator("sweep-plot .ready canvas").first).to_be_visible()
    yield made
    assert wrong == []
    made.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", ["/job/well?at=LP", "/job/well?at=TP2", "/job/empty", "/jobs", "/unit/brackenwell-10"])
def test_axe_finds_no_violation(chrome: Browser, server: Server, path: str, scheme: Any) -> None:
    made = chrome.new_page(viewport={"width": 1360, "height": 900}, color_scheme=scheme)
    made.goto(server.address + path)
    if "/job/" in path:
        settled(made)
    for summary in made.locator("details > summary").all():
        if summary.is_visible():
            summary.click()
    made.wait_for_timeout(300)
    found = Axe().run(made)["violations"]
    said = [(v["id"], [n["target"] for n in v["nodes"]][:4], v["nodes"][0]["failureSummary"][:200]) for v in found]
    assert said == []
    made.close()


def inks(block: str) -> dict[str, str]:
    """Ink to colour, of one block of the stylesheet; short colours written out."""
    found = re.findall(r"--([\w-]+): (#\w+)", block)
    return {n: v if len(v) == 7 else "#" + "".join(2 * c for c in v[1:]) for n, v in found}


BLOCKS = [inks(b) for b in re.findall(r":root \{(.*?)\}", CSS, re.S)]


@pytest.mark.parametrize("mode", range(5), ids=["light", "dark", "bright light", "bright light, dark", "print"])
def test_every_ink_stands_out_on_every_ground(mode: int) -> None:
    assert len(BLOCKS) == 5
    have, least = BLOCKS[mode], 7.0 if mode in (2, 3) else 4.5
    for ink in ("ink", "soft", "form", "pencil"):
        for ground in ("paper", "tint", "served"):
            assert contrast(have[ink], have[ground]) >= least, (ink, ground)
    assert contrast(have["ink"], have["paper"]) >= 12.0, "readable at arm's length"
    assert contrast(have["ink"], have["field"]) >= 3.0
    assert contrast(have["on-ink"], have["pencil"]) >= least and contrast(have["on-ink"], have["ink"]) >= least


def test_every_state_has_a_word_and_no_colour_stands_alone(page: Page) -> None:
    words = [" ".join(w.split()) for w in page.locator("#path .standing").all_text_contents()]
    assert len(words) == page.locator("#path .station").count()
    assert all(re.search(r"cleared|suspect \S+ %|untested", w) for w in words), words
    marks = {w.split()[0] for w in words}
    assert len(marks) == len({re.sub(r"[^a-z ]", "", w).strip() for w in words}), "one shape for each word"
    assert all(w.strip() for w in page.locator(".verdict").all_text_contents())


def span(page: Page) -> list[float]:
    """The window of the first plot, Hz, when it has come to rest."""
    page.wait_for_timeout(80)
    got: list[float] = page.evaluate(SPAN)
    return got


def test_keys_move_the_window_of_a_plot_and_never_beyond_the_sweep(page: Page) -> None:
    whole = span(page)
    assert whole == pytest.approx([min(MHZ) * 1e6, max(MHZ) * 1e6])
    box = page.locator("sweep-plot .box").first
    box.focus()
    page.keyboard.press("+")
    near = span(page)
    assert whole[0] < near[0] < near[1] < whole[1]
    assert near[0] * near[1] == pytest.approx(whole[0] * whole[1], rel=1e-6), "about the middle of a logarithmic axis"
    page.keyboard.press("ArrowRight")
    moved = span(page)
    assert moved[0] > near[0] and moved[1] / moved[0] == pytest.approx(near[1] / near[0], rel=1e-6)
    for _ in range(30):
        page.keyboard.press("ArrowRight")
    assert span(page)[1] == pytest.approx(whole[1]) and span(page)[0] > whole[0]
    page.keyboard.press("0")
    assert span(page) == pytest.approx(whole)
    for _ in range(40):
        page.keyboard.press("+")
    tight = span(page)
    assert whole[0] <= tight[0] < tight[1] <= whole[1]
    for _ in range(60):
        page.keyboard.press("-")
    assert span(page) == pytest.approx(whole)
    page.keyboard.press("s")
    served = span(page)
    assert served[0] < 10.1e6 and served[1] > 10.15e6 and served[1] - served[0] < 1e6


def test_dragging_across_a_plot_looks_closer(page: Page) -> None:
    whole = span(page)
    over = page.locator("sweep-plot .u-over").first
    over.scroll_into_view_if_needed()
    at = over.bounding_box()
    assert at is not None
    y = at["y"] + 0.5 * at["height"]
    page.mouse.move(at["x"] + 0.25 * at["width"], y)
    page.mouse.down()
    page.mouse.move(at["x"] + 0.75 * at["width"], y, steps=6)
    page.mouse.up()
    got = span(page)
    for share, f in zip((0.25, 0.75), got, strict=True):
        assert f == pytest.approx(whole[0] * (whole[1] / whole[0]) ** share, rel=0.02)


def test_the_axis_turns_linear_and_back(page: Page) -> None:
    button = page.locator("sweep-plot [data-do=log]").first
    button.click()
    assert button.get_attribute("aria-pressed") == "false"
    page.locator("sweep-plot .box").first.focus()
    whole = span(page)
    page.keyboard.press("+")
    near = span(page)
    assert near[0] + near[1] == pytest.approx(whole[0] + whole[1], rel=1e-6), "about the middle of a linear axis"
    button.click()
    assert button.get_attribute("aria-pressed") == "true"


def test_what_stands_under_the_pointer_is_said_in_words(page: Page) -> None:
    over = page.locator("sweep-plot .u-over").first
    over.scroll_into_view_if_needed()
    at = over.bounding_box()
    assert at is not None
    page.mouse.move(at["x"] + 2, at["y"] + 40)
    said = page.locator("sweep-plot output").first
    expect(said).to_contain_text(f"2 MHz: \u2212{-DB[0]:.2f} dB; sound units")
    expect(said).to_contain_text("times its tolerance")


def test_the_loss_of_the_pass_band_can_be_seen_in_the_deviation(page: Page) -> None:
    """3 dB in the served band fills a good part of the second plot, whatever the stop band does."""
    low, high = page.evaluate("(s => [s.min, s.max])(document.querySelector('sweep-plot').plots[1].scales.y)")
    assert low == -high and 2.0 < high < 9.0


def test_a_reading_that_is_not_judged_is_drawn_without_what_is_not_known(chrome: Browser, server: Server) -> None:
    made = chrome.new_page()
    made.route("**/trace/**", lambda route: route.fulfill(json=bare()))
    made.goto(f"{server.address}/job/well")
    expect(made.locator("sweep-plot .live.bare canvas").first).to_be_visible()
    assert not made.locator("sweep-plot .box.low").first.is_visible()
    made.close()


def bare() -> dict[str, Any]:
    """Curves of a reading of one point twice, with what a logarithmic axis cannot show, and no verdict yet."""
    none = dict.fromkeys(("expected", "low", "high", "off", "off_low", "off_high", "sigma"))
    return {
        "key": "R1", "label": "x", "band": "30 m", "word": "", "headline": "", "quantity": "level, dB",
        "served": [10.1e6, 10.15e6], "f": [0.0, 10.12e6, 10.12e6], "read": [-1.0, -2.0, -2.5], "at_least": [False] * 3,
        **none,
    }  # fmt: skip


def test_where_the_curves_do_not_come_the_drawing_stays(chrome: Browser, server: Server) -> None:
    made = chrome.new_page()
    made.route("**/trace/**", lambda route: route.fulfill(status=500, body="x"))
    made.goto(f"{server.address}/job/well")
    settled(made)
    expect(made.locator("sweep-plot .paper svg").first).to_be_visible()
    assert not made.locator("sweep-plot .live").first.is_visible()
    made.close()


def test_print_shows_the_drawings_and_no_controls(page: Page) -> None:
    page.emulate_media(media="print")
    expect(page.locator("sweep-plot .paper svg").first).to_be_visible()
    assert not page.locator("sweep-plot .live").first.is_visible()
    assert not page.locator("#enter").is_visible() and not page.locator(".around").is_visible()
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"


def test_a_press_opens_the_ladder_and_focus_stays_on_the_strip(page: Page) -> None:
    link = page.locator("#path .station.filter a")
    link.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#opened .ladder.lying")).to_be_visible()
    assert not page.locator("#opened .ladder.upright").is_visible()
    assert "L1" in (page.locator("#opened .ladder.lying").text_content() or "")
    page.set_viewport_size({"width": 390, "height": 800})
    expect(page.locator("#opened .ladder.upright")).to_be_visible()
    assert page.evaluate("document.activeElement.closest('.station.filter') !== null")


def test_all_that_is_fetched_for_the_sheet_is_light(chrome: Browser, server: Server) -> None:
    """Less than 300 kB, the type face and the curves among them."""
    made = chrome.new_page()
    sizes: list[int] = []
    made.on("response", lambda r: sizes.append(len(r.body())) if "/since" not in r.url and r.status == 200 else None)
    made.goto(f"{server.address}/job/well")
    settled(made)
    made.wait_for_load_state("networkidle")
    assert 20_000 < sum(sizes) < 300_000
    made.close()


def test_reports_open_from_the_sheet_with_their_own_policy(chrome: Browser, server: Server, well: Path) -> None:
    made = chrome.new_page()
    wrong = strict(made)
    made.goto(f"{server.address}/job/well")
    settled(made)
    for reader, said in (("owner", "What was wrong"), ("technician", "Unit file as read"), ("bench", "Next tests")):
        href = made.locator(f"#paper-{reader}").get_attribute("href")
        other = chrome.new_page()
        got = other.goto(f"{server.address}{href}")
        assert got is not None and got.status == 200 and "unsafe" not in got.headers["content-security-policy"]
        expect(other.locator("body")).to_contain_text(said)
        assert other.evaluate("getComputedStyle(document.querySelector('header')).borderTopWidth") == "2px", "styled"
        other.close()
    assert made.request.get(f"{server.address}/job/well/report/owner.pdf").body().startswith(b"%PDF-")
    assert made.request.get(f"{server.address}/job/well/report/nobody.html").status == 404
    assert wrong == []
    with open_job(well / "well.job") as file:
        assert file.acts()[-1].kind == "note", "a report writes nothing"
    made.close()
