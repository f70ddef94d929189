"""Where a line reflects: the sweep turned into time by the chirp transform of scipy, with a stated window."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.signal import czt, find_peaks
from scipy.signal.windows import kaiser

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

BETA = 6.0
WINDOW = "Kaiser window, beta 6 (side lobes 44 dB down)"
SIDE_LOBES = 10.0 ** (-44.0 / 20.0)
CELL = 1.5
"""Width of an echo at half its height, in units of one over the span, with this window."""
OVER = 16
"""Points in time for each cell of one over the span."""


def even(f: Real, g: Complex) -> tuple[Real, Complex]:
    """The sweep at evenly spaced frequencies: as it is where it is even already, interpolated in between otherwise."""
    grid = np.linspace(f[0], f[-1], len(f))
    if np.allclose(f, grid, rtol=0, atol=1e-3 * (f[1] - f[0])):
        return f, g
    finest = int(np.ceil((f[-1] - f[0]) / np.diff(f).min())) + 1
    grid = np.linspace(f[0], f[-1], min(max(finest, len(f)), 4 * len(f)))
    return grid, np.interp(grid, f, g.real) + 1j * np.interp(grid, f, g.imag)


def in_time(f: Real, g: Complex, longest: float | None = None) -> tuple[Real, Complex]:
    """Response in time of a reflection sweep.

    f : (n,) Hz rising; g : (n,); longest : s, how far to go (at most one over the spacing)
    returns t (m,) s and the windowed response (m,): an ideal echo of reflection r at t has the value r there
    """
    f, g = even(f, g)
    step = (f[-1] - f[0]) / (len(f) - 1)
    end = min(longest or np.inf, 1.0 / step)
    cell = 1.0 / (f[-1] - f[0])
    m = max(int(np.ceil(end / cell * OVER)), 32)
    weight = kaiser(len(f), BETA)
    t = np.arange(m) * end / m
    turn = np.exp(2j * np.pi * step * end / m)
    spectrum = czt(g * weight, m, w=turn, a=1.0)
    return t, np.asarray(spectrum * np.exp(2j * np.pi * f[0] * t) / weight.sum())


def peaks(t: Real, h: Complex, cell: float, least: float, most: int = 8) -> list[tuple[float, complex]]:
    """Echoes: (time in s, complex height), the highest first. cell : s, one over the span; least : smallest height"""
    size = np.abs(h)
    apart = max(int(CELL * cell / (t[1] - t[0])), 1)
    at, _ = find_peaks(np.concatenate([[0.0], size, [0.0]]), height=least, distance=apart)
    out = []
    for k in (at - 1)[np.argsort(-size[at - 1])][:most]:
        shift = _vertex(size, int(k))
        out.append((float(t[0] + (k + shift) * (t[1] - t[0])), complex(h[k])))
    return out


def _vertex(size: Real, k: int) -> float:
    """Where a parabola through three neighbours peaks, in steps from the middle one."""
    if k in (0, len(size) - 1):
        return 0.0
    a, b, c = size[k - 1 : k + 2]
    bend = a - 2.0 * b + c
    return float(0.5 * (a - c) / bend) if bend < 0 else 0.0
