"""The part of the sheet that shows watts, amps and volts against what a sound transmitter would show."""

from __future__ import annotations

from halfsplit.report.cautions import LIVE_POWER
from halfsplit.report.markup import bullets, element, paragraph, safe, table, verdict_word
from halfsplit.report.records import SheetData
from halfsplit.verdict.records import SEVERITY


def level_figures(data: SheetData) -> str:
    """Every figure with its verdict, the loudest first; nothing where no meter was read with the key down."""
    if not data.levels:
        return ""
    order = sorted(data.levels, key=lambda v: (-SEVERITY[v.word], -abs(v.sigma)))
    rows = [
        [safe(v.band), verdict_word(v.word), safe(v.text), safe(f"{v.sigma:+.1f}".replace("-", "\u2212")), safe(v.key)]
        for v in order
    ]
    head = element("h2", "Watts, amps and volts")
    columns = ("band", "verdict", "figure", "sigma", "reading")
    note = "Expected: the middle of sound transmitters of this drawing; in brackets 90 % of them, meters counted in."
    return head + paragraph(note, "note") + table(columns, rows, "checks") + bullets(LIVE_POWER)
