"""Names for the lines of all spectra of a unit, taken together: what each is, how sure, and what else it could be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from halfsplit.emission.axis import Sheet, fitted
from halfsplit.emission.known import SWITCHER, candidates
from halfsplit.emission.records import Kind, Line, Name, Named, NamedSpectrum, Spectrum
from halfsplit.emission.sources import PRIOR, Source, View, explains, gain, searched, spread_of
from halfsplit.emission.words import advice_for, meaning, reason
from halfsplit.unit import Plan

SHOWN = 0.03
"""Other names of less than this are not mentioned."""
HIGHEST = 200.0


@dataclass(frozen=True, slots=True)
class Option:
    """A name that a line may have, with its weight against "no name"."""

    name: Name
    log_weight: float


def name_lines(spectra: Sequence[Spectrum], plan: Plan | None) -> tuple[NamedSpectrum, ...]:
    """Name every line of every spectrum; all spectra are of one unit, and are explained together.

    plan : the frequency plan of the unit, None where the drawing has none
    """
    sheets = [fitted(s, candidates(s, plan)) for s in spectra]
    sources, views = searched(sheets)
    moved = len(
        {round(s.carrier / max(10.0 * float(x.sigma.max()), 1.0)) for s, x in zip(spectra, sheets, strict=True)}
    )
    out = []
    for v in views:
        options = [options_of(v, views, sources, i, plan) for i in range(len(v.f))]
        settled(options)
        lines = tuple(named(v, i, options[i], moved) for i in range(len(v.f)))
        found = NamedSpectrum(v.sheet.spectrum, lines, v.sheet.scale, v.sheet.scale_sigma)
        out.append(replace(found, advice=advice_for(found, moved)))
    return tuple(out)


def options_of(v: View, views: Sequence[View], sources: Sequence[Source], i: int, plan: Plan | None) -> list[Option]:
    """Every name that a line may have."""
    sheet = v.sheet
    if not sheet.free[i]:
        return [Option(of_its_own(sheet, i), 0.0)]
    out = [
        Option(Name(c.kind, c.text, at(sheet, c.weights, c.step), c.order, c.step), float(sheet.log_known[i, j]))
        for j, c in enumerate(sheet.known)
        if np.isfinite(sheet.log_known[i, j])
    ]
    for source in sources:
        found = explains(v, source)[i]
        j = int(found.argmax())
        if found[j] > -12.0:
            times, k, _ = source.lines()[j]
            out.append(Option(source_name(v, source, times, k, plan), float(found[j])))
    return out + lonely(v, views, i, plan)


def at(sheet: Sheet, weights: Sequence[float], step: float) -> float:
    """Where a candidate should stand on the analyser's own axis, Hz."""
    return float(np.dot(weights, sheet.carriers)) + (1.0 + sheet.scale) * step


def of_its_own(sheet: Sheet, i: int) -> Name:
    """The name of what wants no guessing: a carrier or a broad hump."""
    line = sheet.spectrum.lines[i]
    if i in sheet.spectrum.carriers:
        two = len(sheet.spectrum.carriers) == 2
        text = f"tone {sheet.spectrum.carriers.index(i) + 1}" if two else "carrier"
        return Name(Kind.CARRIER, text, line.f)
    wide = line.wide or 0.0
    beside = any(abs(line.f - f) < wide / 2.0 for f in sheet.carriers)
    return Name(Kind.HUMP, f"noise {'about the carrier' if beside else 'hump'}, {wide / 1e3:.4g} kHz wide", line.f)


def source_name(v: View, source: Source, times: float, k: float, plan: Plan | None) -> Name:
    """One line of a source in words."""
    f = (times * v.carrier + k * source.hz) * (1.0 + v.sheet.scale)
    n = "" if times == 1.0 else f"{times:g} x "
    if source.what == "fixed" or times == 0.0:
        text = (
            f"fixed line at {hertz(source.hz)}"
            if k == 1.0
            else f"harmonic {k:g} of the fixed line at {hertz(source.hz)}"
        )
        return Name(Kind.FIXED, text, f, int(k), source.hz)
    if source.what == "moving":
        return Name(Kind.PRODUCT, f"mixing product, {source.slope:g} x carrier {signed(source.hz)}", f, 0, source.hz)
    text = f"sideband, {n}carrier {signed(k * source.hz)}"
    ripple = supply_of(source.hz, plan)
    if ripple:
        return Name(Kind.HUM, f"{text} ({ripple})", f, int(abs(k)), source.hz)
    return Name(Kind.SIDEBAND, text, f, int(abs(k)), source.hz)


def supply_of(hz: float, plan: Plan | None) -> str:
    """The supply whose switching frequency a step comes near, or nothing."""
    for name, ripple in () if plan is None else plan.ripple:
        if abs(hz / ripple - 1.0) < 3.0 * SWITCHER:
            return f"ripple of {name}"
    return ""


def lonely(v: View, views: Sequence[View], i: int, plan: Plan | None) -> list[Option]:
    """What a line may be that nothing known explains: a fixed line, one side of a pair, or something that moves.

    The weights add up to that of "no name"; a partner that should show and does not speaks against.
    """
    f = float(v.f[i])
    tried = [(Source("fixed", f), PRIOR["fixed"])]
    for n, share in ((1.0, 0.8), (2.0, 0.1), (3.0, 0.1)):
        step = abs(f - n * v.carrier)
        if step > 5.0 * float(spread_of(v, n)[i]):
            tried.append((Source("step", step), share * PRIOR["step"]))
    log = []
    for source, prior in tried:
        alone = explains(v, source)[i].max() - v.log_any[i]
        rest = gain(views, source, 1.0) - float(np.logaddexp(0.0, alone))
        base = float(np.log(PRIOR[source.what] * np.sqrt(2.0 * np.pi) / max(x.sheet.width for x in views)))
        log.append(float(np.log(prior)) + min(rest - base, 3.0))
    total = float(np.logaddexp.reduce(log))
    out = []
    for (source, _), x in zip(tried, log, strict=True):
        times, k, _ = source.lines()[int(explains(v, source)[i].argmax())]
        out.append(Option(source_name(v, source, times, k, plan), min(x, x - total)))
    return out


def settled(options: list[list[Option]]) -> None:
    """A name that several lines want goes to the one that it fits best; the others lose it."""
    wanted: dict[str, list[tuple[float, int]]] = {}
    for i, several in enumerate(options):
        if several and len(several) > 1:
            top = max(several, key=lambda o: o.log_weight)
            wanted.setdefault(top.name.text, []).append((top.log_weight, i))
    for text, claims in wanted.items():
        for _, i in sorted(claims)[:-1]:
            options[i] = [o for o in options[i] if o.name.text != text] or options[i]


def named(v: View, i: int, options: Sequence[Option], carriers: int) -> Named:
    """A line with its likeliest name, how sure that is, and what else it could be."""
    best: dict[str, tuple[Name, float]] = {}
    for o in options:
        old = best.get(o.name.text)
        weight = o.log_weight if old is None else float(np.logaddexp(old[1], o.log_weight))
        best[o.name.text] = (o.name if old is None else old[0], weight)
    names = sorted(best.values(), key=lambda pair: -pair[1])
    total = float(np.logaddexp.reduce([w for _, w in names]))
    chances = [float(np.exp(w - total)) for _, w in names]
    line: Line = v.sheet.spectrum.lines[i]
    also = tuple((n, p) for (n, _), p in zip(names[1:4], chances[1:4], strict=True) if p >= SHOWN)
    name = names[0][0]
    return Named(line, name, chances[0], also, reason(line, name, v, carriers), meaning(name))


def hertz(f: float) -> str:
    """A frequency in words, as finely as a spectrum is read."""
    return f"{f / 1e6:.6g} MHz" if abs(f) >= 1e6 else f"{f / 1e3:.5g} kHz" if abs(f) >= 1e3 else f"{f:.4g} Hz"


def signed(f: float) -> str:
    """A step with its sign."""
    return f"{'+' if f >= 0 else '-'} {hertz(abs(f))}"
