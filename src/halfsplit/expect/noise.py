"""How far an honest reading may lie from an exact model: read-out, instrument, and the model's own error.

The model's error is a smooth function of frequency (a neglected stray bends a whole stretch of the curve, not
one point), so it is given a correlation over ln f; 201 points of one sweep are not 201 independent readings.
source: the split into white and correlated parts follows Kennedy & O'Hagan 2001, J. R. Stat. Soc. B 63, 425-464
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from halfsplit.reading import What

Real = npt.NDArray[np.float64]

INSTRUMENT_DB = {"analyser": 0.03, "sweeper": 0.08, "meter": 0.15}
MODEL_DB = 0.12
MODEL_DB_PER_DB = 0.03
DEEPEST = 100.0
GAMMA = 0.03
GAMMA_WHITE = 0.008
LENGTH = 0.12


def covariance(what: What, instrument: str, f: Real, value: Real, sigma: Real) -> Real:
    """Covariance of a reading about an exact model of the unit.

    f : (n,) Hz; value, sigma : (n,) as in an Observation
    returns (n, n), dB^2 for S21 and 1 for S11, S22
    """
    distance = np.abs(np.log(f)[:, None] - np.log(f)[None, :]) / LENGTH
    near = np.exp(-0.5 * distance**2) * 0.7 + np.exp(-distance / 3.0) * 0.3
    if what is What.S21:
        down = np.clip(-value, 0.0, DEEPEST)
        model = MODEL_DB + MODEL_DB_PER_DB * down
        white = np.sqrt(sigma**2 + INSTRUMENT_DB[instrument] ** 2 + (0.3 * model) ** 2)
    else:
        model = np.full(len(f), GAMMA)
        white = np.sqrt(sigma**2 + GAMMA_WHITE**2)
    out = model[:, None] * near * model[None, :]
    out[np.diag_indices(len(f))] += white**2
    return np.asarray(out)


def whitener(cov: Real) -> Real:
    """W with W cov W^T = 1, lower triangular. returns (n, n)."""
    return np.asarray(np.linalg.inv(np.linalg.cholesky(cov)))
