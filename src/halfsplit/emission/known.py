"""What may stand in a spectrum by what is known of the unit: sums of multiples of the carriers and a step.

How often each shows, and how strong, are common practice of the bench in round figures, to a factor of 3 at best; they
only weigh where frequencies leave a choice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from halfsplit.emission.records import Kind, Spectrum
from halfsplit.unit import Plan

HIGHEST_HARMONIC = 12
MIXER_ORDER = 8
CRYSTAL = 3e-5
"""Relative uncertainty (1 sigma) of a crystal oscillator that the drawing names: age, trimmer, temperature."""
FILTER = 3e-4
"""Of an intermediate frequency: the drawing names the filter, the carrier sits on its slope."""
SWITCHER = 0.05
"""Of the switching frequency of a supply."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A name with its place: sum of weights times carriers, plus step (Hz, known to step_rel).

    presence : chance that it shows at all; dbc, dbc_sigma : how strong it usually is
    """

    kind: Kind
    text: str
    weights: tuple[float, ...]
    step: float
    presence: float
    dbc: float
    dbc_sigma: float = 18.0
    step_rel: float = 0.0
    order: int = 0


def candidates(s: Spectrum, plan: Plan | None) -> tuple[Candidate, ...]:
    """All names that can be thought of before the lines are looked at; of two at one place the likelier."""
    best: dict[tuple[object, ...], Candidate] = {}
    for c in _all(s, plan):
        place = (*(round(w, 6) for w in c.weights), round(c.step, 3))
        if place not in best or c.presence > best[place].presence:
            best[place] = c
    return tuple(best.values())


def _all(s: Spectrum, plan: Plan | None) -> Iterator[Candidate]:
    two = len(s.carriers) == 2
    yield from (_tones() if two else _multiples())
    one: tuple[float, ...] = (0.5, 0.5) if two else (1.0,)
    none = tuple(0.0 for _ in one)
    yield Candidate(Kind.OWN, "zero line of the analyser", none, 0.0, 0.6, -20.0, 25.0)
    yield from _hum(s, plan, one)
    if plan is not None:
        yield from _oscillators(plan, one, none)
        yield from _mixer(s, plan, one)


def _multiples() -> Iterator[Candidate]:
    """Harmonics, half-harmonics and thirds of one carrier."""
    for n in range(2, HIGHEST_HARMONIC + 1):
        usual = -42.0 - 5.0 * (n - 2)
        yield Candidate(Kind.HARMONIC, f"harmonic {n}", (float(n),), 0.0, 0.7 * 0.9 ** (n - 2), usual, order=n)
    for k in range(8):
        chance = 0.05 if k < 2 else 0.05 * 0.75 ** (k - 1)
        text = f"half-harmonic {2 * k + 1}/2"
        yield Candidate(Kind.HALF, text, (k + 0.5,), 0.0, chance, -42.0 - 5.0 * k, order=2 * k + 1)
    for k in (1, 2, 4, 5, 7, 8):
        yield Candidate(Kind.THIRD, f"sub-harmonic {k}/3", (k / 3.0,), 0.0, 0.003, -45.0, order=k)


def _tones() -> Iterator[Candidate]:
    """Products of two tones: of odd order beside them, and of every order about their harmonics."""
    for total in (1, 2, 3, 4, 5):
        for m in range(-6, 13):
            n = total - m
            order = abs(m) + abs(n)
            if order < 2 or order > 11 or abs(n) > 12:
                continue
            beside = total == 1
            chance = (0.85 if beside else 0.35) * 0.85 ** (order - total)
            usual = (-30.0 if beside else -45.0 - 5 * total) - 4.0 * (order - total)
            text = f"{m} f1 {'+' if n >= 0 else '-'} {abs(n)} f2, order {order}"
            kind = Kind.INTERMODULATION
            if not (m and n):
                kind, text = Kind.HARMONIC, f"harmonic {order} of {'f1' if m else 'f2'}"
            yield Candidate(kind, text, (float(m), float(n)), 0.0, chance, usual, order=order)
    for k in (0, 1):
        yield Candidate(Kind.HALF, f"half-harmonic {2 * k + 1}/2", (k / 2 + 0.25,) * 2, 0.0, 0.04, -45.0)


def _hum(s: Spectrum, plan: Plan | None, one: tuple[float, ...]) -> Iterator[Candidate]:
    """Sidebands at multiples of the mains, where the analyser can part them from the carrier."""
    known = None if plan is None else plan.mains
    if min(line.sigma_f for line in s.lines) > 12.0:
        return
    for mains in (50.0, 60.0) if known is None else (known,):
        for k in range(1, 13):
            chance = (0.35 if k % 2 == 0 or k == 1 else 0.12) * 0.85**k
            for sign in (1, -1):
                text = f"hum, carrier {'+' if sign > 0 else '-'} {k} x {mains:g} Hz"
                yield Candidate(Kind.HUM, text, one, sign * k * mains, chance, -55.0, 14.0, 3e-3, order=k)


def _oscillators(plan: Plan, one: tuple[float, ...], none: tuple[float, ...]) -> Iterator[Candidate]:
    """Fixed oscillators, clocks and intermediate frequencies that leak, and supplies that ripple on the carrier."""
    for name, hz in plan.oscillators:
        for k in range(1, 16):
            text = name if k == 1 else f"{name}, harmonic {k}"
            yield Candidate(Kind.OSCILLATOR, text, none, k * hz, 0.2 * 0.85 ** (k - 1), -58.0, 15.0, CRYSTAL, k)
        for sign in (1, -1):
            text = f"carrier {'+' if sign > 0 else '-'} {name}"
            yield Candidate(Kind.SIDEBAND, text, one, sign * hz, 0.05, -58.0, 15.0, CRYSTAL)
    for i, hz in enumerate(plan.intermediate, 1):
        name = "intermediate frequency" if len(plan.intermediate) == 1 else f"intermediate frequency {i}"
        for k in range(1, 5):
            text = name if k == 1 else f"{name}, harmonic {k}"
            yield Candidate(Kind.OSCILLATOR, text, none, k * hz, 0.15 * 0.6 ** (k - 1), -58.0, 15.0, FILTER, k)
    for name, hz in plan.ripple:
        for k in range(1, 6):
            for sign in (1, -1):
                text = f"ripple of {name}, carrier {'+' if sign > 0 else '-'} {k if k > 1 else ''}".rstrip() + " step"
                yield Candidate(Kind.HUM, text, one, sign * k * hz, 0.25 * 0.6 ** (k - 1), -55.0, 14.0, SWITCHER, k)


def _mixer(s: Spectrum, plan: Plan, one: tuple[float, ...]) -> Iterator[Candidate]:
    """Products m LO +- n IF of the last mixer. LO = carrier + IF (above) or the distance between them (below)."""
    if not plan.intermediate:
        return
    hz, sides = plan.intermediate[-1], plan.sides(s.band)
    for side in sides:
        weight, step = (1.0, hz) if side == "above" else (1.0, -hz)
        if side == "below" and s.carrier < hz:
            weight, step = -1.0, hz
        for m in range(MIXER_ORDER):
            for n in range(-MIXER_ORDER, MIXER_ORDER + 1):
                order = m + abs(n)
                if not 1 <= order <= MIXER_ORDER or m == 0:
                    continue
                a, b = m * weight, m * step + n * hz
                if a * s.carrier + b < 0:
                    a, b = -a, -b
                if abs(b) < 1.0:
                    continue
                usual = order == 1 or (m == 1 and abs(n) == 1)
                chance = (0.25 if usual else 0.16 * 0.72 ** (order - 2)) / len(sides)
                w = tuple(a * x for x in one)
                kind = Kind.OSCILLATOR if order == 1 else Kind.PRODUCT
                yield Candidate(kind, mixer_text(m, n), w, b, chance, -58.0, 14.0, FILTER, order)


def mixer_text(m: int, n: int) -> str:
    """A mixing product in words."""
    lo = "LO" if m == 1 else f"{m} LO"
    if n == 0:
        return f"local oscillator{'' if m == 1 else f', harmonic {m}'}"
    return f"{lo} {'+' if n > 0 else '-'} {'' if abs(n) == 1 else f'{abs(n)} '}IF"
