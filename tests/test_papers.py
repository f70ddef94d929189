"""The reports: one file, nothing fetched, every name as text; the owner is never told more than was measured."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from sheets import empty_data, ranking, sheet_data, verdict
from test_report import Page

from halfsplit.cli import main
from halfsplit.errors import InputError
from halfsplit.fault import Group, Ranking
from halfsplit.jobs import JobData
from halfsplit.journal import StoredWork
from halfsplit.report import owner_report, paper, reader_named, technician_report, written
from halfsplit.report.pdf import INK, inked
from halfsplit.report.proof import proofs, taken_after, taken_before
from halfsplit.report.style import STROKES, STYLE
from halfsplit.verdict import Word

HOSTILE = ("<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "</style></title>&lt;' onload='x")
MAKERS = (owner_report, technician_report)


def worked(data: JobData, since: int, **more: str) -> JobData:
    """The same job with one piece of work, done when that many acts were written."""
    fields = {"kind": "replaced", "word": "replaced", "place": "C12", "value": "560 pF", "note": "cracked"} | more
    work = StoredWork("D1", "2026-11-25T12:00:00+00:00", since, **fields, withdrawn=None)
    return replace(data, notebook=replace(data.notebook, work=(work,)))


def numbered(data: JobData) -> JobData:
    """The same job with act numbers 1, 2, 3 for its readings, none of them withdrawn."""
    readings = tuple(replace(r, act=n, withdrawn=None) for n, r in enumerate(data.notebook.readings, 1))
    return replace(data, notebook=replace(data.notebook, readings=readings))


def before_and_after(old: Word, new: Word, since: int = 1) -> JobData:
    """A job with R1 and R2 on one band, and work done after act `since`."""
    data = sheet_data(judged=[verdict(key="R1", word=old), verdict(key="R2", word=new)])
    return worked(numbered(data), since)


def told_by(data: JobData) -> str:
    """The owner's report as words."""
    return " ".join(Page(owner_report(data)).text.split())


@pytest.mark.parametrize("word", ["", *HOSTILE])
@pytest.mark.parametrize("make", MAKERS)
def test_a_report_is_one_file_that_runs_and_fetches_nothing(make, word) -> None:
    page = Page(make(worked(sheet_data(word), 1, note=f"note{word}", value=f"value{word}")))
    assert page.faults == []
    assert not {t for t, _ in page.tags} & {"script", "img", "iframe", "link", "object", "embed", "form", "base"}
    for _, attrs in page.tags:
        assert not [a for a in attrs if a.startswith("on") or a in ("src", "href", "style", "xlink:href", "srcset")]
    assert f"note{word}" in page.text and f"value{word}" in page.text


@pytest.mark.parametrize("make", MAKERS)
def test_the_same_records_give_the_same_bytes(make) -> None:
    assert make(sheet_data()) == make(sheet_data())


@pytest.mark.parametrize("make", MAKERS)
def test_an_empty_job_has_a_report_that_says_so(make) -> None:
    page = Page(make(empty_data()))
    assert page.faults == [] and not re.search(r"\bNone\b(?! yet| is written)", page.text)


def test_the_technician_gets_the_unit_file_to_the_letter() -> None:
    data = sheet_data()
    text = '[unit]\nname = "<x>"  # 1 < 2 & 3\n'
    data = replace(data, job=replace(data.job, unit=replace(data.job.unit, text=text)))
    assert text.strip() in Page(technician_report(data)).text


def test_every_reading_verdict_hookup_act_and_the_digest_reach_the_technician() -> None:
    data = worked(sheet_data(), 1)
    text = Page(technician_report(data)).text
    for r in data.notebook.readings:
        assert r.key in text and r.understood in text
    for line in (*(h for _, h in data.notebook.hookups if h), *(a.text for a in data.notebook.acts)):
        assert line in text
    assert all(c.text in text for v in data.verdicts for c in v.checks)
    assert data.notebook.unit_hash in text and "replaced C12 with 560 pF" in text


def test_readings_fall_before_or_after_the_work_by_the_act_that_brought_them() -> None:
    data = before_and_after(Word.OUTSIDE, Word.WITHIN)
    assert taken_before(data) == {"R1"} and taken_after(data) == {"R2"}
    unworked = replace(data, notebook=replace(data.notebook, work=()))
    assert taken_before(unworked) == {"R1", "R2"} and taken_after(unworked) == frozenset()
    between = worked(data, 9)
    assert taken_before(between) == {"R1", "R2"} and taken_after(between) == frozenset()


def test_work_that_was_withdrawn_is_no_work() -> None:
    data = before_and_after(Word.OUTSIDE, Word.WITHIN)
    book = data.notebook
    data = replace(data, notebook=replace(book, work=(replace(book.work[0], withdrawn="typed into the wrong job"),)))
    assert taken_after(data) == frozenset() and "Not repaired yet" in told_by(data)


def test_a_band_has_its_worst_word() -> None:
    data = numbered(sheet_data(judged=[verdict(key="R1", word=Word.WITHIN), verdict(key="R2", word=Word.DOUBTFUL)]))
    first, *rest = proofs(data)
    assert (first.before, first.after) == (Word.DOUBTFUL, None)
    assert all(p.before is None and p.shown is None for p in rest)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (before_and_after(Word.OUTSIDE, Word.WITHIN), "Repaired."),
        (before_and_after(Word.OUTSIDE, Word.OUTSIDE), "still not as it should be"),
        (before_and_after(Word.OUTSIDE, Word.DOUBTFUL), "still not as it should be"),
        (before_and_after(Word.OUTSIDE, Word.WITHIN, since=2), "not measured since: the repair is not proved"),
        (replace(sheet_data(), verdicts=()), "Nothing was measured yet"),
        (sheet_data(), "Not repaired yet. Found faulty on"),
    ],
)
def test_the_owner_reads_repaired_only_where_it_was_measured(data: JobData, said: str) -> None:
    text = told_by(data)
    assert said in text
    assert ("Repaired." in text) == (said == "Repaired.")


def test_a_band_found_faulty_and_not_measured_again_is_not_proved_by_another_band() -> None:
    other = sheet_data().job.unit.bands[1]
    good, observed = verdict(key="R2", word=Word.WITHIN)
    data = numbered(
        sheet_data(judged=[verdict(key="R1", word=Word.OUTSIDE), (replace(good, band=other.name), observed)])
    )
    text = told_by(worked(data, 1))
    assert "not measured since: not proved" in text and "Repaired." not in text


@pytest.mark.parametrize(("share", "family", "said"), [
    (0.95, "part", "point to"), (0.6, "part", "do not settle it"), (0.95, "sound", "the signal path is sound"),
    (0.95, "not listed", "do not settle it"),
])  # fmt: skip
def test_the_owner_is_told_a_cause_only_when_it_stands_out(share: float, family: str, said: str) -> None:
    r: Ranking = ranking()
    first = replace(r.groups[0], probability=share, family=family)
    rest: tuple[Group, ...] = (replace(r.groups[1], probability=1 - share),)
    assert said in told_by(replace(sheet_data(), ranking=replace(r, groups=(first, *rest))))


def test_every_ink_of_a_stroke_is_known_to_print() -> None:
    used = set(re.findall(r"var\(--([a-z-]+)\)", STROKES))
    assert used <= set(INK)
    printed = STYLE[STYLE.index("@media print") :]
    for name, ink in INK.items():
        assert f"--{name}:{ink}" in printed, name
    assert "var(" not in "".join(re.findall(r"<svg[^>]*><style>.*?</style>", inked(owner_report(sheet_data())), re.S))


@pytest.mark.parametrize("reader", ["bench", "owner", "technician"])
def test_a_name_that_ends_in_pdf_makes_a_pdf(reader: str, tmp_path: Path) -> None:
    target = tmp_path / "sheet.PDF"
    written(sheet_data(HOSTILE[1]), target, reader_named(reader))
    got = target.read_bytes()
    assert got.startswith(b"%PDF-") and got.rstrip().endswith(b"%%EOF") and b"/JavaScript" not in got


def test_without_the_extra_one_line_says_what_to_install(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(InputError, match=r"pip install 'halfsplit\[pdf\]'"):
        paper(sheet_data(), "owner", pdf=True)
    with pytest.raises(InputError):
        written(sheet_data(), tmp_path / "x.pdf", "owner")
    assert list(tmp_path.iterdir()) == []


def test_the_command_writes_the_report_that_is_asked_for(tmp_path: Path) -> None:
    unit = Path(__file__).parents[1] / "examples" / "brackenwell-10.toml"
    job = tmp_path / "well.job"
    run = CliRunner()
    assert run.invoke(main, ["start", str(job), "--unit", str(unit)], standalone_mode=False).exit_code == 0
    for reader in ("owner", "technician"):
        done = run.invoke(main, ["report", str(job), "--for", reader], standalone_mode=False)
        assert done.exit_code == 0, done.output
        assert "Nothing was measured" in (tmp_path / "well-owner.html").read_text("utf-8")
    assert "[filter.LP]" in (tmp_path / "well-technician.html").read_text("utf-8")
