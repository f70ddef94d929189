"""Ladders for thousands of sets of values at once, and the share of them that meets its limits.

Voltage and current are followed from the load to the source, one multiplication for each arm; draws are taken in blocks
that stay in the processor's cache.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.filters.figures import CAPACITOR_Q, COIL_Q
from halfsplit.parts import Kind, Part
from halfsplit.unit import Filter

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

BLOCK = 24_000
"""Draws times frequencies of one block: its arrays of 16 bytes fit a cache of 1 MB two at a time."""
CAPACITOR_TOLERANCE, COIL_TOLERANCE = 0.05, 0.05
"""Where the drawing states none: mica or ceramic of 5 %; coils wound and measured to 5 %. Common practice."""


@dataclass(frozen=True, slots=True)
class Arms:
    """A ladder as arms over its parts.

    steps : (in series, places of its parts, how two are combined: "" one, "across", "with")
    coil, q : (n_part,) whether a coil, and its Q (0: lossless); values : (n_part,) as drawn, F or H; refs : designators
    """

    steps: tuple[tuple[bool, tuple[int, ...], str], ...]
    coil: tuple[bool, ...]
    q: tuple[float, ...]
    values: tuple[float, ...]
    refs: tuple[str, ...]


def arms_of(chosen: Filter) -> Arms:
    """The arms of a ladder of coils and capacitors.

    Q is that of the drawing, else what is assumed where it is silent. raises ValueError for a part without value, or of
    another kind
    """
    parts: list[Part] = []
    steps = []
    for rung in chosen.rungs:
        for part in rung.parts:
            if part.value is None or part.kind is Kind.RESISTOR:
                raise ValueError(f"{part.ref} is no coil or capacitor with a value")
        at = tuple(range(len(parts), len(parts) + len(rung.parts)))
        parts += rung.parts
        steps.append((rung.place == "series", at, rung.combined or ""))
    coil = tuple(p.kind is Kind.COIL for p in parts)
    q = tuple(p.q or (COIL_Q if p.kind is Kind.COIL else CAPACITOR_Q) for p in parts)
    return Arms(tuple(steps), coil, q, tuple(p.value or 0.0 for p in parts), tuple(p.ref for p in parts))


def responses(arms: Arms, values: Real, f: Real, z0: float) -> tuple[Complex, Complex]:
    """S21 and S11 of a ladder between equal resistances for many sets of values.

    values : (D, n_part) F and H; f : (n,) Hz; z0 : ohm
    returns two (D, n)
    """
    w = 2.0 * np.pi * f
    shape = (len(values), len(f))
    v, i = np.ones(shape, complex), np.full(shape, 1.0 / z0, complex)
    for series, at, combined in reversed(arms.steps):
        immittance = [values[:, k, None] * (w * ((1.0 / arms.q[k] if arms.q[k] else 0.0) + 1j)) for k in at]
        if series:
            v += _impedance(arms, at, immittance, combined) * i
        else:
            i += _admittance(arms, at, immittance, combined) * v
    drop = z0 * i
    total = v + drop
    return 2.0 / total, (v - drop) / total


def _impedance(arms: Arms, at: Sequence[int], x: Sequence[Complex], combined: str) -> Complex:
    """Of a series arm. x : impedance of a coil, admittance of a capacitor, for each of its parts."""
    if len(at) == 1:
        return x[0] if arms.coil[at[0]] else 1.0 / x[0]
    z = [one if arms.coil[k] else 1.0 / one for k, one in zip(at, x, strict=True)]
    return z[0] + z[1] if combined == "with" else z[0] * z[1] / (z[0] + z[1])


def _admittance(arms: Arms, at: Sequence[int], x: Sequence[Complex], combined: str) -> Complex:
    """Of a shunt arm."""
    if len(at) == 1:
        return 1.0 / x[0] if arms.coil[at[0]] else x[0]
    y = [1.0 / one if arms.coil[k] else one for k, one in zip(at, x, strict=True)]
    return y[0] * y[1] / (y[0] + y[1]) if combined == "with" else y[0] + y[1]


def tolerances(chosen: Filter) -> Real:
    """Tolerance of every part as a fraction, (n_part,): of the drawing, else what is usual."""
    return np.array([
        p.tolerance if p.tolerance is not None else (COIL_TOLERANCE if p.kind is Kind.COIL else CAPACITOR_TOLERANCE)
        for p in chosen.parts
    ])  # fmt: skip


def draw_values(chosen: Filter, rng: np.random.Generator, draws: int) -> Real:
    """Sets of values within their tolerances, all as likely: (draws, n_part) F and H."""
    middle = np.array([p.value or 0.0 for p in chosen.parts])
    return np.asarray(middle * (1.0 + tolerances(chosen) * rng.uniform(-1.0, 1.0, (draws, len(middle)))))


def in_blocks(arms: Arms, values: Real, f: Real, z0: float) -> tuple[Real, Real]:
    """|S21|^2 and |S11|^2 for many sets of values, (D, n) each, block by block."""
    through, back = np.empty((len(values), len(f))), np.empty((len(values), len(f)))
    size = max(BLOCK // len(f), 1)
    for first in range(0, len(values), size):
        block = slice(first, first + size)
        s21, s11 = responses(arms, values[block], f, z0)
        through[block] = s21.real**2 + s21.imag**2
        back[block] = s11.real**2 + s11.imag**2
    return through, back
