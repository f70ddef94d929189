"""Notches of a piece of coax that hangs across a line: quarter-wave frequencies from a through sweep."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.signal import find_peaks

from halfsplit.cables.records import End
from halfsplit.errors import Mistake, ReadingError

Real = npt.NDArray[np.float64]

DEEP = 6.0
"""dB below its shoulders from which a dip is a notch of a hanging line."""
CLOSE = 0.04
"""How far (fraction) notches of one line may lie from their odd or whole multiples: ends and loss move them."""


def notches(f: Real, db: Real) -> Real:
    """Frequencies of the notches, Hz rising: vertex of a parabola through the transmission in volts at each dip."""
    at, _ = find_peaks(-db, prominence=DEEP)
    out = []
    for k in at.tolist():
        size = 10.0 ** (db[k - 1 : k + 2] / 20.0)
        depth = np.polyfit(f[k - 1 : k + 2] - f[k], size**2, 2)
        out.append(float(f[k] - 0.5 * depth[1] / depth[0]) if depth[0] > 0 else float(f[k]))
    return np.array(out)


def stub_of(name: str, f: Real, db: Real, told: End | None) -> tuple[tuple[End, float, float], ...]:
    """Quarter-wave frequency of a piece that hangs across the line, for each end that fits its notches.

    returns (end, Hz where it is a quarter wave long, relative misfit), best first
    raises ReadingError where no notch shows
    """
    found = notches(f, db)
    if not len(found):
        raise ReadingError(
            Mistake(
                name,
                f"no dip of {DEEP:g} dB or more from {f[0] / 1e6:g} to {f[-1] / 1e6:g} MHz",
                f"a sweep that reaches its quarter wave: {f[-1] / 1e6:g} MHz is one for "
                f"{75.0 / (f[-1] / 1e6):.2f} m of electrical length; sweep higher for a shorter piece",
            )
        )
    out = []
    for end in (End.OPEN, End.SHORT) if told is None else (told,):
        best = min((_fitted(found, end, first) for first in range(1, 8)), key=lambda x: (x[2], -x[1]))
        if best[2] < CLOSE or told is not None:
            out.append(best)
    if not out:
        words = ", ".join(f"{x / 1e6:.2f}" for x in found)
        raise ReadingError(
            Mistake(
                name, f"notches at {words} MHz", "odd or whole multiples of one frequency, as one piece of coax has"
            )
        )
    return tuple(sorted(out, key=lambda x: x[2]))


def _fitted(found: Real, end: End, first: int) -> tuple[End, float, float]:
    """Notches as multiples of a quarter wave, odd for an open end, even for a short; `first` is the lowest."""
    order = 2 * (first + np.arange(len(found))) - (1 if end is End.OPEN else 0)
    quarter = float(np.exp(np.mean(np.log(found / order))))
    misfit = float(np.sqrt(np.mean((found / order / quarter - 1.0) ** 2)))
    return end, quarter, misfit + 1e-3 * (first - 1)
