"""The report for the next technician: every reading, verdict and hook-up, the drawing, the unit file, what made it."""

from __future__ import annotations

from halfsplit.report.beliefs import next_tests, suspects
from halfsplit.report.document import document
from halfsplit.report.ladder import ladder
from halfsplit.report.markup import element, paragraph, safe, table
from halfsplit.report.proof import work_done
from halfsplit.report.readings import all_readings, bands, loud_lines
from halfsplit.report.records import SheetData
from halfsplit.report.sheet import acts, cautions, head, readings_kept, versions, when
from halfsplit.report.spectra import spectra
from halfsplit.report.standing import filter_names, stand
from halfsplit.report.strip import stations, strip
from halfsplit.unit import Band, Filter


def technician_report(data: SheetData) -> str:
    """The whole report as HTML: self-contained, no script, no request. Pure: the same records give the same bytes."""
    parts = [
        head(data, "report for the next technician"),
        bands(data),
        loud_lines(data),
        suspects(data.ranking),
        next_tests(data),
        work(data),
        paths(data),
        schematics(data),
        all_readings(data),
        spectra(data),
        readings_kept(data),
        photos(data),
        acts(data),
        unit_file(data),
        cautions(),
        versions(data),
    ]
    return document(f"{data.notebook.name} \u2013 report for the next technician", parts)


def shown_bands(data: SheetData) -> list[Band]:
    """The bands that were measured; all of them where none was."""
    measured = {b.band for b in data.bands}
    return [b for b in data.job.unit.bands if b.name in measured] or list(data.job.unit.bands)


def paths(data: SheetData) -> str:
    """The signal path of each measured band, as the readings leave it."""
    measured = {b.band for b in data.bands}
    out = [element("h2", "Signal path as these readings leave it")]
    for band in shown_bands(data):
        shown = stations(data.job.unit, band, data.ranking, band.name in measured)
        out.append(element("h3", safe(band.name)) + strip(shown))
    return "".join(out)


def schematics(data: SheetData) -> str:
    """The filters of the measured bands, and those that stand in the path on every band."""
    unit = data.job.unit
    wanted = {b.filter for b in shown_bands(data)} | set(unit.path.order)
    drawn = [schematic(data, f) for f in unit.filters if f.name in wanted]
    note = paragraph("A mark (\u25c6) stands at every suspect.", "note") if data.ranking is not None else ""
    return element("h2", "Schematics") + note + "".join(drawn) if drawn else ""


def schematic(data: SheetData, chosen: Filter) -> str:
    """One filter with the standing of its parts."""
    known = {} if data.ranking is None else {n: stand((n,), data.ranking) for n in filter_names(chosen)}
    return element("h3", safe(chosen.name)) + ladder(chosen, known)


def work(data: SheetData) -> str:
    """What was done to the unit."""
    rows = [[safe(x) for x in (w.key, when(w.at), w.text, w.note)] for w in work_done(data)]
    out = element("h2", "Work on the unit")
    return out + (table(("no.", "when", "what", "remark"), rows) if rows else paragraph("None is written down."))


def photos(data: SheetData) -> str:
    """What photos the job holds; they stay in the job file."""
    rows = [[safe(x) for x in (p.key, p.belongs, p.name, p.caption)] for p in data.notebook.photos]
    title = element("h2", "Photos in the job file")
    return title + table(("photo", "of", "file", "what it shows"), rows) if rows else ""


def unit_file(data: SheetData) -> str:
    """The unit file as it was read, to the letter."""
    return element("h2", "Unit file as read") + element("pre", safe(data.job.unit.text))
