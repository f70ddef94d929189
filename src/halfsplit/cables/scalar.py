"""Coax by magnitude alone: loss as a law of frequency, and the length where a ripple shows it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.signal import czt
from scipy.signal.windows import kaiser

from halfsplit.cables.echoes import BETA, OVER, even
from halfsplit.cables.line import ROUND, alike
from halfsplit.cables.records import Figure

Real = npt.NDArray[np.float64]

CLEAR = 8.0
"""A ripple counts where it stands so many times above the middle of the spectrum of what is left."""
LEAST_RIPPLES = 3.0


def loss_law(f: Real, db: Real) -> tuple[tuple[float, float, float], ...]:
    """Least squares of k1 sqrt(f) + k2 f over the sweep. db : (n,) one-way loss. returns (Hz, dB, 1 sigma) rows"""
    mhz = f / 1e6
    design = np.stack([np.sqrt(mhz), mhz], axis=1)
    k = np.linalg.lstsq(design, db, rcond=None)[0]
    left = db - design @ k
    cov = np.linalg.inv(design.T @ design) * float(np.var(left)) * alike(left + 0j)
    rows = []
    inside = [x * 1e6 for x in ROUND if f[0] <= x * 1e6 <= f[-1]]
    for hz in inside if len(inside) > 1 else [float(f[0]), *inside, float(f[-1])]:
        at = np.array([np.sqrt(hz / 1e6), hz / 1e6])
        rows.append((hz, float(at @ k), float(np.sqrt(at @ cov @ at))))
    return tuple(rows)


def ripple_delay(f: Real, db: Real) -> Figure | None:
    """One-way delay in s from the ripple that two small reflections make, None where none stands out."""
    f, level = even(f, db + 0j)
    mhz = f / 1e6
    design = np.stack([np.ones(len(f)), np.sqrt(mhz), mhz], axis=1)
    left = level.real - design @ np.linalg.lstsq(design, level.real, rcond=None)[0]
    span = float(f[-1] - f[0])
    end = 0.5 * (len(f) - 1) / span
    m = int(np.ceil(end * span * OVER))
    size = np.abs(czt(left * kaiser(len(f), BETA), m, w=np.exp(-2j * np.pi * (span / (len(f) - 1)) * end / m)))
    first = int(LEAST_RIPPLES * OVER)
    if m <= first + 2 or not size.any():
        return None
    top = first + int(np.argmax(size[first:]))
    if size[top] < CLEAR * float(np.median(size[first:])):
        return None
    return Figure(0.5 * top * end / m, 0.5 * 0.2 / span)
