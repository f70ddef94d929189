"""What a sweep would show under each cause, with the spread that this cause itself leaves open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from halfsplit.advise.sweeps import Sweep
from halfsplit.circuit.alter import Alteration
from halfsplit.errors import HalfsplitError
from halfsplit.expect import Observation, Setup
from halfsplit.expect.noise import covariance, widened
from halfsplit.expect.residual import residual
from halfsplit.fault.search import Search
from halfsplit.fault.standing import Fit

Real = npt.NDArray[np.float64]

DRAWS = 48
LIMIT = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """What every fit predicts for a sweep: values (K, n) and covariances (K, n, n) of what would be read."""

    values: Real
    cov: Real


class Beliefs:
    """The explanations still in play, each with its nuisances and what is not known about them.

    theta : (K, P) best nuisances; cov : (K, P + 1, P + 1) covariance of nuisances and size (in prior units), the
    size last: it comes from all readings, with the fault in place
    """

    def __init__(self, search: Search, fits: Sequence[Fit]) -> None:
        self.search = search
        self.fits = tuple(fits)
        self.p = search.real
        self.theta = np.tile(search.theta0, (len(fits), 1))
        for k, fit in enumerate(fits):
            inside = fit.keys < self.p
            self.theta[k, fit.keys[inside]] = fit.theta[inside]
        self.width = np.array([f.hypothesis.width for f in fits])
        self.cov = self._covariances()

    def changes(self, setup: Setup) -> list[tuple[Alteration, float] | None]:
        """What each explanation changes in a setup."""
        out: list[tuple[Alteration, float] | None] = []
        for fit in self.fits:
            h = fit.hypothesis
            at = setup.model.resolve(h.change) if h.acts_on(setup) and h.change is not None else None
            out.append(None if at is None else (at, float(np.exp(fit.ln_size))))
        return out

    def full(self) -> Real:
        """Nuisances of all keys that the bench knows by now. returns (K, all)."""
        out = np.zeros((len(self.fits), len(self.search.bench.keys)))
        out[:, : self.p] = self.theta
        return out

    def _covariances(self) -> Real:
        cases, p = len(self.fits), self.p
        precision = np.tile(np.eye(p + 1), (cases, 1, 1))
        for setup in self.search.coarse:
            predicted = self.search.bench.predict(setup, self.full(), self.changes(setup))
            _, j, js = residual(setup, *predicted)
            assert j is not None
            assert js is not None
            both = np.concatenate([j, (js * self.width[:, None])[:, :, None]], axis=2)
            at = np.append(setup.local, p)
            precision[:, at[:, None], at[None, :]] += np.matmul(both.transpose(0, 2, 1), both)
        return np.asarray(np.linalg.inv(precision))

    def setup(self, sweep: Sweep) -> Setup | None:
        """A sweep tied on; None where it cannot be (a point that this band does not have)."""
        blank = np.zeros(len(sweep.f))
        o = Observation(
            "", sweep.hookup, sweep.what, sweep.f, blank, blank, blank.astype(bool), "", state=self.search.today
        )
        try:
            return self.search.bench.setup([o])
        except HalfsplitError:
            return None

    def values(self, sweep: Sweep, setup: Setup) -> Real:
        """What each explanation predicts, at its best nuisances. returns (K, n)."""
        out = self.search.bench.predict(setup, self.full(), self.changes(setup), slopes=False)[0].copy()
        self.vary(sweep, setup, out)
        return np.asarray(out)

    def vary(self, sweep: Sweep, setup: Setup, values: Real) -> None:
        """Put what the wrong filter in the path would show into the rows of such explanations."""
        for k, fit in enumerate(self.fits):
            v = fit.hypothesis.variant
            if v is not None and v.unit is not None and v.band == sweep.hookup.band:
                try:
                    other = self.search.bench.setup([x.observation for x in setup.views], v.unit)
                except HalfsplitError:
                    continue
                row = np.zeros((1, len(self.search.bench.keys)))
                row[0, : self.p] = self.theta[k]
                values[k] = self.search.bench.predict(other, row, slopes=False)[0][0]

    def quick(self, sweep: Sweep, setup: Setup) -> Forecast:
        """A forecast with the spread of the likeliest explanation for all."""
        values = self.values(sweep, setup)
        spread = self.spread(setup, 1)[0]
        return Forecast(values, np.array([spread + self.noise(sweep, k, v) for k, v in enumerate(values)]))

    def forecast(self, sweep: Sweep, setup: Setup) -> Forecast:
        """A forecast with the spread that each explanation leaves open itself."""
        values, spread = self.values(sweep, setup), self.spread(setup)
        return Forecast(values, np.array([s + self.noise(sweep, k, values[k]) for k, s in enumerate(spread)]))

    def spread(self, setup: Setup, most: int | None = None) -> Real:
        """Covariance of a sweep by what is not known about nuisances and size.

        most : how many of the explanations, the likeliest first; None for all. returns (most, n, n)
        """
        _, j, js = self.search.bench.predict(setup, self.full()[:most], self.changes(setup)[:most])
        assert j is not None
        assert js is not None
        both = np.concatenate([j, (js * self.width[:most, None])[:, :, None]], axis=2)
        inside = setup.local < self.p
        at = np.append(setup.local[inside], self.p)
        columns = np.append(np.flatnonzero(inside), len(setup.local))
        known = both[:, :, columns]
        fresh = both[:, :, np.flatnonzero(~inside)]
        part = self.cov[:most, at[:, None], at[None, :]]
        return np.asarray(known @ part @ known.transpose(0, 2, 1) + fresh @ fresh.transpose(0, 2, 1))

    def noise(self, sweep: Sweep, k: int, value: Real) -> Real:
        """Error of reading and model of one explanation; wide where it is "something not listed" on this band."""
        v = self.fits[k].hypothesis.variant
        wide = v is not None and v.wide and v.band == sweep.hookup.band
        blank = np.zeros(len(sweep.f))
        kind = widened if wide else covariance
        return kind(sweep.what, sweep.hookup.instrument, sweep.f, value, blank)


def told(seen: Forecast, rng: np.random.Generator, draws: int = DRAWS) -> Real:
    """Which explanation a sweep would speak for, if one of them were the truth: sampled readings, each given to the
    explanation under which it is most likely.

    returns (K, K): row truth, column what the reading speaks for
    """
    cases, n = seen.values.shape
    root = np.linalg.cholesky(seen.cov)
    white = np.linalg.inv(root)
    log_det = np.log(np.einsum("kii->ki", white)).sum(1)
    z = rng.standard_normal((draws, n))
    x = seen.values[:, None, :] + np.einsum("kij,mj->kmi", root, z)
    out = np.zeros((cases, cases))
    for k in range(cases):
        gap = x[k][None] - seen.values[:, None, :]
        like = log_det[:, None] - 0.5 * (np.matmul(gap, white.transpose(0, 2, 1)) ** 2).sum(-1)
        like += LIMIT * np.arange(cases, 0, -1)[:, None]
        np.add.at(out[k], like.argmax(0), 1.0 / draws)
    return out
