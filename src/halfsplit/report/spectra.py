"""The part of the sheet that shows spectra: lines as strokes with their names, why, and the verdicts against limits."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from halfsplit.emission import DECIDES, Kind, Named, NamedSpectrum
from halfsplit.quantity import percent
from halfsplit.report import draw
from halfsplit.report.markup import bullets, element, paragraph, safe, table, verdict_word
from halfsplit.report.plot import LEFT, RIGHT, figure
from halfsplit.report.records import SheetData
from halfsplit.report.scales import Scale, level_scale
from halfsplit.verdict import EmissionVerdict

TOP, BOTTOM, HEIGHT = 40.0, 260.0, 300.0
NAMED_LINES = 10
APART = 15.0


def spectra(data: SheetData) -> str:
    """Every spectrum with its lines named, what they say, and the limits; nothing where there is none."""
    found = data.spectra
    if found is None:
        return ""
    out = [element("h2", "Spectra")]
    out += [one(n) for n in found.named]
    out += [element("h3", "What the spectra say") + bullets(found.says)] if found.says else []
    if found.harmonics:
        rows = [[safe(h.key), verdict_word(h.word), safe(h.text)] for h in found.harmonics]
        out.append(element("h3", "Harmonics against what the filter should leave"))
        out.append(table(("reading", "verdict", "what was compared"), rows))
    out += [limits(v) for v in found.limits]
    return "".join([*out, paragraph(DECIDES, "caution")])


def one(n: NamedSpectrum) -> str:
    """One spectrum: strokes, and a table of its lines."""
    s = n.spectrum
    state = ", when it was sound" if s.baseline else ", before the filter" if s.raw else ""
    known = [f"{w:.3g} W {what}" for w, what in zip(s.watts, ("mean", "PEP"), strict=True) if not math.isnan(w)]
    power = ", ".join(reversed(known)) or "power not known"
    head = element("h3", safe(f"{s.key} {s.band} at {s.point}{state}"))
    note = paragraph(f"{s.signal} at {s.carrier / 1e6:.6g} MHz; {power}", "note")
    rows = [
        [safe(f"{x.line.f / 1e6:.7g}"), safe(level(x)), safe(x.name.text), safe(sure(x)), safe(why(x))] for x in n.lines
    ]
    drawing = element("div", element("figure", strokes(n)), "plots")
    listed = table(("MHz", "dBc", "name", "sure", "why"), rows, "bands")
    return element("section", head + note + drawing + listed + bullets([*s.warnings, *n.advice], "note"), "reading")


def level(x: Named) -> str:
    """A level, or what it is below."""
    return f"{'< ' if x.line.at_most else ''}{x.line.dbc:.1f}".replace("-", "\u2212")


def sure(x: Named) -> str:
    """How sure a name is."""
    return "" if x.name.kind is Kind.CARRIER else percent(x.probability).replace(" ", "\u00a0")


def why(x: Named) -> str:
    """Why a line has its name, and what else it may be."""
    also = "; ".join(f"{m.text} ({percent(p)})" for m, p in x.also)
    return x.reason + (f". Also possible: {also}" if also else "")


def strokes(n: NamedSpectrum) -> str:
    """The lines of a spectrum as upright strokes, the strongest of them with a number that the list below has."""
    s = n.spectrum
    low, high = (f / 1e6 for f in s.span)
    x = Scale(low, high, LEFT, RIGHT)
    floor = s.floor_dbc if not math.isnan(s.floor_dbc) else min(line.dbc for line in s.lines) - 10.0
    y = level_scale(floor, 0.0, BOTTOM, TOP, 20.0)
    body = [draw.level_axis(y, LEFT, RIGHT, "level, dB below the carrier"), upright(x)]
    for name in n.lines:
        at, top = x.one(name.line.f / 1e6), y.one(name.line.dbc)
        body.append(draw.stroke(np.array([at, at]), np.array([BOTTOM, top]), "reading"))
    body += [draw.words(at, y.one(v.line.dbc) - 5, short(v), "small", "middle") for at, v in labelled(n, x)]
    body.append(draw.line(LEFT, y.one(floor), RIGHT, y.one(floor), "two"))
    return figure(
        f"Spectrum {s.key}: level of each line below the carrier over frequency in MHz", HEIGHT, "".join(body)
    )


def upright(x: Scale) -> str:
    """Grid and figures of the frequency axis, MHz, even steps."""
    from halfsplit.report.scales import even_ticks, tick_text

    out = []
    for tick in even_ticks(x.low, x.high, 6):
        at = x.one(tick)
        out += [
            draw.line(at, TOP, at, BOTTOM, "grid"),
            draw.words(at, BOTTOM + 16, tick_text(tick), "figure", "middle"),
        ]
    return "".join([*out, draw.words(RIGHT, BOTTOM + 32, "MHz", "axis", "end")])


def labelled(n: NamedSpectrum, x: Scale) -> list[tuple[float, Named]]:
    """(place, line) of the strongest lines that leave each other room for a short name."""
    out: list[tuple[float, Named]] = []
    for v in sorted(n.lines, key=lambda v: -v.line.dbc):
        at = x.one(v.line.f / 1e6)
        if len(out) < NAMED_LINES and all(abs(at - a) > APART for a, _ in out):
            out.append((at, v))
    return out


def short(v: Named) -> str:
    """A name that fits above a stroke."""
    kind, order = v.name.kind, v.name.order
    if kind is Kind.HARMONIC:
        return f"{order}f"
    if kind is Kind.HALF:
        return f"{order}/2 f"
    return {
        Kind.CARRIER: "f", Kind.SIDEBAND: "side", Kind.HUM: "hum", Kind.FIXED: "fixed", Kind.OSCILLATOR: "osc",
        Kind.PRODUCT: "mix", Kind.INTERMODULATION: f"im{order}", Kind.HUMP: "hump", Kind.OWN: "own", Kind.THIRD: "f/3",
    }[kind]  # fmt: skip


def limits(v: EmissionVerdict) -> str:
    """One spectrum against one profile, worst line first."""
    power = "" if v.watts is None else f", {v.watts:.3g} W {v.basis}"
    head = element("h3", f"{verdict_word(v.word)} {safe(f'{v.key} against {v.profile}: {v.title}{power}')}")
    rows: Sequence[Sequence[str]] = [[verdict_word(x.word), safe(x.text)] for x in v.lines]
    body = table(("verdict", "what was checked"), rows) if rows else paragraph(v.headline)
    return head + body + bullets(v.notes, "note")
