"""The page in a real browser: a repair from nothing, files, a killed server, two windows, the keyboard alone."""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from playwright.sync_api import Error as PlaywrightError

from halfsplit import jobs
from tests.browser import Server, browser, settled, strict
from tests.pages import UNIT, started

expect.set_options(timeout=20_000)
DEMO = Path(str(resources.files("halfsplit.demo")))


@pytest.fixture(scope="module")
def chrome() -> Iterator[Browser]:
    with browser() as made:
        yield made


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    (tmp_path / UNIT.name).write_bytes(UNIT.read_bytes())
    started(tmp_path)
    return tmp_path


@pytest.fixture
def server(desk: Path) -> Iterator[Server]:
    made = Server(desk, "tarn")
    yield made
    made.end()


def opened(chrome: Browser, server: Server, path: str = "/", width: int = 1360) -> tuple[Page, list[str]]:
    page = chrome.new_page(viewport={"width": width, "height": 900})
    wrong = strict(page)
    for wait in (1000, 2000, 4000, 0):  # the address is told a moment before the port is open
        try:
            page.goto(server.address + path)
            break
        except PlaywrightError as error:
            if "CONNECTION_REFUSED" not in str(error) or not wait:
                raise
            page.wait_for_timeout(wait)
    return page, wrong


def keep_figures(page: Page, figures: list[tuple[str, str]]) -> None:
    for n, (f, v) in enumerate(figures):
        page.fill(f"#f{n}", f)
        page.fill(f"#v{n}", v)
    page.click("#keep-typed")


def test_a_repair_from_nothing(chrome: Browser, tmp_path: Path) -> None:
    server = Server(tmp_path)
    page, wrong = opened(chrome, server)
    page.fill("#unit-name", "my set")
    page.click("#begin-unit")
    page.fill("#s-0-2", "560 pF")
    with page.expect_response("**/set*"):
        page.press("#s-0-2", "Tab")
    assert page.evaluate("document.activeElement.id") == "s-0-3", "focus stays where the hand is"
    expect(page.locator("#text")).to_have_value(re.compile("560 pF"))
    text = page.input_value("#text")
    with page.expect_response("**/text*"):
        page.fill("#text", text.replace('"820 pF"', '"820 pX"'))
    expect(page.locator("#unit_said .toline")).to_have_text("line 21")
    expect(page.locator("#unit_lines")).to_contain_text("\u25b821")
    page.click(".toline")
    assert "820 pX" in page.evaluate("(t => t.value.slice(t.selectionStart, t.selectionEnd))(document.activeElement)")
    with page.expect_response("**/text*"):
        page.fill("#text", text)
    expect(page.locator("#unit_drawing .ladder").first).to_be_attached()
    page.click("#save")
    page.click("#to-job")
    page.fill("#new-name", "first")
    page.fill("#new-complaint", "weak on 40 m")
    page.click("#start")
    expect(page.locator("#head")).to_contain_text("weak on 40 m")
    keep_figures(page, [("7.0", "-0.3"), ("7.2", "-2.9"), ("14", "-30"), ("21", "-52")])
    expect(page.locator("#enter_said")).to_contain_text("Kept as R1")
    settled(page)
    expect(page.locator("#suspects")).to_contain_text("%")
    expect(page.locator("#bands")).to_contain_text("R1")
    assert jobs.notebook(tmp_path / "first.job").readings[0].name == "typed"
    server.end()
    assert wrong == []


def test_twenty_files_at_once_and_a_wrong_one(chrome: Browser, server: Server, desk: Path) -> None:
    data = (DEMO / "sweep_40m.csv").read_bytes()
    for n in range(19):
        (desk / f"{n:02}_40m.csv").write_bytes(data + b"\n" * n)
    (desk / "letter.pdf").write_bytes(b"%PDF-1.7\n<script>alert(1)</script>")
    page, wrong = opened(chrome, server)
    page.set_input_files("#files", [desk / f"{n:02}_40m.csv" for n in range(19)] + [desk / "letter.pdf"])
    expect(page.locator("#cards .card")).to_have_count(20)
    expect(page.locator("#card-20")).to_contain_text("a PDF document")
    assert page.locator("#keep-20").is_disabled()
    page.click("#keep-all")
    expect(page.locator("#cards .card")).to_have_count(1)
    page.click("#drop-20")
    expect(page.locator("#cards .card")).to_have_count(0)
    assert len(jobs.notebook(desk / "tarn.job").readings) == 19
    assert wrong == []


def test_a_killed_server_loses_nothing(chrome: Browser, server: Server, desk: Path) -> None:
    page, _ = opened(chrome, server)
    with page.expect_response("**/enter/files"):
        page.set_input_files("#files", [DEMO / "sweep_20m.csv"])
    with page.expect_response("**/enter/typed"):
        page.fill("#f0", "9.4")
        page.fill("#v0", "-0.5")
    server.kill()
    expect(page.locator("#trouble")).to_contain_text("does not answer", timeout=15_000)
    page.fill("#v1", "typed while it was gone")
    second = Server(desk, "tarn", server.port)
    expect(page.locator("#trouble")).to_be_empty(timeout=20_000)
    assert page.input_value("#v1") == "typed while it was gone"
    page.reload()
    assert (page.input_value("#f0"), page.input_value("#v0")) == ("9.4", "-0.5")
    expect(page.locator("#cards")).to_contain_text("sweep_20m.csv")
    second.end()


def test_two_windows_and_the_command_line_see_one_job(chrome: Browser, server: Server, desk: Path) -> None:
    first, wrong = opened(chrome, server)
    second, also = opened(chrome, server, width=390)
    second.focus("#f0")
    second.keyboard.type("14.1")
    jobs.add_typed(desk / "tarn.job", ["14.1 MHz -0.4 dB"], None, {"band": "20 m"})
    for page in (first, second):
        expect(page.locator("#journal")).to_contain_text("R1", timeout=15_000)
    assert second.input_value("#f0") == "14.1" and second.evaluate("document.activeElement.id") == "f0"
    first.select_option("#h-band", "31 m")
    keep_figures(first, [("9.4", "-0.4"), ("19", "-44")])
    expect(second.locator("#journal")).to_contain_text("R2", timeout=15_000)
    settled(first)
    settled(second)
    assert first.inner_text("#suspects") == second.inner_text("#suspects")
    belief = jobs.suspects(desk / "tarn.job").belief
    assert belief in first.inner_text("#head")
    assert wrong == also == []


def test_long_work_is_stopped_and_taken_up_again(chrome: Browser, server: Server, desk: Path) -> None:
    tied = {"band": "31 m", "drive": "TP1", "read": "J2", "instrument": "analyser", "reference": "calibrated"}
    jobs.add_file(desk / "tarn.job", DEMO / "analyser_31m.s2p", tied)
    page, wrong = opened(chrome, server)
    page.click("#stop", timeout=15_000)
    expect(page.locator("#progress.stopped")).to_be_attached()
    expect(page.locator("sweep-plot").first).to_be_attached()
    page.click("#again")
    expect(page.locator("#progress.working")).to_be_attached()
    expect(page.locator("#bands")).to_contain_text("outside", timeout=60_000)
    settled(page)
    assert wrong == []


def test_the_keyboard_alone(chrome: Browser, server: Server, desk: Path) -> None:
    page, wrong = opened(chrome, server)

    def walk_to(name: str) -> None:
        for _ in range(150):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.id") == name:
                return
        raise AssertionError(f"{name} cannot be reached")

    walk_to("tie-1")
    with page.expect_response("**/enter/tie*"):
        page.keyboard.press("Enter")
    expect(page.locator("#tie-hint")).to_contain_text("Now press the point where the detector reads")
    assert page.evaluate("document.activeElement.id") == "tie-1"
    walk_to("tie-5")
    with page.expect_response("**/enter/tie*"):
        page.keyboard.press("Space")
    expect(page.locator("#tie-hint")).to_contain_text("Press the point where the generator is tied")
    for _ in range(3):  # what came is laid out a moment after it came: keys pressed in between go nowhere
        page.wait_for_timeout(300)
        walk_to("h-band")
        page.keyboard.type("31")
        page.wait_for_timeout(300)
        if page.input_value("#h-band") == "31 m":
            break
    page.wait_for_load_state("networkidle")
    walk_to("f0")
    for text in ("9.4", "-0.4", "19", "-44"):
        page.keyboard.type(text)
        page.keyboard.press("Tab")
    walk_to("keep-typed")
    page.keyboard.press("Enter")
    expect(page.locator("#enter_said")).to_contain_text("Kept as R1")
    (kept,) = jobs.notebook(desk / "tarn.job").readings
    assert (kept.hookup["band"], kept.hookup["drive"], kept.hookup["read"]) == ("31 m", "TP1", "J2")
    assert wrong == []


def test_nothing_is_wider_than_the_window(chrome: Browser, server: Server) -> None:
    wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    for path in ("/job/tarn", "/jobs", f"/unit/{UNIT.stem}"):
        page, wrong = opened(chrome, server, path)
        if path == "/job/tarn":
            page.set_input_files("#files", [DEMO / "sweep_20m.csv"])
            expect(page.locator("#cards .card").first).to_be_attached()
        page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        for width in (360, 390, 768, 1360):
            page.set_viewport_size({"width": width, "height": 900})
            for _ in range(30):  # a new width is laid out a moment later
                if page.evaluate(wide) <= 0:
                    break
                page.wait_for_timeout(100)
            assert page.evaluate(wide) <= 0, (path, width)
        assert wrong == []
        page.close()
