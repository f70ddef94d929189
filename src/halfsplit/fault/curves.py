"""What the search compares: grids of sizes, responses as an instrument shows them, wide noise."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from halfsplit.expect import Setup, View
from halfsplit.expect.bench import DB, leak_of
from halfsplit.expect.noise import whitener, widened
from halfsplit.fault.hypotheses import Hypothesis

Real = npt.NDArray[np.float64]

GRID = np.linspace(-2.5, 2.5, 11)


def grid_of(h: Hypothesis) -> Real:
    """Sizes to try, in prior units; a single 0 for a hypothesis without a size."""
    if not h.sized:
        return np.zeros(1)
    low, high = (h.low - h.middle) / h.width, (h.high - h.middle) / h.width
    if np.isfinite(low):
        return np.linspace(low, max(low + 1.0, 2.5), len(GRID))
    if np.isfinite(high):
        return np.linspace(min(high - 1.0, -2.5), high, len(GRID))
    return GRID


def decibels(setup: Setup, view: View, h: npt.NDArray[np.complex128], base: Real) -> Real:
    """A through response as the instrument shows it, with leak and offset at the base."""
    leak = leak_of(setup, view, base[None])
    return np.asarray(0.5 * DB * np.log(np.abs(h) ** 2 + leak**2) + view.offset_db * base[view.own[0]])


def wide_white(view: View) -> Real:
    """Whitener of a view under an unlisted discrepancy."""
    o, i = view.observation, view.index
    return whitener(widened(o.what, o.hookup.instrument, o.f[i], view.value, o.sigma[i], view.rough))
