"""The level test: more attenuation in front of the analyser tells its own products from the lines of the unit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from halfsplit.emission.records import Kind, Named, NamedSpectrum, Spectrum
from halfsplit.emission.words import LEVEL_TEST, MEANS

LEAST_DB = 3.0
"""Two attenuations must differ by this much."""
LEVEL_SIGMA = 1.5
"""dB, 1 sigma of how one line repeats from one sweep to the next; common practice."""
PRIOR_OWN = 0.15
"""Chance that a harmonic or product on a display is the analyser's own, before the test; common practice."""


def level_tested(found: Sequence[NamedSpectrum]) -> tuple[NamedSpectrum, ...]:
    """The spectra with those lines renamed that fell as an analyser's own product of their order does.

    Referred to the unit, its own lines keep their level when A dB are put in front of the analyser, and a product of
    order n of the analyser falls by (n - 1) A. source: power series of a weakly nonlinear stage; common practice
    """
    out = list(found)
    for i, few in enumerate(found):
        for j, more in enumerate(found):
            step = more.spectrum.in_front - few.spectrum.in_front
            if i != j and step >= LEAST_DB and same_setting(few.spectrum, more.spectrum):
                out[i] = tested(out[i], more, step)
                out[j] = marked(out[j], out[i])
                out[i], out[j] = (
                    replace(x, advice=tuple(a for a in x.advice if a != LEVEL_TEST)) for x in (out[i], out[j])
                )
    return tuple(out)


def same_setting(a: Spectrum, b: Spectrum) -> bool:
    """Whether two spectra are of one band and point with the carrier at one frequency."""
    near = 4.0 * math.hypot(a.axis * a.carrier, a.lines[a.carriers[0]].sigma_f, b.lines[b.carriers[0]].sigma_f)
    return a.band == b.band and a.point == b.point and abs(a.carrier - b.carrier) < near


def order_of(n: Named) -> int:
    """Order of the product of the analyser that would fall on a line; 0 where none does."""
    return n.name.order if n.name.kind in (Kind.HARMONIC, Kind.INTERMODULATION) and n.name.order > 1 else 0


def tested(few: NamedSpectrum, more: NamedSpectrum, step: float) -> NamedSpectrum:
    """The spectrum with less attenuation, its lines held against the one with more."""
    lines = []
    for n in few.lines:
        order = order_of(n)
        twin = next((m for m in more.lines if m.name.text == n.name.text or abs(m.line.f - n.line.f) < 1.0), None)
        level = more.spectrum.floor_dbc if twin is None else twin.line.dbc
        if not order or math.isnan(level):
            lines.append(n)
            continue
        lines.append(judged(n, n.line.dbc - level, step, order, bound=twin is None or twin.line.at_most))
    return replace(few, lines=tuple(lines))


def judged(n: Named, fell: float, step: float, order: int, *, bound: bool) -> Named:
    """A line that fell by so many dB. bound : it vanished, so it fell by that much or more"""
    own = (order - 1) * step
    sigma = LEVEL_SIGMA * math.sqrt(2.0)
    if bound:
        like_unit, like_own = tail(fell / sigma), tail((fell - own) / sigma)
    else:
        like_unit, like_own = (math.exp(-0.5 * min((fell - x) / sigma, 30.0) ** 2) for x in (0.0, own))
    p = PRIOR_OWN * like_own / max(PRIOR_OWN * like_own + (1.0 - PRIOR_OWN) * like_unit, 1e-300)
    told = f"fell {'at least ' if bound else ''}{fell:.1f} dB with {step:g} dB more in front of the analyser"
    if p < 0.5:
        return replace(n, reason=f"{n.reason}; {told}: it is the unit's", probability=n.probability * (1.0 - p))
    name = replace(n.name, kind=Kind.OWN, text=f"analyser's own {n.name.text}")
    reason = f"{told}; its own product of order {order} falls {own:g} dB, a line of the unit stays"
    return replace(n, name=name, probability=p, reason=reason, means=MEANS[Kind.OWN], also=((n.name, 1.0 - p),))


def tail(x: float) -> float:
    """Chance of a standard normal above x."""
    return 0.5 * math.erfc(x / math.sqrt(2.0))


def marked(more: NamedSpectrum, few: NamedSpectrum) -> NamedSpectrum:
    """The spectrum with more attenuation: where the other one showed the analyser's, the unit's is there or lower."""
    own = {n.also[0][0].text for n in few.lines if n.name.kind is Kind.OWN and n.also}
    lines = [
        replace(n, line=replace(n.line, at_most=True), reason=f"{n.reason}; the rest may still be the analyser's own")
        if n.name.text in own else n
        for n in more.lines
    ]  # fmt: skip
    return replace(more, lines=tuple(lines))
