"""The part of the sheet that compares: bands, loudest lines, every reading with its plots and checks."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfsplit.expect import Observation
from halfsplit.quantity import hertz
from halfsplit.report.markup import element, paragraph, safe, table, verdict_word
from halfsplit.report.plot import curves_of, deviation, trace
from halfsplit.report.records import SheetData
from halfsplit.verdict import Check, Verdict, Word
from halfsplit.verdict.records import SEVERITY

LOUDEST = 6


def bands(data: SheetData) -> str:
    """Every band of the unit with its verdict; what was not measured is said."""
    judged = {b.band: b for b in data.bands}
    rows = []
    for band in data.job.unit.bands:
        span = f"{band.low / 1e6:g} to {band.high / 1e6:g} MHz"
        found = judged.get(band.name)
        if found is None:
            rows.append([safe(band.name), span, safe("not measured"), ""])
        else:
            rows.append([safe(band.name), span, verdict_word(found.word), safe(found.headline)])
    return element("h2", "Bands") + table(("band", "served", "verdict", "what says so"), rows, "bands")


def loud_lines(data: SheetData) -> str:
    """The loudest checks of all readings that are not within."""
    wrong = [(v, c) for v in data.verdicts for c in v.checks if c.word in (Word.OUTSIDE, Word.DOUBTFUL)]
    wrong.sort(key=lambda pair: (-SEVERITY[pair[1].word], -pair[1].loudness))
    head = element("h2", "Loudest lines")
    if not data.verdicts:
        return ""
    if not wrong:
        return head + paragraph("Every check of every reading that counts is within what sound units show.")
    lines = [
        element("li", f"{verdict_word(c.word)} {safe(c.text)} {element('span', safe(f'({v.key}, {v.label})'), 'note')}")
        for v, c in wrong[:LOUDEST]
    ]
    rest = f"and {len(wrong) - LOUDEST} more below" if len(wrong) > LOUDEST else ""
    return head + element("ol", "".join(lines), "loud") + (paragraph(rest, "note") if rest else "")


def matching(v: Verdict, observations: Sequence[Observation]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which points of a verdict are only known to be there or lower: (n,), from the observation it judged."""
    for o in observations:
        if o.key == v.key and o.what is v.what and o.label == v.label and len(o.f) == len(v.f):
            return o.at_least
    return np.zeros(len(v.f), bool)


def signed(value: float | None, unit: str) -> str:
    """A margin with its sign, or nothing."""
    return "" if value is None else f"{value:+.2f} {unit}".replace("-", "\u2212")


def check_row(c: Check) -> list[str]:
    """One check as cells."""
    return [verdict_word(c.word), safe(c.text), safe(signed(c.margin_db, "dB"))]


def one(v: Verdict, data: SheetData) -> str:
    """One reading: two plots side by side, and its checks."""
    band = data.job.unit.band(v.band)
    curves = curves_of(v, band, matching(v, data.job.observations))
    head = element("h3", f"{verdict_word(v.word)} {safe(v.key)} {safe(v.label)}")
    span = f"{len(v.f)} points, {hertz(v.f[0])} to {hertz(v.f[-1])}" if len(v.f) > 1 else f"one point, {hertz(v.f[0])}"
    plots = element("figure", trace(curves, v, band)) + element("figure", deviation(curves, v, band))
    columns = ("verdict", "what was checked", "margin")
    checks = table(columns, [check_row(c) for c in v.checks], "checks")
    return element("section", head + paragraph(span, "note") + element("div", plots, "plots") + checks, "reading")


LEGEND = (
    "First drawing: bold line with dots, the reading; dashed, the middle of what sound units show; grey field, 90 % of "
    "sound units; shaded between dotted lines, the served band; bars marked 2f and up at the top, its harmonics; "
    "arrows pointing down, values known only to be there or lower. Second: the reading minus the middle, in dB and in "
    "units of tolerance, with lines at 2 and 3 sigma; down is more loss, or more reflected. Where the line leaves the "
    "paper a triangle says how far it goes, if that is beyond 2 sigma. Margin: distance inside (+) or outside of what "
    "90 % of sound units show, or of the stated limit."
)


def all_readings(data: SheetData) -> str:
    """Every judged reading, loudest first, and those that could not be used."""
    out = [element("h2", "Readings against what a sound unit shows")]
    if not data.verdicts and data.levels:
        return ""
    if not data.verdicts:
        out.append(paragraph("No reading that counts yet."))
    else:
        out.append(paragraph(LEGEND, "note"))
    order = sorted(data.verdicts, key=lambda v: (-SEVERITY[v.word], -max((c.loudness for c in v.checks), default=0.0)))
    out += [one(v, data) for v in order]
    out += [paragraph(f"{key} does not count: {why}", "caution") for key, why in data.job.broken]
    return "".join(out)
