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
FLOOR_DB = {"analyser": -90.0, "sweeper": -80.0, "meter": -60.0}
MODEL_DB = 0.07
MODEL_DB_PER_DB = 0.02
DEEPEST = 100.0
GAMMA = 0.018
GAMMA_WHITE = 0.006
MOST_SNEAKED = 12.0
LENGTH = 0.15
LONG = 0.8
REPEATS = 0.95
"""Share of the variance of the model's error that is the same in the next reading of the same points of a unit."""
UNLISTED_DB = 2.0
UNLISTED_DB_PER_DB = 0.12
UNLISTED_GAMMA = 0.2
UNLISTED_LENGTH = 0.25


def covariance(
    what: What, instrument: str, f: Real, value: Real, sigma: Real, rough: Real | float = 0.0,
    carried: Real | None = None,
) -> Real:  # fmt: skip
    """Covariance of a reading about an exact model of the unit.

    f : (n,) Hz; value, sigma : (n,) as in an Observation; rough : (n,) point-to-point noise seen in the reading.
    The read-out error `sigma` is mostly shared by neighbours: a curve that moves less than a step between two
    points is rounded the same way at both.
    carried : (n, m) from `repeating`: that part of the model's error is a nuisance of its own and left out here
    returns (n, n), dB^2 for S21 and 1 for S11, S22
    """
    distance = np.abs(np.log(f)[:, None] - np.log(f)[None, :])
    near = 0.5 * np.exp(-0.5 * (distance / LENGTH) ** 2) + 0.5 * np.exp(-0.5 * (distance / LONG) ** 2)
    if what is What.S21:
        down = np.clip(-value, 0.0, DEEPEST)
        model = MODEL_DB + MODEL_DB_PER_DB * down
        floor = np.minimum(5.6 * 10.0 ** ((FLOOR_DB[instrument] - value) / 20.0), 8.0)
        white = np.sqrt(rough**2 + INSTRUMENT_DB[instrument] ** 2 + (0.3 * model) ** 2 + floor**2)
    else:
        model = np.full(len(f), GAMMA)
        white = np.sqrt(rough**2 + GAMMA_WHITE**2)
    if carried is None:
        smooth = np.hypot(model, sigma)
        out = smooth[:, None] * near * smooth[None, :]
    else:
        out = (np.outer(model, model) + np.outer(sigma, sigma)) * near - carried @ carried.T
    out[np.diag_indices(len(f))] += white**2 + 0.25 * sigma**2
    return np.asarray(out)


def repeating(what: What, f: Real, value: Real, grid: Real) -> Real:
    """What the model's error shares with that of another reading of the same points: it comes back with the unit.

    f, value : (n,) as in an Observation; grid : (m,) Hz, the same for all readings that share it
    returns (n, m): loadings on m standard normal variables; never more than REPEATS of the error's variance
    source: inducing inputs, Quinonero-Candela & Rasmussen 2005, J. Mach. Learn. Res. 6, 1939-1959
    """

    def near(a: Real, b: Real) -> Real:
        distance = np.abs(np.log(a)[:, None] - np.log(b)[None, :])
        return np.asarray(0.5 * np.exp(-0.5 * (distance / LENGTH) ** 2) + 0.5 * np.exp(-0.5 * (distance / LONG) ** 2))

    down = np.clip(-value, 0.0, DEEPEST)
    model = MODEL_DB + MODEL_DB_PER_DB * down if what is What.S21 else np.full(len(f), GAMMA)
    half = np.linalg.inv(np.linalg.cholesky(near(grid, grid) + 1e-6 * np.eye(len(grid))))
    return np.asarray(REPEATS**0.5 * model[:, None] * (near(f, grid) @ half.T))


def widened(what: What, instrument: str, f: Real, value: Real, sigma: Real, rough: Real | float = 0.0) -> Real:
    """Covariance under a discrepancy that no listed fault explains: large, smooth over a third of an octave."""
    distance = np.abs(np.log(f)[:, None] - np.log(f)[None, :]) / UNLISTED_LENGTH
    down = np.clip(-value, 0.0, DEEPEST)
    size = UNLISTED_DB + UNLISTED_DB_PER_DB * down if what is What.S21 else np.full(len(f), UNLISTED_GAMMA)
    near = np.exp(-0.5 * distance**2)
    return np.asarray(covariance(what, instrument, f, value, sigma, rough) + size[:, None] * near * size[None, :])


def roughness(values: Real) -> Real:
    """Point-to-point noise of a sweep, from the reading itself: 1 sigma at every point.

    Second differences cancel a smooth curve; the running median over nine of them ignores a notch. Zero for
    sweeps too short to tell.
    values : (n,) in order of frequency; returns (n,)
    """
    if len(values) < 25:
        return np.zeros(len(values))
    bend = np.abs(values[1:-1] - 0.5 * (values[:-2] + values[2:])) / 1.5**0.5 / 0.6745
    padded = np.pad(bend, 5, mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, 9), axis=1))


def sneaked(value: Real, around: Real) -> Real:
    """1 sigma in dB of a through reading where some amplitude may sneak around the filter with any phase.

    value : (n,) dB as read; around : (n,) amplitude, an outer bound taken as 2 sigma
    """
    ratio = 0.5 * around / 10.0 ** (value / 20.0)
    return np.asarray(np.minimum(20.0 / np.log(10.0) * ratio, MOST_SNEAKED))


def whitener(cov: Real) -> Real:
    """W with W cov W^T = 1, lower triangular. returns (n, n)."""
    return np.asarray(np.linalg.inv(np.linalg.cholesky(cov)))
