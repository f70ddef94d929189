"""What the search compares: grids of sizes, responses as an instrument shows them, wide noise."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import WhatIf
from halfsplit.expect import Setup, View
from halfsplit.expect.bench import DB, gamma_size, leak_of, phased_leak
from halfsplit.expect.noise import whitener, widened
from halfsplit.expect.residual import residual
from halfsplit.fault.hypotheses import Hypothesis
from halfsplit.reading import What

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

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


def screened(setup: Setup, w: WhatIf, h: Hypothesis, s: Real, base: Real) -> Real:
    """Whitened residuals of one hypothesis at sizes s (in prior units), (n, N), by the exact curves."""
    assert h.change is not None
    at = setup.model.resolve(h.change)
    assert at is not None
    sizes = np.exp(h.middle + h.width * s)
    responses: dict[What, Complex | None] = {}
    if all(view.observation.what is What.S21 for view in setup.views):
        responses[What.S21] = w.through(at, sizes)
    else:
        responses[What.S21], responses[What.S11], responses[What.S22] = w.curves(at, sizes)
    values = []
    for view in setup.views:
        response = responses[view.observation.what]
        assert response is not None
        is_through = view.observation.what is What.S21
        value = decibels(setup, view, response, base) if is_through else gamma_size(response)
        values.append(value + base[view.carried_at] @ view.carried.T)
    stacked = np.broadcast_to(np.concatenate(values, axis=1), (len(s), setup.size))
    return residual(setup, stacked, None, None)[0]


def decibels(setup: Setup, view: View, h: Complex, base: Real) -> Real:
    """A through response as the instrument shows it, with leak and offset at the base."""
    leak = leak_of(setup, view, base[None])
    h = h + phased_leak(setup, view, base[None])
    return np.asarray(0.5 * DB * np.log(np.abs(h) ** 2 + leak**2) + view.offset_db * base[view.own[0]])


def wide_white(view: View) -> Real:
    """Whitener of a view under an unlisted discrepancy."""
    o, i = view.observation, view.index
    return whitener(widened(o.what, o.hookup.instrument, o.f[i], view.value, o.sigma[i], view.rough))
