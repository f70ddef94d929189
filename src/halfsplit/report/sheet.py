"""The bench sheet as one HTML text, top to bottom. Pure: the same records give the same bytes."""

from __future__ import annotations

import halfsplit
from halfsplit.advise import in_a_sentence
from halfsplit.report.beliefs import next_tests, suspects
from halfsplit.report.cautions import CAUTIONS, DEFER
from halfsplit.report.document import document
from halfsplit.report.levels import level_figures
from halfsplit.report.markup import bullets, element, paragraph, safe, table
from halfsplit.report.readings import all_readings, bands, loud_lines
from halfsplit.report.records import SheetData
from halfsplit.report.spectra import spectra


def bench_sheet(data: SheetData) -> str:
    """The whole sheet as HTML: self-contained, no script, no request.

    returns text, to be written as UTF-8
    """
    body = [
        head(data),
        bands(data),
        loud_lines(data),
        level_figures(data),
        all_readings(data),
        spectra(data),
        suspects(data.ranking),
        next_tests(data),
        readings_kept(data),
        acts(data),
        cautions(),
        versions(data),
    ]
    return document(f"{data.notebook.name} \u2013 bench sheet", body)


def belief(data: SheetData) -> str:
    """What is believed now and what to do next, in one sentence or two."""
    if data.ranking is None:
        return "No reading that counts yet, so nothing is believed about this unit."
    said = data.ranking.belief
    return f"{said} Next: {in_a_sentence(data.advice[0].title)}." if data.advice else said


def head(data: SheetData, title: str = "bench sheet") -> str:
    """Job, unit, complaint, belief. title : what this paper is"""
    unit, book = data.job.unit, data.notebook
    power = "" if unit.rated_watts is None else f", {unit.rated_watts:g} W"
    names = ", ".join(b.name for b in unit.bands)
    facts = [("unit", f"{unit.name}{power}; {names}")]
    facts.append(("complaint", book.complaint or "none stated"))
    facts += [("note", unit.note)] if unit.note else []
    told = () if data.ranking is None else data.ranking.told
    facts += [("told", "; ".join(told))] if told else []
    rows = "".join(element("dt", safe(k)) + element("dd", safe(v)) for k, v in facts)
    top = paragraph(title, "label") + element("h1", safe(book.name)) + element("dl", rows)
    return element("header", top + paragraph(belief(data), "belief"))


def readings_kept(data: SheetData) -> str:
    """Every reading of the job with its hook-up, withdrawn ones struck through with their reason."""
    hookups = dict(data.notebook.hookups)
    rows = []
    for r in data.notebook.readings:
        cells = [safe(x) for x in (r.key, when(r.at), r.name, r.understood, hookups.get(r.key, ""))]
        if r.baseline:
            cells[3] += element("div", "read when the unit was sound", "note")
        if r.withdrawn is not None:
            cells = [element("s", c, "withdrawn") for c in cells]
            cells[0] += element("div", safe(f"withdrawn: {r.withdrawn}"), "note")
        rows.append(cells)
    out = element("h2", "Readings and hook-ups")
    if not rows:
        return out + paragraph("None yet.")
    return out + table(("reading", "taken in", "from", "understood as", "hook-up"), rows, "kept")


def when(at: str) -> str:
    """A moment as a person reads it: minutes, UTC."""
    return at[:16].replace("T", " ") + " UTC"


def acts(data: SheetData) -> str:
    """The journal in order."""
    rows = [[safe(x) for x in (a.number, when(a.at), a.kind, a.text)] for a in data.notebook.acts]
    return element("h2", "Journal") + table(("no.", "when", "act", "what"), rows)


def cautions() -> str:
    """What to mind at the bench, and who decides."""
    return element("h2", "Cautions") + bullets(CAUTIONS) + paragraph(DEFER)


def versions(data: SheetData) -> str:
    """What made this sheet, and from which unit file."""
    book = data.notebook
    made = f"Job made by {book.made_by}; sheet by halfsplit {halfsplit.__version__}."
    file = f" Unit file {book.unit_source}, SHA-256 "
    return element("footer", element("p", safe(made + file) + element("code", safe(book.unit_hash))))
