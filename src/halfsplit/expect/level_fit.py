"""Evidence of cases from level readings: nuisances integrated out by Gauss-Newton and Laplace, many cases at once.

source: Laplace's method, e.g. MacKay 2003, ch. 27; slopes by differences, since the transmitter is solved by iteration
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.expect import level_noise as noise
from halfsplit.expect.level_cases import Cases
from halfsplit.expect.levels import LevelBench
from halfsplit.expect.residual import tempered

Real = npt.NDArray[np.float64]

STEP = 0.05
STEPS = 6
CHUNK = 120
ENOUGH = 0.02
FAR_LOAD, PHASES, RADII = 0.15, 8, (0.6, 1.2)
"""1 sigma of a reflection above which its phase is searched for, and the reflections tried, in units of it."""
WANDERS_DB, DROPS = 1.0, (0.0, -0.6, -1.2, -1.8, 0.8)
"""1 sigma of what one look's drive differs by above which it is searched for, and what is tried, in units of it."""


@dataclass(frozen=True, slots=True, eq=False)
class LevelFit:
    """The best that K cases can do with level readings.

    u : (K, P) nuisances; predicted : (K, N); root : (K, P, P) with root root^T the covariance of u
    log_evidence : (K,) ln density of the readings; slope : (K, N, P) of what is predicted
    """

    u: Real
    predicted: Real
    root: Real
    log_evidence: Real
    slope: Real


def slopes(bench: LevelBench, cases: Cases, u: Real) -> tuple[Real, Real]:
    """What is predicted (K, N) and its slopes by the nuisances (K, N, P)."""
    k, p = u.shape
    each = np.repeat(np.arange(k), p + 1)
    moved = np.repeat(u, p + 1, axis=0)
    at = np.tile(np.arange(p + 1), k)
    inside = at > 0
    moved[np.flatnonzero(inside), at[inside] - 1] += STEP
    values = bench.predict(cases.picked(each), moved).reshape(k, p + 1, -1)
    return values[:, 0], np.swapaxes((values[:, 1:] - values[:, :1]) / STEP, 1, 2)


def whitened(bench: LevelBench, cases: Cases, predicted: Real) -> tuple[Real, Real, Real]:
    """Tempered residuals (K, N), their slope by the plain ones (K, N), and 1 sigma (K, N)."""
    sigma = np.hypot(bench.own[None], cases.wide)
    gap = (bench.y[None] - predicted) / sigma
    free = bench.at_most[None] & (gap > 0.0)
    r, bend = tempered(np.where(free, 0.0, gap))
    return r, np.where(free, 0.0, bend), sigma


def objective(bench: LevelBench, cases: Cases, u: Real, predicted: Real) -> Real:
    """Half the squares of residuals and nuisances, (K,)."""
    r = whitened(bench, cases, predicted)[0]
    return np.asarray(0.5 * (r**2).sum(1) + 0.5 * (u**2).sum(1))


def fit(bench: LevelBench, cases: Cases, steps: int = STEPS) -> LevelFit:
    """Fit all cases. steps : of Gauss-Newton; 1 for a rough look"""
    parts = []
    for first in range(0, len(cases), CHUNK):
        index = np.arange(first, min(first + CHUNK, len(cases)))
        parts.append(_fit(bench, cases.picked(index), steps))
    return LevelFit(*(np.concatenate([getattr(x, n) for x in parts]) for n in LevelFit.__slots__))


def _fit(bench: LevelBench, cases: Cases, steps: int) -> LevelFit:
    """Fit a chunk of cases."""
    u = started(bench, cases)
    predicted, slope = slopes(bench, cases, u)
    phi = objective(bench, cases, u, predicted)
    active = np.ones(len(cases), bool)
    for n in range(steps):
        step = _step(bench, cases, u, predicted, slope)
        moved = u + step
        new = bench.predict(cases, moved)
        better = objective(bench, cases, moved, new)
        worse = better > phi
        if worse.any():
            half = np.where(worse[:, None], u + 0.35 * step, moved)
            other = bench.predict(cases, half)
            again = objective(bench, cases, half, other)
            moved, new, better = half, other, again
        take = better < phi
        gain = np.where(take, phi - better, 0.0)
        u = np.where(take[:, None], moved, u)
        predicted = np.where(take[:, None], new, predicted)
        phi = np.where(take, better, phi)
        active = gain > ENOUGH
        if n + 1 < steps and active.any():
            index = np.flatnonzero(active)
            _, fresh = slopes(bench, cases.picked(index), u[index])
            slope[index] = fresh
        elif not active.any():
            break
    return _settled(bench, cases, u, predicted, slope, phi)


def started(bench: LevelBench, cases: Cases) -> Real:
    """Where to begin, (K, P): at rest, but for what no slope leads to from there.

    A reflection shows by its square: its phase is searched for. A drive that wanders is hidden by the level control
    until it is low: how low is searched for, look by look.
    """
    u = np.zeros((len(cases), bench.layout.size))
    lay, looks = bench.layout, np.array([f.look for f in bench.figures])
    far = np.flatnonzero((cases.load_scale * lay.load_sigma > FAR_LOAD).any(axis=1))
    turns = [0j, *(r * np.exp(2j * np.pi * k / PHASES) for r in RADII for k in range(PHASES))]
    _search(bench, cases, u, far, ("load in phase", "load across"), lay.load_of[looks], turns)
    wandering = np.flatnonzero(cases.moment[:, 0] * noise.MOMENT_DB > WANDERS_DB)
    _search(bench, cases, u, wandering, ("moment",), looks, [complex(x) for x in DROPS])
    return u


def _search(
    bench: LevelBench, cases: Cases, u: Real, index: npt.NDArray[np.intp], names: tuple[str, ...],
    of: npt.NDArray[np.intp], candidates: list[complex],
) -> None:  # fmt: skip
    """Set nuisances of some cases to whatever of the candidates serves each place best. of : (N,) place of a figure"""
    if not len(index):
        return
    own, places = cases.picked(index), np.arange(int(of.max()) + 1)
    best = np.full((len(index), len(places)), np.inf)
    chosen = np.zeros(best.shape, complex)
    for x in candidates:
        tried = np.zeros((len(index), bench.layout.size))
        for name, part in zip(names, (x.real, x.imag), strict=False):
            tried[:, bench.layout.at[name]] = part
        r = whitened(bench, own, bench.predict(own, tried))[0]
        cost = np.array([(r[:, of == k] ** 2).sum(axis=1) for k in places]).T + abs(x) ** 2
        chosen, best = np.where(cost < best, x, chosen), np.minimum(cost, best)
    for name, values in zip(names, (chosen.real, chosen.imag), strict=False):
        u[index[:, None], np.arange(u.shape[1])[bench.layout.at[name]][None]] = values


def _hessian(bench: LevelBench, cases: Cases, predicted: Real, slope: Real) -> tuple[Real, Real]:
    """Gauss-Newton Hessian (K, P, P), and the slopes of the tempered residuals (K, N, P)."""
    _, bend, sigma = whitened(bench, cases, predicted)
    j = -slope * (bend / sigma)[:, :, None]
    return np.matmul(np.swapaxes(j, 1, 2), j) + np.eye(slope.shape[2]), j


def _step(bench: LevelBench, cases: Cases, u: Real, predicted: Real, slope: Real) -> Real:
    """A step of Gauss-Newton, (K, P), none of it longer than 3 sigma."""
    hessian, j = _hessian(bench, cases, predicted, slope)
    r = whitened(bench, cases, predicted)[0]
    gradient = np.einsum("knp,kn->kp", j, r) + u
    step = -np.linalg.solve(hessian, gradient[:, :, None])[:, :, 0]
    longest = np.abs(step).max(axis=1, keepdims=True)
    return np.asarray(step * np.minimum(1.0, 3.0 / np.maximum(longest, 1e-9)))


def _settled(bench: LevelBench, cases: Cases, u: Real, predicted: Real, slope: Real, phi: Real) -> LevelFit:
    """The evidence about the best point."""
    hessian, _ = _hessian(bench, cases, predicted, slope)
    lower = np.linalg.cholesky(hessian)
    log_det = 2.0 * np.log(np.einsum("kii->ki", lower)).sum(1)
    sigma = np.hypot(bench.own[None], cases.wide)
    evidence = -phi - 0.5 * log_det - np.log(sigma).sum(1)
    root = np.swapaxes(np.linalg.inv(lower), 1, 2)
    return LevelFit(u, predicted, root, evidence, slope)
