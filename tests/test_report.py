"""The bench sheet: one file, nothing fetched, nothing runs, every name shown as it is, written whole or not at all."""

from __future__ import annotations

import base64
import errno
import hashlib
import os
import re
import stat
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner
from sheets import F, empty_data, sheet_data, verdict

from halfsplit.cli import main
from halfsplit.errors import JobFileError
from halfsplit.report import bench_sheet, written
from halfsplit.report.cautions import CAUTIONS, DEFER
from halfsplit.report.style import STYLE
from halfsplit.unit import Unit
from halfsplit.verdict import Check, Word

ROOT = Path(__file__).resolve().parents[1]
VOID = {"meta"}
HOSTILE = ("<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "</style></title>&lt;' onload='x")


class Page(HTMLParser):
    """A page taken apart; complains of tags that do not match."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.said: list[str] = []
        self.faults: list[str] = []
        self.feed(text)
        self.close()
        self.faults += [f"never closed: {tag}" for tag in self.open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"closes nothing: {tag}")

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] != "style":
            self.said.append(data)

    @property
    def text(self) -> str:
        return "\n".join(self.said)


def drawings(sheet: str) -> list[str]:
    """The outermost SVG parts."""
    found, depth, start = [], 0, 0
    for mark in re.finditer(r"<svg\b|</svg>", sheet):
        if mark[0] == "</svg>":
            depth -= 1
            if not depth:
                found.append(sheet[start : mark.end()])
        else:
            start = start if depth else mark.start()
            depth += 1
    return found


def texts(value: object) -> Iterator[str]:
    """Every text in a record and all that it holds."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for inner in value:
            yield from texts(inner)
    elif hasattr(value, "__dataclass_fields__") and not isinstance(value, Unit):
        for name in value.__dataclass_fields__:
            yield from texts(getattr(value, name))


@pytest.mark.parametrize("data", [sheet_data(), empty_data(), *(sheet_data(word) for word in HOSTILE)])
def test_well_formed(data) -> None:
    sheet = bench_sheet(data)
    assert Page(sheet).faults == []
    assert sheet.startswith("<!DOCTYPE html>\n")
    for part in drawings(sheet):
        assert ElementTree.fromstring(part).tag == "{http://www.w3.org/2000/svg}svg"


def test_the_page_checker_can_fail() -> None:
    assert Page("<p><b>x</p></b>").faults
    assert Page("<div>").faults
    assert len(drawings("<svg><svg></svg></svg><svg></svg>")) == 2


@pytest.mark.parametrize("word", HOSTILE)
def test_hostile_names_make_no_markup(word: str) -> None:
    """The same tags and attributes as with harmless names, and every text but place and size of a cause is shown."""
    data = sheet_data(word)
    hostile, plain = Page(bench_sheet(data)), Page(bench_sheet(sheet_data("~")))
    assert [(tag, list(attrs)) for tag, attrs in hostile.tags] == [(tag, list(attrs)) for tag, attrs in plain.tags]
    assert hostile.text.count(word) == plain.text.count("~")
    shown = {t for t in texts(data) if word in t} - {f"C12{word}", f"400 pF{word}", f"sound{word}"}
    for text in (*shown, data.job.unit.name, data.job.unit.note):
        assert text in hostile.text, text


def test_hostile_labels_and_checks_and_bands() -> None:
    for word in HOSTILE:
        check = Check("worst point", Word.OUTSIDE, f"worst{word}", loudness=1.0)
        data = sheet_data(judged=[verdict(label=f"60 m{word}", key=f"R1{word}", checks=(check,))])
        band = replace(data.job.unit.bands[1], name=f"30 m{word}")
        unit = replace(data.job.unit, bands=(data.job.unit.bands[0], band))
        sheet = bench_sheet(replace(data, job=replace(data.job, unit=unit)))
        page = Page(sheet)
        assert page.faults == []
        assert {"script", "img"} & {tag for tag, _ in page.tags} == set()
        assert all(x + word in page.text for x in ("60 m", "R1", "worst", "30 m"))
        for part in drawings(sheet):
            ElementTree.fromstring(part)


def test_control_and_direction_characters_are_shown_as_lost(tmp_path: Path) -> None:
    sheet = bench_sheet(sheet_data("\x00\x1b[31m\u202e\udcff\x85"))
    assert not set(sheet) & set("\x00\x1b\u202e\udcff\x85")
    assert "Unit\ufffd\ufffd[31m\ufffd\ufffd\ufffd" in sheet
    written(sheet_data("\udcff"), tmp_path / "x.html")


def test_nothing_is_fetched_and_nothing_runs() -> None:
    sheet = bench_sheet(sheet_data())
    rest = sheet.replace('xmlns="http://www.w3.org/2000/svg"', "")
    for word in ("http:", "https:", "//", "url(", "@import", "javascript:", "data:"):
        assert word not in rest, word
    for tag, attrs in Page(sheet).tags:
        assert tag not in ("script", "link", "img", "iframe", "object", "embed", "form", "a", "base", "use", "image")
        assert not [a for a in attrs if a.startswith("on") or a in ("src", "href", "style", "xlink:href", "srcset")]


def test_the_policy_allows_this_very_style_and_nothing_else() -> None:
    """source: W3C Content Security Policy Level 3, hash-source: base64 of the SHA-256 of the text of the element."""
    sheet = bench_sheet(sheet_data())
    style = re.search("<style>(.*)</style>", sheet, re.S)
    assert style is not None
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    policies = [a["content"] for t, a in Page(sheet).tags if t == "meta" and "http-equiv" in a]
    assert policies == [f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"]
    assert sheet.index("Content-Security-Policy") < sheet.index("<style>")


def test_the_same_records_give_the_same_bytes() -> None:
    assert bench_sheet(sheet_data()) == bench_sheet(sheet_data())


def test_what_stands_where() -> None:
    page = Page(bench_sheet(sheet_data()))
    order = [
        "tarn", "Unit, 40 W", "no power", "Most likely C12 low. Next: measure C12.", "Bands", "not measured",
        "Loudest lines", "worst point: said here", "Readings against", "worst point: said here", "R3 does not count",
        "Suspects", "70 %", "C12 low", "for: it fits", "against: it is new", "What these readings cannot exclude",
        "L12 down to 1 uH", "Next tests", "lift C12", "400 pF", "Power off", "Readings and hook-ups", "60 m: tied on",
        "Journal", "lid off", "Cautions", DEFER, "ab" * 32,
    ]  # fmt: skip
    at = 0
    for word in order:
        assert word in page.text[at:], word
        at = page.text.index(word, at)
    assert all(caution in page.text for caution in CAUTIONS)


def test_a_withdrawn_reading_is_struck_through_with_its_reason() -> None:
    sheet = bench_sheet(sheet_data())
    assert sheet.count('<s class="withdrawn">') == 5
    assert '<s class="withdrawn">R2</s><div class="note">withdrawn: lead off</div>' in sheet
    assert "read when the unit was sound" in sheet


def test_a_job_without_readings() -> None:
    page = Page(bench_sheet(empty_data()))
    assert "nothing is believed about this unit" in page.text
    assert "nothing is suspected and nothing is cleared" in page.text
    assert page.text.count("not measured") == 2
    assert "Next tests" not in page.text and DEFER in page.text


def test_a_verdict_is_a_word_and_a_shape() -> None:
    for word, shape in zip(Word, "\u2713?\u2715\u2013", strict=True):
        sheet = bench_sheet(sheet_data(judged=[verdict(word=word)]))
        assert f'<span aria-hidden="true">{shape}</span> {word.value}</span> R1' in sheet


def test_values_at_the_floor_are_taken_from_the_readings() -> None:
    """The verdict does not know which values are only known to be there or lower; the observation behind it does."""
    floor = F > 20e6
    assert '"least"' not in bench_sheet(sheet_data(judged=[verdict()]))
    assert '"least"' in bench_sheet(sheet_data(judged=[verdict(key="R2"), verdict(at_least=floor)]))


def test_all_within_is_said() -> None:
    assert "Every check of every reading" in bench_sheet(sheet_data(judged=[verdict(word=Word.WITHIN)]))


def luminance(colour: str) -> float:
    """source: W3C WCAG 2.1, definition of relative luminance"""
    raw = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in raw)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a: str, b: str) -> float:
    """source: W3C WCAG 2.1, definition of contrast ratio"""
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("mode", [0, 1, 2])
def test_ink_stands_out_by_day_in_the_dark_and_in_print(mode: int) -> None:
    """source: W3C WCAG 2.1, success criteria 1.4.3 (text 4.5:1) and 1.4.11 (graphics 3:1)"""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    colours = [
        {
            n: v if len(v) == 7 else "#" + "".join(2 * c for c in v[1:])
            for n, v in re.findall(r"--([\w-]+):(#\w+)", block)
        }
        for block in re.findall(r":root\{(.*?)\}", STYLE, re.S)
    ]
    assert len(colours) == 3
    have = colours[mode]
    for ink in ("ink", "soft", "form", "pencil"):
        for ground in ("paper", "served"):
            assert contrast(have[ink], have[ground]) >= 4.5, (ink, ground)
    for ground in ("paper", "field", "served"):
        assert contrast(have["ink"], have[ground]) >= 7.0, ground
    assert contrast(have["on-ink"], have["pencil"]) >= 4.5


def test_written_makes_an_ordinary_file(tmp_path: Path) -> None:
    target = tmp_path / "x.html"
    written(sheet_data(), target)
    assert target.read_text("utf-8") == bench_sheet(sheet_data())
    now = os.umask(0o022)
    os.umask(now)
    assert stat.S_IMODE(target.stat().st_mode) == 0o666 & ~now
    written(empty_data(), target)
    assert target.read_text("utf-8") == bench_sheet(empty_data())
    assert os.listdir(tmp_path) == ["x.html"]


def test_a_full_disk_leaves_the_old_sheet_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "x.html"
    target.write_text("the old sheet", "utf-8")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(JobFileError, match=r"No space left on device.*Make room"):
        written(sheet_data(), target)
    assert target.read_text("utf-8") == "the old sheet"
    assert os.listdir(tmp_path) == ["x.html"]


@pytest.mark.parametrize("name", ["none/x.html", "folder", "file/x.html", "n" * 300 + ".html"])
def test_a_place_that_cannot_be_written_to(name: str, tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").write_text("", "utf-8")
    with pytest.raises(JobFileError, match=r"cannot be written .*another place with: halfsplit report"):
        written(sheet_data(), tmp_path / name)
    assert sorted(os.listdir(tmp_path)) == ["file", "folder"]


def test_the_command_writes_a_sheet_of_a_real_job(tmp_path: Path) -> None:
    job, unit = str(tmp_path / "b.job"), str(ROOT / "examples" / "brackenwell-10.toml")

    def run(*words: str) -> str:
        done = CliRunner().invoke(main, list(words))
        assert done.exit_code == 0, done.output
        return done.output

    run("start", job, "--unit", unit, "--complaint", "weak <b>signal</b>")
    run("report", job)
    assert "nothing is believed" in (tmp_path / "b.html").read_text("utf-8")
    run("add", job, "--typed", "10.1 MHz -3.4 dB; 20.2 MHz -44 dB")
    run("report", job, "-o", str(tmp_path / "c.html"))
    page = Page((tmp_path / "c.html").read_text("utf-8"))
    assert page.faults == []
    assert "weak <b>signal</b>" in page.text
    belief = run("suspects", job).split("\n\n")[0]
    assert "".join(belief.split())[:60] in "".join(page.text.split())
