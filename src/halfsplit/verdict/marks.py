"""Figures of merit of a response: the same code for the reading and for every drawn sound unit."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Real = npt.NDArray[np.float64]

NOTCH_DEPTH = 8.0


def cut_off(f: Real, db: Real, start: float, down: float = 3.0) -> float:
    """First frequency above `start` where the response crosses `down` dB below 0 dB; nan where it does not.

    f : (n,) Hz; db : (n,); start : Hz, where the response must still be above
    """
    for i in np.flatnonzero(f >= start):
        if i > 0 and db[i] <= -down < db[i - 1]:
            share = (db[i - 1] + down) / (db[i - 1] - db[i])
            return float(f[i - 1] + share * (f[i] - f[i - 1]))
    return float("nan")


def notch(f: Real, db: Real, start: float) -> tuple[float, float]:
    """Frequency and level of the first notch above `start`: a minimum that stands NOTCH_DEPTH dB below what follows.

    The first, not the deepest: far down in the stop band noise has deeper minima than any trap.
    returns (nan, nan) where there is none
    """
    for i in range(1, len(f) - 1):
        dip = db[i] <= db[i - 1] and db[i] < db[i + 1]
        if f[i] > start and dip and db[i + 1 :].max() > db[i] + NOTCH_DEPTH:
            return float(f[i]), float(db[i])
    return float("nan"), float("nan")


def at_harmonic(f: Real, db: Real, low: float, high: float, order: int) -> float:
    """Weakest attenuation within the n-th multiple of a band, as level in dB; nan where the sweep does not cover it."""
    first, last = low * order, high * order
    if f[0] > first or f[-1] < last:
        return float("nan")
    inside = db[(f >= first) & (f <= last)]
    edges = np.interp([first, last], f, db)
    return float(max(edges.max(), inside.max() if len(inside) else -np.inf))
