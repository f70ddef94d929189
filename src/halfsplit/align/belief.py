"""What the sweeps so far say about the parts: one or several explanations, each a normal distribution.

A sweep is fitted with the machinery of `expect`; what it leaves is the prior of the next one. Between two sweeps parts
were moved, so what is known of those parts is widened. The error of the model comes back in every sweep: what an
earlier one told is weakened by REPEATED before the next is added.
source: Gauss-Newton and Laplace's method; recursion as in Kalman 1960, J. Basic Eng. 82, 35-45
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from halfsplit.expect import Bench, Observation
from halfsplit.expect.fit import SOUND, Batch, Rest
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

WIDE = 0.20
"""1 sigma of ln value of an adjustable part before any sweep: it may have been turned anywhere. Common practice."""
REPEATED = 2.0
SAME = 0.01
"""Explanations whose adjustable parts differ by less than this (ln) are one."""
FAINT = 0.02
MOST = 4
CONTRADICTED = 12.0
"""Where what was known before fits a sweep so much worse (sum of squares) than that sweep alone does, it was wrong."""


@dataclass(frozen=True, slots=True, eq=False)
class Mode:
    """One explanation. mean (P,), cov (P, P) over the keys of its belief; weight : its probability.

    misfit : sum of squared whitened residuals of the sweep that it was fitted to
    """

    mean: Real
    cov: Real
    weight: float
    misfit: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """All explanations after some sweeps. keys : names of the nuisances, as in the bench."""

    keys: tuple[str, ...]
    modes: tuple[Mode, ...]

    @property
    def best(self) -> Mode:
        """The most probable explanation."""
        return self.modes[0]

    def index(self, ref: str) -> int:
        """Where the value of a part stands among the keys."""
        return self.keys.index(f"{ref} value")

    def draws(self, rng: np.random.Generator, count: int) -> Real:
        """Sets of nuisances drawn from all explanations, (count, P)."""
        shares = np.array([m.weight for m in self.modes])
        which = rng.choice(len(self.modes), size=count, p=shares / shares.sum())
        out = np.empty((count, len(self.keys)))
        for k, mode in enumerate(self.modes):
            n = int((which == k).sum())
            out[which == k] = rng.multivariate_normal(mode.mean, mode.cov, size=n, method="eigh")
        return out


def sigmas(bench: Bench, refs: Sequence[str]) -> dict[str, float]:
    """1 sigma of ln value that one unit of a part's nuisance means."""
    found = {}
    for setup in bench.setups:
        for p in setup.scene.params:
            ref = p.key.removesuffix(" value")
            if ref in refs and p.key != ref:
                found[ref] = p.sigma
    return found


def learnt(
    unit: Unit, observations: Sequence[Observation], refs: Sequence[str], before: Belief | None,
    mirrored: Sequence[tuple[str, str]] = (),
) -> tuple[Belief, Bench]:  # fmt: skip
    """What is known after a sweep.

    observations : of one state of the filter; refs : its adjustable parts; before : what was known, parts moved since
    mirrored : pairs of parts that a symmetrical ladder may exchange unseen
    returns the belief, and the bench that it was fitted on
    """
    bench = Bench(unit, observations)
    spread = sigmas(bench, refs)
    keys = tuple(bench.keys)
    fresh = _priors(keys, spread, None)[0]
    tried = [_fitted(bench, fresh, start) for start in _starts(keys, spread, fresh)]
    tried += [_fitted(bench, fresh, start, led=False) for start in _apart(keys, spread, fresh, mirrored)]
    if mirrored:
        best = max(tried, key=lambda m: m.weight)
        tried.append(_fitted(bench, fresh, _exchanged(keys, best.mean, spread, mirrored), led=False))
    if before is not None:
        followed = [_fitted(bench, prior, prior.mean) for prior in _priors(keys, spread, before)]
        if min(m.misfit for m in followed) < min(m.misfit for m in tried) + CONTRADICTED:
            tried = followed
    return Belief(keys, _told_apart(keys, tried, spread)), bench


def _priors(keys: Sequence[str], spread: Mapping[str, float], before: Belief | None) -> list[Mode]:
    """The prior over these keys: unit normal, wide for adjustable parts, or what was known before."""
    p = len(keys)
    variance = np.ones(p)
    for ref, sigma in spread.items():
        variance[list(keys).index(f"{ref} value")] = (WIDE / sigma) ** 2
    if before is None:
        return [Mode(np.zeros(p), np.diag(variance), 1.0)]
    known = [(k, before.keys.index(key)) for k, key in enumerate(keys) if key in before.keys]
    mine, theirs = (np.array(x, int) for x in zip(*known, strict=True))
    out = []
    for mode in before.modes:
        mean, cov = np.zeros(p), np.diag(variance)
        mean[mine] = mode.mean[theirs]
        cov[np.ix_(mine, mine)] = REPEATED * mode.cov[np.ix_(theirs, theirs)]
        out.append(Mode(mean, cov, mode.weight))
    return out


def _starts(keys: Sequence[str], spread: Mapping[str, float], fresh: Mode) -> list[Real]:
    """Where to begin where nothing is known: all adjustable parts as drawn, all high, all low."""
    out = []
    for shift in (0.0, 0.12, -0.12):
        start = fresh.mean.copy()
        for ref, sigma in spread.items():
            start[list(keys).index(f"{ref} value")] = shift / sigma
        out.append(start)
    return out


def _apart(
    keys: Sequence[str], spread: Mapping[str, float], fresh: Mode, pairs: Sequence[tuple[str, str]]
) -> list[Real]:
    """Starts with mirror parts set apart: halfway between two mirrored explanations a search sees neither."""
    if not pairs:
        return []
    start = fresh.mean.copy()
    for pair in pairs:
        for ref, shift in zip(pair, (0.12, -0.12), strict=True):
            start[list(keys).index(f"{ref} value")] = shift / spread[ref]
    return [start]


def _fitted(bench: Bench, prior: Mode, start: Real, *, led: bool = True) -> Mode:
    """The explanation that a start comes to. Its weight is the ln of its evidence, prior weight included.

    led : through easier problems first; False for a start that is known to be near an explanation
    """
    p = len(bench.keys)
    precision = np.linalg.inv(prior.cov)
    rest = Rest(np.arange(p), 0.5 * (precision + precision.T), np.zeros(p), 0.0, prior.mean)
    batch = Batch(bench, bench.setups, rest, [SOUND], p)
    theta, s = start[None, :], np.zeros(1)
    if led:
        theta, s = batch.annealed(theta, s)
    theta = batch.refine(theta, s)[0].theta[None, :]
    state = batch.run(theta, np.zeros(1))
    hessian = state.hessian[0, :p, :p]
    cov = np.linalg.inv(hessian)
    log_det = np.linalg.slogdet(hessian)[1] - np.linalg.slogdet(precision)[1]
    weight = float(np.log(max(prior.weight, 1e-300)) - state.phi[0] - 0.5 * log_det)
    return Mode(theta[0], 0.5 * (cov + cov.T), weight, float(state.misfit[0]))


def _exchanged(keys: Sequence[str], mean: Real, spread: Mapping[str, float], pairs: Sequence[tuple[str, str]]) -> Real:
    """The same explanation with mirror parts exchanged."""
    out = mean.copy()
    names = list(keys)
    for a, b in pairs:
        if a in spread and b in spread:
            i, j = names.index(f"{a} value"), names.index(f"{b} value")
            out[i], out[j] = mean[j] * spread[b] / spread[a], mean[i] * spread[a] / spread[b]
    return out


def _told_apart(keys: Sequence[str], tried: Sequence[Mode], spread: Mapping[str, float]) -> tuple[Mode, ...]:
    """Different explanations with their probabilities, the likeliest first; faint ones are dropped."""
    at = np.array([list(keys).index(f"{ref} value") for ref in spread], int)
    scale = np.array(list(spread.values()))
    kept: list[Mode] = []
    for mode in sorted(tried, key=lambda m: -m.weight):
        if all(np.abs((mode.mean - k.mean)[at] * scale).max() > SAME for k in kept):
            kept.append(mode)
    top = kept[0].weight
    shares = np.array([np.exp(max(m.weight - top, -700.0)) for m in kept])
    shares /= shares.sum()
    out = [replace(m, weight=float(w)) for m, w in zip(kept, shares, strict=True) if w > FAINT]
    return tuple(out[:MOST])


def moved(belief: Belief, spread: Mapping[str, float], by: Mapping[str, tuple[float, float]]) -> Belief:
    """What is known after parts were moved and before the next sweep.

    spread : from `sigmas`; by : part to (ln of the change meant, its 1 sigma)
    """
    modes = []
    for mode in belief.modes:
        mean, cov = mode.mean.copy(), mode.cov.copy()
        for ref, (change, sigma) in by.items():
            k = belief.index(ref)
            mean[k] += change / spread[ref]
            cov[k, k] += (sigma / spread[ref]) ** 2
        modes.append(Mode(mean, cov, mode.weight))
    return Belief(belief.keys, tuple(modes))
