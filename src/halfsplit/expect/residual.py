"""What a model leaves unexplained, in units of the readings' noise."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from halfsplit.expect.bench import Setup, raised
from halfsplit.reading import What

Real = npt.NDArray[np.float64]

TAIL = 2.5
LN2PI = float(np.log(2.0 * np.pi))


def residual(
    setup: Setup, values: Real, by_theta: Real | None, by_size: Real | None, floor: float = 0.0
) -> tuple[Real, Real | None, Real | None]:
    """Whitened residual (K, N) of a setup, and its slopes (minus the whitened slopes of the values).

    A reading at the instrument's floor only says "at most": the model may lie below it for free.
    """
    rs, js, ss = [], [], []
    first = 0
    for view in setup.views:
        part = slice(first, first + view.size)
        first += view.size
        value = raised(view.value, floor) if view.observation.what is What.S21 else view.value
        gap = value - values[:, part]
        free = view.at_least & (gap > 0)
        gap = np.where(free, 0.0, gap)
        r, bend = tempered(gap @ view.white.T)
        rs.append(r)
        if by_theta is not None and by_size is not None:
            slope = np.where(free[:, :, None], 0.0, by_theta[:, part])
            js.append(-np.matmul(view.white, slope) * bend[:, :, None])
            ss.append(-(np.where(free, 0.0, by_size[:, part]) @ view.white.T) * bend)
    if not js:
        return np.concatenate(rs, axis=1), None, None
    return np.concatenate(rs, axis=1), np.concatenate(js, axis=1), np.concatenate(ss, axis=1)


def tempered(r: Real) -> tuple[Real, Real]:
    """Whitened residuals with the tails of a reading that now and then misses: half the square of what is
    returned is quadratic for small r and linear beyond TAIL sigma.

    returns (tempered residual, its slope by r), both of the shape of r
    source: pseudo-Huber loss, Charbonnier et al. 1997, IEEE Trans. Image Proc. 6, 298-311
    """
    root = np.sqrt(1.0 + (r / TAIL) ** 2)
    bend = np.sqrt(2.0 / (1.0 + root))
    return r * bend, 1.0 / (bend * root)


def log_det_noise(setups: Sequence[Setup]) -> float:
    """-1/2 ln det(2 pi cov) of the readings: needed where hypotheses differ in their noise."""
    return float(sum(np.log(np.diag(v.white)).sum() - 0.5 * LN2PI * v.size for s in setups for v in s.views))
