"""Sentences about filters."""

from __future__ import annotations

import math

from halfsplit.filters.records import Family, FamilyFit, FilterFacts, Pass, Served, Suspicion
from halfsplit.parts import Kind
from halfsplit.quantity import Dimension, format_value, hertz


def farad_or_henry(value: float, coil: bool) -> str:
    """A part's value as a bench sheet shows it, three digits."""
    return format_value(value, Dimension.INDUCTANCE if coil else Dimension.CAPACITANCE, 3)


def ripple_words(ripple_db: float) -> str:
    """A ripple with the return loss that belongs to it."""
    return_loss = -10.0 * math.log10(1.0 - 10.0 ** (-ripple_db / 10.0))
    digits = f"{ripple_db:.2g}" if ripple_db < 0.1 else f"{ripple_db:.2f}"
    return f"ripple {digits} dB (return loss {return_loss:.1f} dB)"


def family_text(fit: FamilyFit, passes: Pass) -> str:
    """The family with its figures, and how near."""
    words: list[str] = [fit.family.value]
    if fit.ripple_db is not None:
        words.append(ripple_words(fit.ripple_db))
    name = {Family.BUTTERWORTH: "-3 dB at", Family.HALF_WAVE: "made for", Family.CONSTANT_K: "image cut-off"}
    edge = "width" if passes is Pass.BAND else name.get(fit.family, "edge of the pass band")
    words.append(f"{edge} {hertz(fit.edge)}")
    if fit.hump_to is not None and fit.hump_db is not None:
        side = "above" if passes is Pass.HIGH else "below"
        words.append(f"a hump of {fit.hump_db:.1f} dB {side} {hertz(fit.hump_to)}")
    if fit.stop_db is not None:
        words.append(f"stop band {fit.stop_db:.1f} dB")
    words.append(
        f"values within {100.0 * fit.distance:.1f} % rms" + (" of it" if fit.distance < 0.1 else ", only roughly")
    )
    if fit.left_out:
        words.append(f"without {', '.join(fit.left_out)}")
    return ", ".join(words)


def suspicion_text(found: Suspicion, coil: bool, fit: FamilyFit) -> str:
    """Which value does not fit, and what would."""
    assert found.drawn is not None and found.deviation is not None
    who = " and ".join(found.refs)
    drawn, fits = farad_or_henry(found.drawn, coil), farad_or_henry(found.fits, coil)
    return (
        f"{who}: {drawn} on the drawing does not fit; with {fits} the filter would be {fit.family} "
        f"(the other values within {100.0 * fit.distance:.1f} %). A misprint, a change, or another design."
    )


def uneven_text(refs: tuple[str, ...], value: float, mirror: tuple[str, ...], its: float, coil: bool) -> str:
    """The one pair that breaks the symmetry."""
    a, b = " + ".join(refs), " + ".join(mirror)
    return (
        f"{a} ({farad_or_henry(value, coil)}) and {b} ({farad_or_henry(its, coil)}) differ, every other pair of this "
        "ladder is equal: one of the two may be misprinted; the drawing does not say which."
    )


def headline(facts: FilterFacts) -> str:
    """One line about the filter."""
    words = [facts.topology]
    if facts.nearest is not None:
        words.append(f"nearest to {facts.nearest.text}")
    elif facts.order:
        words.append("none of the classic families: a design of its own")
    low, high = facts.cutoffs
    cut = [hertz(f) for f in (low, high) if f is not None]
    if cut:
        words.append("-3 dB at " + " and ".join(cut))
    return "; ".join(words)


def facts_lines(facts: FilterFacts) -> tuple[str, ...]:
    """A filter as a bench sheet lists it: the headline first, then one line per fact."""
    lines = [f"{facts.name}: {headline(facts)}"]
    lines += [f"also {other.text}" for other in facts.others]
    lines += [f"! {found.text}" for found in facts.suspicions]
    lines += _value_lines(facts)
    lines += [_served_line(served) for served in facts.served]
    lines += [_harmonics_line(served) for served in facts.served]
    lines += [
        f"notch {'-'.join(n.refs)}: {hertz(n.resonance)} by its parts, deepest {n.depth_db:.0f} dB at {hertz(n.f)}"
        for n in facts.notches
    ]
    lines.append(f"all figures between {facts.z0:g} ohm and {facts.z0:g} ohm, no stray, sound joints")
    return (*lines, *facts.assumed, *facts.notes)


def _value_lines(facts: FilterFacts) -> list[str]:
    """Each value against the ideal of the nearest family, in one line."""
    if facts.nearest is None:
        return []
    words = []
    for part in facts.nearest.parts:
        ideal = farad_or_henry(part.ideal, part.kind is Kind.COIL)
        off = "" if part.deviation is None else f" ({100.0 * part.deviation:+.1f} %)"
        words.append(f"{'+'.join(part.refs)} {ideal}{off}")
    return ["ideal values, and how far the drawing is from them: " + ", ".join(words)]


def _served_line(served: Served) -> str:
    return (
        f"{served.band}, {served.low / 1e6:g} to {served.high / 1e6:g} MHz: loss {served.loss_low:.2f} dB at the lower "
        f"edge, {served.loss_high:.2f} dB at the upper, at most {served.loss_most:.2f} dB, ripple "
        f"{served.ripple:.2f} dB; return loss at least {served.return_loss:.1f} dB"
    )


def _harmonics_line(served: Served) -> str:
    each = ", ".join(f"{h.times} x: {h.at_low:.1f} and {h.at_high:.1f} dB" for h in served.harmonics)
    return f"{served.band}, attenuation at multiples of the lower and upper edge: {each}"
